// unknown_id.hpp: what an unknown of a fit is, by the names of the sheets: enough to name it and to give its unit.
//
// Core numbers its unknowns (fit::Unknown); an UnknownId holds without the sheets and the fit that it came from, so that
// what is shown, stored or compared between two surveys never depends on an order or on how a name is spelt.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "core/fit/unknowns.hpp"
#include "core/quantity/channel.hpp"
#include "firmware-host/job/quantity.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

/// A channel of an instrument of the kit sheet: "walking inclinometer slope".
struct ChannelId {
  std::string instrument;
  Channel channel{};
  friend bool operator==(const ChannelId&, const ChannelId&) = default;
};

enum class UnknownOf : std::uint8_t {
  support_rise,  // `name`: the support
  support_pitch,
  support_roll,
  spring_rise,
  spring_pitch,
  spring_roll,
  give_rise,  // of a support called rigid: its compliance
  give_pitch,
  give_roll,
  move_rise,  // of its zero, since the stage of the survey
  move_pitch,
  move_roll,
  bending,  // stiffness of the whole run
  torsion,
  load,           // `name`: the load
  unlisted_load,  // a weight that no stage lists; `number`: its place in mm from the start mark
  bow,            // `number`: of the shape, from 1
  datum_height,   // `name`: the set-up
  datum_tilt,
  zero,         // `name`: the instrument; `channel`
  mark_height,  // `name`: the stable mark
  drift_share
};

struct UnknownId {
  UnknownOf of{};
  std::string name;     // of the support, load, set-up, instrument or mark; else empty
  Channel channel{};    // of a zero error
  int number = 0;       // of a bow shape; of a place
  bool change = false;  // how much more it is than at the survey before
  friend bool operator==(const UnknownId&, const UnknownId&) = default;
};

/// The unit it is in. A distance's zero error is a height, an inclinometer's a slope.
[[nodiscard]] QuantityKind kind_of(const UnknownId& id);

/// Stable, as other programs read it: "wall bracket: rise", "set-up A: datum tilt", "walking inclinometer slope: zero",
/// "load bottles", "unlisted load at 2100 mm", "bending stiffness", "bow 2", "mark lintel: height"; with " changed" behind a change. Never read back.
[[nodiscard]] std::string name_of(const UnknownId& id);
/// "walking inclinometer slope".
[[nodiscard]] std::string name_of(const ChannelId& id);

/// That of the shape: of a support, spring, load, stiffness or bow of this run sheet.
[[nodiscard]] UnknownId id_of(const sheet::RunSheet& run, beam::Parameter shape);
/// That of any unknown; `set_ups` and `zeros` as the fit numbers them. A set-up or channel beyond those has no name.
[[nodiscard]] UnknownId id_of(const sheet::RunSheet& run, const fit::Unknown& unknown,
                              std::span<const std::string> set_ups, std::span<const ChannelId> zeros);

}  // namespace hangtrue::job

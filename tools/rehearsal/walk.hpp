// walk.hpp: how an installer goes along the run: where to stand, what to tell the daemon there.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "firmware-host/job/scale_guide.hpp"
#include "tools/rehearsal/truth.hpp"

namespace hangtrue::rehearsal {

struct WalkOptions {
  bool both_faces = true;  // where the kit has a walking inclinometer
  std::vector<survey::Edge> edges =
      {};              // at each station; empty: the edge that the kit's walking channels name
  int set_ups = 1;     // placings of the laser datum; each begins at the station where the former ended
  bool closes = true;  // at its end the first, the middle and the last station are read once more
};

/// One placing: where, and the lines for the daemon's standard input, the last one "take" or "take fixed".
struct Step {
  Stand stand;
  std::vector<std::string> commands;
};

/// Every station once, in order (twice where one set-up takes over from another), every edge, every face; then, to close, the
/// first, the middle and the last one again, at the first edge, every face. Commands say only what changes, after the first
/// placing, which says all. Instruments that stay are read before and after the walk, and every stable mark of the run sheet
/// at the beginning and at the end of each set-up of the laser.
[[nodiscard]] std::vector<Step> walk(const sheet::RunSheet& run, const sheet::KitSheet& kit,
                                     const WalkOptions& options);

/// A guided check of an instrument's scale, unit and sign: the daemon's command that begins it, and what it is made with.
struct ScaleWalk {
  std::string command;
  std::size_t instrument = 0;  // index into the kit
  job::ScaleSetting setting;
};

/// One for each instrument that has a channel which the kit sheet does not call `scale_checked`. Invented: a piece of the first
/// of some common thicknesses that does, feet 120 mm apart across the run, places 500 mm apart. An instrument that none of these
/// suit is left out.
[[nodiscard]] std::vector<ScaleWalk> scale_checks(const sheet::KitSheet& kit);

/// Where it then stands, and with what put under it.
[[nodiscard]] Stand stand_for(const job::ScaleStep& step, const job::ScaleSetting& setting);

}  // namespace hangtrue::rehearsal

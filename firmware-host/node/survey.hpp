// survey.hpp: what a node makes of its own readings: the fit, and the shims to place.
//
// Model     that of the host, from the same sources (core), in single precision: the fit of one survey from the packed run's priors,
//           then the exact choice of pieces, turns and lift heights. Which one-way supports bear is what the solver finds.
// Not for   the hold point. Whether the bolts may be tightened is the host's to say, which looks for movement within the walk, for
//           other bearing sets, and for doubts; the node makes heights and moves, and says so.
// Memory    one arena, first the fit's, then the search's: the heights and the state are carried over in between.
// Units     SI, radians; signs as in core/beam/run.hpp.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "core/adjust/workspace.hpp"
#include "core/fit/fit.hpp"
#include "firmware-host/node/packed_run.hpp"

namespace hangtrue::node {

/// Bytes that the fit or the search may use at a time. The largest thing in the node's memory.
inline constexpr std::size_t kArenaBytes = 43 * 1024;

enum class CardStep : std::uint8_t { storage, solver, fit, not_settled, settings, search };
/// Which step failed, with its fault's code (or, of storage, the bytes wanted), and where it is about one.
struct CardFault {
  CardStep step{};
  int code = 0, index = -1;
};

struct Card {
  int stations = 0;
  std::array<float, kMaxStations> height_m{}, roll_rad{}, sigma_m{};  // at the survey's stage
  std::array<float, 2 * kMaxStations> before_m{}, after_m{};  // finished; left and right of each station
  fit::SelfTest<float> self_test;
  adjust::Choice<float> choice;
};

class Survey {
 public:
  explicit Survey(const PackedRun& run) : run_(run) {}

  void forget() { readings_ = 0; }
  /// False when kReadings are there.
  [[nodiscard]] bool add(const survey::Reading<float>& reading);
  [[nodiscard]] int readings() const { return readings_; }

  [[nodiscard]] Result<Done, CardFault> make_card(Card& card);

 private:
  class Arena;
  [[nodiscard]] beam::Run<float> run() const;
  [[nodiscard]] Result<Done, CardFault> fit(Card& card);
  [[nodiscard]] Result<Done, CardFault> choose(Card& card);

  const PackedRun& run_;
  std::array<survey::Reading<float>, std::size_t(node_limits::kReadings)> reading_{};
  int readings_ = 0;
  beam::State<float> state_;  // as fitted
};

}  // namespace hangtrue::node

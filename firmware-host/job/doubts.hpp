// doubts.hpp: what must be settled before "ready to bolt" may be said, each with what settles it.
//
// Against moves  Some doubts stand against moves too: what moved while it was read, a bearing set that is open, too little read,
//                readings that contradict the rest, a sign that is open, a walk from the other end. The others stand before the moves and do not hinder
//                them: moves can be made again.
// Order          the one to settle first comes first.
// Units          SI, rad; rows count from 1.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "firmware-host/job/scale_check.hpp"
#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::job {

/// Something moved while the run was read, and not all that was read before it has been read again.
struct MovedWhileRead {
  std::vector<FoundMovement> movements;
  std::vector<double> read_again_m;
};
/// Which of these supports bear is open; a person can try each by hand.
struct BearingIsOpen {
  std::vector<std::string> supports;  // none: it was open at a former stage
};
/// Readings set aside that come together.
struct StraysComeTogether {
  std::vector<std::size_t> rows;
};
/// All readings of one place and channel are off.
struct PlaceDisagrees {
  ReadingGroup group;
  Quantity by;
};
/// The run may have been read from its other end: the readings fit better so; or somebody told so; or nobody told, and the
/// readings leave it open.
enum class StartDoubt { readings, told, nobody_said };
struct ReadFromOtherEnd {
  StartDoubt why{};
  std::string support;  // told: where the places begin; nobody_said: where they should begin
};
/// A mistake in these readings would spoil the answer and not be noticed.
struct ReadingsUnchecked {
  ReadingGroup group;
  double unnoticed_m = 0;  // of the finished level error; infinite: no mistake there would be noticed
  double spoils_m = 0;     // what would spoil the answer
  std::optional<double> read_at_m;  // where to read next, with that channel
};
/// The walk does not close.
struct WalkNotClosed {
  std::vector<double> read_again_m;
};
/// Nobody checked scale, unit and sign of these channels.
struct ScaleNotChecked {
  std::vector<UncheckedScale> channels;
  bool sign_open =
      false;  // of one of them the readings fit nearly as well with the other sign: moves could go the wrong way
};
/// An unknown is farther from what was assumed than kPriorSigmas.
struct PriorLeftBehind {
  UnknownId unknown;
  Quantity found, assumed;
  double sigmas = 0;
};

using Doubt =
    std::variant<MovedWhileRead, BearingIsOpen, StraysComeTogether, PlaceDisagrees, ReadFromOtherEnd,
                 ReadingsUnchecked, WalkNotClosed, ScaleNotChecked, PriorLeftBehind>;

/// Whether no move may be made before it is settled.
[[nodiscard]] bool against_moves(const Doubt& doubt);

/// After a fit() without fault. `spoils_m`: the change of the finished level error that would spoil the answer.
[[nodiscard]] Result<std::vector<Doubt>, Fault> find_doubts(SurveyFit& survey, double spoils_m);

}  // namespace hangtrue::job

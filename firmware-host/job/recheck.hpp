// recheck.hpp: what moved between two surveys of one run, and how sure that is. The mathematics is core/change.
//
// Model     The later survey is fitted from what the earlier one taught (stiffness, loads, bow, offsets, marks; no zero errors,
//           which are taken anew), with changes as unknowns of their own (change_candidates.hpp). What the run was expected
//           to do by itself (expected_drift.hpp) is taken off first: what came by the earlier survey as that one measured it,
//           what was to come since as an unknown share near 1.
// Tests     Global: all changes together, chi-squared (congruence), linearised where nothing changed. What explains them is
//           weighed and fitted in full (recheck_causes.hpp). A cause that is as likely is named beside it.
// Bearing   Where the earlier survey's readings allow several sets of bearing supports, changes are looked for under each, and the
//           likeliest is told: its probability then, times how likely it makes what is read now. A single cause under another
//           set that is as likely stands in `or_else`.
// Datum     Without a stable mark read in both surveys only shape, slope and roll can be compared: that one support sank
//           and that the other rose are then the same, and `or_else` holds the other. With one, heights too.
// Axes      heights up positive: a support that sank has rise < 0. sigma is one standard deviation. SI, rad.
// Limits    Surveys of the same stage, or of stages with the same supports, whose loads are known from the sheet.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "firmware-host/job/expected_drift.hpp"
#include "firmware-host/job/history.hpp"
#include "firmware-host/job/misread.hpp"
#include "firmware-host/job/not_comparable.hpp"
#include "firmware-host/job/other_kit.hpp"
#include "firmware-host/job/recheck_causes.hpp"
#include "firmware-host/job/station_changes.hpp"
#include "firmware-host/job/trend.hpp"

namespace hangtrue::job {

enum class RecheckAnswer {
  nothing_moved,  // the global test holds: nothing beyond what was expected and what the readings scatter
  moved,          // `causes` says what
  moved_somehow,  // the global test fails, and no single change stands out
  cannot_tell     // `why_not` says why
};

/// Why it cannot tell (a fit that good readings have once in a hundred or a thousand surveys does not stand in the way, and is said):
/// the earlier survey is no ground to compare with; the later one's fit does not hold, whatever may have
/// moved; nothing that was read would show a change.
struct ReadingsContradict {
  std::vector<Misread> likely;  // the likeliest first; none where none of them is likelier than chance
};
struct TooLittleRead {};
using WhyNot = std::variant<std::monostate, NotTaught, ReadingsContradict, TooLittleRead>;

/// What stands beside the answer.
struct SheetDiffers {                 // in what does not matter here
  std::string earlier, later, given;  // as in SheetsDiffer
  SheetChange change;
};
struct NewTolerance {  // the one given, which counts, in the place of that in the book
  sheet::Tolerance was, is;
  std::string was_stage, stage;
};
struct RehearsedClock {  // the survey's times are those of a clock that was set ahead
  std::string survey, ahead;
};
struct UnmarkedMoves {  // a card with moves that nobody marked as made
  std::string survey;
  std::vector<std::string> supports;
};
struct CreepNotWorkedOut {};
struct PastTolerance {
  double level_error_m = 0, allowed_m = 0;
  std::string stage;  // that the tolerance is for
};
struct ToleranceNotTold {  // within or past: the readings are too few or too rough
  double level_error_m = 0, sigma_m = 0, allowed_m = 0, chance = 0;
  std::string stage;
};
struct UnderStraightEdge {  // where it is not surely within
  Straightness found;
  sheet::StraightEdge allowed;
  std::string stage;
};
struct NotRead {  // by the later survey: what stands of that stretch is worked out, not read
  std::string survey;
  double from_m = 0, to_m = 0;
};
struct SurveyOpen {  // nobody has closed it: what is still read may change the answer
  std::string survey;
};
struct OfTwoStages {
  std::string earlier, later_stage;  // the survey; the stage of the later one
};
struct CheckWarning {
  Which which{};
  Warning warning;
};
struct BearingNotKnown {  // whether these bore at the earlier survey; what is named depends on it
  std::string survey;
  std::vector<std::string> supports;
};
struct HoldsOnlyJust {  // that survey's fit: what is told may be less sure than it says
  std::string survey;
  double p_value = 0;
};
struct OtherTemperature {  // mean of the instruments
  double then_C = 0, now_C = 0;
};
struct WarmthTakenOff {  // before the two were compared
  Warmth warmth;
};
struct TemperatureNotRead {  // by one of them or both, and it could matter
  WarmthToCome by;
};
struct OtherKit {  // given, and taken in the place of those in the book
  std::string file;
  std::vector<KitDiffers> differs;
};
using Remark = std::variant<SheetDiffers, OtherKit, NewTolerance, RehearsedClock, UnmarkedMoves,
                            CreepNotWorkedOut, PastTolerance, ToleranceNotTold, NotRead, SurveyOpen,
                            OfTwoStages, CheckWarning, BearingNotKnown, HoldsOnlyJust, OtherTemperature,
                            UnderStraightEdge, WarmthTakenOff, TemperatureNotRead>;

/// The largest movement that these two surveys would have missed in one case of five, and what would make it smaller.
struct Unseen {
  UnknownId support;       // the rise of the support at which that is greatest
  double rise_m = 0;       // 0: no support's rise was looked at; infinite: any size would be missed there
  double whole_run_m = 0;  // of the run as a whole; where marks tie heights
  bool no_mark = false, one_face = false;  // what is missing in either survey
  int places_not_read = 0;                 // stations that the later survey did not read
};

struct Recheck {
  std::string from, to;  // ids
  book::Time from_time{}, to_time{};
  std::string from_clock, to_clock;  // by how much a rehearsal's clock was ahead; empty: it was not
  int from_stage = 0, to_stage = 0;
  sheet::Tolerance tolerance;          // that counts
  std::vector<std::string> hang_free;  // supports of the later survey's stage that do not bear
  bool heights_compared = false;       // a stable mark ties the two
  std::vector<std::string> marks;      // that do
  RecheckAnswer answer = RecheckAnswer::cannot_tell;
  WhyNot why_not;           // only where it cannot tell
  change::GlobalTest test;  // all changes together
  change::GlobalTest rest;  // what the causes leave unexplained
  std::vector<Cause> causes;
  Unseen unseen;
  std::vector<ChangeSeen> seen;  // every change, tested by itself
  std::vector<std::pair<UnknownId, UnknownId>> cannot_be_told_apart;
  ExpectedDrift drift;
  std::vector<StationChange> stations;
  LevelErrors level;
  double common_m = 0, common_sigma_m = 0;  // how far the run as a whole is higher; where a mark ties heights
  std::vector<Trend> trends;                // with three or more surveys
  std::vector<Remark> remarks;

  /// Whether the causes leave more than chance would.
  [[nodiscard]] bool leaves_unexplained() const;
};

/// Compares `to` with `from`, surveys of this book. Both must go by run sheets that are the same in what matters
/// (sheet_changes.hpp); the tolerance is that of `run`. `days`: that truly passed between them, where the times in the book are wrong; > 0. The later survey is
/// then taken to be of so many days after the earlier, and no trends are followed. `kit`: in the place of the kit sheets in the
/// book that the two went by (other_kit.hpp), or nullptr.
[[nodiscard]] Result<Recheck, Fault> recheck(const book::Book& book, const sheet::RunSheet& run,
                                             const std::string& from_id, const std::string& to_id,
                                             std::optional<double> days = {},
                                             const sheet::KitSheet* kit = nullptr);

}  // namespace hangtrue::job

// recheck.hpp: what moved between two surveys of one run, and how sure that is. The mathematics is core/change.
//
// Model     The later survey is fitted from what the earlier one taught (stiffness, loads, bow, offsets, marks; no zero errors,
//           which are taken anew), with changes as unknowns of their own: rise, pitch and roll of every engaged support as
//           far as it holds them, both stiffness factors, the loads that are on, the bow, each stable mark. What the run was
//           expected to do by itself (drift: creep, rods that grow warm) is taken off first, its share an unknown near 1.
// Tests     Global: all changes together, chi-squared (congruence). Then the changes one by one, the greatest first, each
//           tested with those before it, its significance corrected for looking at as many as there are (Sidak). A cause
//           that explains as well, within chance, is named beside it.
// Datum     Without a stable mark read in both surveys only shape, slope and roll can be compared: that one support sank
//           and that the other rose are then the same, which the words say. With one, heights too.
// Axes      heights up positive: a support that sank has rise < 0. sigma is one standard deviation. SI, rad.
// Limits    Surveys of the same stage, or of stages with the same supports, whose loads are known from the sheet.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/job/history.hpp"

namespace hangtrue::job {

inline constexpr double kRecheckConfidence =
    0.95;                                      // of the global test, and of each name with the correction
inline constexpr double kRecheckPower = 0.80;  // for the smallest detectable movement

/// Changes of this size count as wide: what is not known better was not seen.
inline constexpr double kWide_m = 0.010, kWide_rad = 0.010, kWideLoad = 0.5, kWideStiffness = 0.2;
/// A mark is taken to be where it was; that it is not is tested like other changes.
inline constexpr double kStable_m = 1e-6;

enum class ChangeKind { rise, pitch, roll, bending, torsion, load, bow, mark };

/// One change, as if it were the only one beside those named before it.
struct ChangeSeen {
  std::string name;     // "east rod: rise", "load books", "bow 1", "mark lintel: height"
  std::string support;  // of rise, pitch, roll; else empty
  ChangeKind kind{};
  bool can_be_seen = false;     // else none of the numbers below
  double value = 0, sigma = 0;  // m, rad, or share of the load or stiffness (0.05: 5 % more)
  double p_value = 1;           // alone
  double p_corrected = 1;       // for looking at as many
  double smallest_detectable =
      0;  // size of a movement that would be found with kRecheckPower, corrected likewise
};

/// A change that is needed to explain the later survey.
struct Cause {
  ChangeSeen change;  // its value with all named causes together
  std::vector<std::string>
      or_else;        // names of changes that would explain as well; the datum-free twin is among them
  std::string words;  // one sentence: "east rod sank by 0.80 mm +- 0.04 mm"
};

enum class DriftVerdict { none_expected, as_expected, less, more, cannot_tell };

/// What the run was expected to do by itself meanwhile.
struct ExpectedDrift {
  std::vector<std::string> reasons;  // a sentence each: creep of which parts, which rods, by what warmth
  double days = 0;
  double sag_m = 0, sag_sigma_m = 0;  // lowest point against the line between the outer stations; < 0 sinks
  double share = 1, share_sigma = 0;  // measured share of the expected, nothing assumed of it
  DriftVerdict verdict = DriftVerdict::none_expected;
  std::string words;
  std::vector<double> height_m, sigma_m;  // at the stations, middle
};

struct StationChange {
  double at_m = 0;
  double from_m = 0, to_m = 0;  // heights as fitted, less the mean of the earlier where no mark ties them
  double change_m = 0, sigma_m = 0;  // less its mean where no mark ties them
  double roll_change_rad = 0, roll_sigma_rad = 0;
};

/// How a quantity goes on over three or more surveys.
struct Trend {
  std::string what;  // "east rod: rise", "level error"
  std::vector<std::string> surveys;
  std::vector<double> days, value, sigma;  // since the first
  double per_year = 0, per_year_sigma = 0;
  double p_value = 1;           // that there is no trend
  double misfit_p = 1;          // that a straight line is enough
  std::optional<double> limit;  // in the unit of value
  // When the limit would be reached, days since the first; an absent end is "not in sight". Both absent: no crossing.
  std::optional<double> reached_from_days, reached_to_days;
  std::string words;
};

enum class RecheckAnswer {
  nothing_moved,  // the global test holds: nothing beyond what was expected and what the readings scatter
  moved,          // `causes` says what
  moved_somehow,  // the global test fails, and no single change stands out
  cannot_tell     // one of the fits does not hold, or too little was read; `reason` says why
};

struct Recheck {
  std::string from, to;  // ids
  std::string from_time, to_time;
  int from_stage = 0, to_stage = 0;
  bool heights_compared = false;   // a stable mark ties the two
  std::vector<std::string> marks;  // that do
  RecheckAnswer answer = RecheckAnswer::cannot_tell;
  std::string reason;          // one or two sentences: the answer in words, with its numbers
  double statistic = 0;        // chi-squared
  int degrees_of_freedom = 0;  // rank of what could be seen
  double p_value = 1;
  std::vector<Cause> causes;
  std::vector<ChangeSeen> seen;                   // every change, tested by itself
  std::vector<std::string> cannot_be_told_apart;  // sentences
  ExpectedDrift drift;
  std::vector<StationChange> stations;
  std::vector<Trend> trends;  // with three or more surveys
  std::vector<std::string>
      remarks;  // warnings of kit and checks, sheets that changed in what does not matter, ...
  double level_error_from_m = 0, level_error_to_m = 0,
         level_error_sigma_m = 0;           // as things stand, at the stage
  double common_m = 0, common_sigma_m = 0;  // how far the run as a whole is higher; where a mark ties heights
  bool past_tolerance = false;  // of a finished stage: the level error now is more than the sheet allows
};

/// Compares `to` with `from`, surveys of this book. Both must go by run sheets that are the same in what matters
/// (sheet_changes.hpp). A complaint says what stands in the way and what would be right.
struct RecheckOrComplaint {
  std::optional<Recheck> recheck;
  std::optional<sheet::Complaint> complaint;
};
[[nodiscard]] RecheckOrComplaint recheck(const book::Book& book, const sheet::RunSheet& run,
                                         const std::string& from_id, const std::string& to_id);

/// A change's value, sigma or smallest size in the unit of its kind: "0.80 mm", "1.20 mm/m", "5.0 %".
[[nodiscard]] std::string change_words(ChangeKind kind, double value, sheet::Show show);

/// As other programs may rely on it; members as above, SI.
[[nodiscard]] nlohmann::ordered_json recheck_json(const sheet::RunSheet& run, const Recheck& recheck);
/// What people read, within 80 columns.
[[nodiscard]] std::string recheck_view(const sheet::RunSheet& run, const Recheck& recheck);

}  // namespace hangtrue::job

namespace hangtrue::say {

/// "nothing moved", "moved", "moved somehow", "cannot tell"; "none expected", "as expected", "less", "more", "cannot tell".
[[nodiscard]] std::string_view word(job::RecheckAnswer answer);
[[nodiscard]] std::string_view word(job::DriftVerdict verdict);

}  // namespace hangtrue::say

// survey_session.hpp: from sheets and readings to a fit, and from the fit to a shim card. What daemon and command share.
//
// Units   SI, radians; signs as in core/beam/run.hpp; sigma is one standard deviation.
// Priors  of the run sheet and the kit sheet, and of the checks in the book where take_checks() was called (checks.hpp
//         says which counts). A support that engages after the survey's stage takes the run as it then is, so its
//         offset is no unknown; only where it is pulled home does its own zero matter, and is taken as known to
//         kLaterHome_*.
// Finished  the sheet's tolerance stage, or the survey's own where that is later.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "core/adjust/cure.hpp"
#include "core/adjust/hold_point.hpp"
#include "core/adjust/move_order.hpp"
#include "core/adjust/prospect.hpp"
#include "core/adjust/search.hpp"
#include "core/fit/fit.hpp"
#include "core/fit/repeatability.hpp"
#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/readings.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

/// How far the zero of a support that is pulled home later may be from nominal. Common practice, no source: a wall or a
/// ceiling plate set out with a spirit level.
inline constexpr double kLaterHome_m = 0.002, kLaterHome_rad = 0.002;

/// What lasts from one stage's survey to the next.
struct Lasting {
  fit::Carried<double> carried;
  std::vector<std::string> zeros;  // the instrument channels that carried zero errors stand for
  std::vector<double> zero_sigmas;
  // Of the last reading that each rests on, one without a time counting as later than any; nothing: never read.
  std::vector<std::optional<book::Time>> zeros_read;
};

struct NamedEstimate {
  std::string name;  // "wall bracket: rise", "load books", "set-up A: datum tilt"
  fit::Estimate<double> estimate;
};

struct NextReading {
  double at_m = 0;
  std::string instrument;
  Channel channel = Channel::slope;
  int face = 1;
  survey::Edge edge = survey::Edge::middle;
  double sigma_now_m = 0,
         sigma_after_m = 0;  // r.m.s. over the finished check points, of the height less the mean
};

/// A likelier cause, in words, with its weight between 0 and 1.
struct NamedCause {
  std::string words;
  double weight = 0;
};

/// Readings repeated under the same conditions (instrument, channel, place, edge, face, set-up), pooled over one
/// channel: core/fit/repeatability.hpp, question a at kAlarmConfidence. Only readings that the fit kept. Sigmas stay
/// as they are.
struct Repeats {
  std::string name;  // "walking inclinometer slope"
  Channel channel = Channel::slope;
  int groups = 0, degrees_of_freedom = 0;
  double pooled_sigma = 0;  // experimental, of one reading
  double stated_sigma = 0;  // r.m.s. of those the readings came with
  double p_value = 1;
  fit::ScatterVerdict verdict = fit::ScatterVerdict::not_tested;
};

struct FitReport {
  int stage = 0;
  fit::Status status = fit::Status::not_run;
  std::vector<NamedEstimate> parameters;
  std::vector<fit::StationShape<double>> stations;
  std::vector<fit::Judgement<double>> judgements;  // one a reading, in order
  fit::SelfTest<double> self_test;
  std::vector<NamedCause> causes;   // only where the self-test fails
  std::optional<NextReading> next;  // none without an instrument
  std::vector<Repeats> repeats;     // one a channel that has any
  std::vector<Warning> warnings;    // of the checks taken
};

/// What one move does to another support that is engaged now.
struct Effect {
  std::string support;
  double rise_m = 0;   // of the run there
  double force_N = 0;  // more (or less) that it carries
};

struct CardMove {
  adjust::Move<double> move;
  adjust::Turn<double> turn;
  std::string support;
  std::optional<int> stage;  // set where the support engages only later: the move is made then
  std::vector<Effect> effects;
};

/// What a support does to the finished run, as things are and after the moves.
struct Reaction {
  std::string support;
  beam::SupportAction<double> before, after;
};

/// A support that stands against "ready to bolt".
struct SupportTrouble {
  std::string support;
  std::string stage;
  double force_N = 0;
  std::optional<double> rating_N;  // over it; none: unloaded
};

struct Card {
  adjust::HoldPointAnswer hold_point;
  std::string reason;               // one sentence with the numbers behind the answer
  std::vector<std::string> advice;  // what would cut the uncertainty, or cure the sag; may be empty
  std::vector<CardMove> moves;      // in order
  adjust::MoveOrder<double> order;
  adjust::Choice<double> choice;
  adjust::Prospect<double> before, after;
  std::vector<double> left_before_m, right_before_m, left_m, right_m;  // finished, at the stations
  std::vector<SupportTrouble> troubles;
  std::vector<Reaction> reactions;
};

/// For a survey that is compared with an earlier one (recheck.hpp), which `lasting` then is of.
struct Since {
  std::vector<fit::Change<double>> changes;
  double mark_sigma_m = 0;       // likewise for each mark that is read; 0: none is taken to change
  std::vector<double> drift;     // by reading, in order: what is expected to have been added meanwhile
  double drift_share_sigma = 0;  // of its share, whose mean is 1
};

class SurveySession {
 public:
  /// `kit` may be nullptr. Both sheets must outlive it. `lasting`: from an earlier stage, or nullptr.
  SurveySession(const sheet::RunSheet& run, const sheet::KitSheet* kit, int stage,
                const Lasting* lasting = nullptr);
  ~SurveySession();
  SurveySession(const SurveySession&) = delete;
  SurveySession& operator=(const SurveySession&) = delete;

  [[nodiscard]] int stage() const;
  /// Checks of the instruments to start from, from the next fit() on; in the place of those taken before.
  void take_checks(Checks checks);
  /// From the next fit() on.
  void compare(Since since);
  void add(sheet::ReadingEntry reading);
  /// Takes back the last reading; false when there is none.
  bool drop_last();
  [[nodiscard]] const std::vector<sheet::ReadingEntry>& readings() const;

  /// Fits all readings so far. The complaint says what stands in the way (the run cannot be solved, too many unknowns).
  [[nodiscard]] std::optional<sheet::Complaint> fit();
  /// After a fit() without complaint.
  [[nodiscard]] const FitReport& report() const;

  /// The fit itself, its unknowns, and the readings as it took them; after a fit() without complaint.
  [[nodiscard]] fit::Fit<double>& fitted();
  [[nodiscard]] const fit::UnknownList<double>& unknowns() const;
  [[nodiscard]] const sheet::Survey& survey() const;

  /// The shim card. After a fit() without complaint.
  [[nodiscard]] std::optional<sheet::Complaint> make_card();
  [[nodiscard]] const Card& card() const;

  /// What lasts, for the next stage's survey; offsets of supports whose bit is set in `moved` do not.
  [[nodiscard]] std::unique_ptr<Lasting> lasting(std::uint32_t moved);

 private:
  struct Work;
  std::unique_ptr<Work> work_;
};

/// As other programs may rely on them. Beyond what is agreed for all, fit has "repeats": [{"channel" (the instrument's
/// name and the channel), "groups", "degrees_of_freedom", "pooled_sigma", "stated_sigma" (rad or m), "p_value",
/// "verdict" ("as stated", "larger than stated")}] and "warnings": [sentence]; shims has "fit_holds", and each move
/// "limits_hold" and "level_error_m" once it is made (adjust/move_order.hpp), "effects" and "when_stage".
[[nodiscard]] nlohmann::ordered_json fit_json(const sheet::RunSheet& run, const FitReport& report);
[[nodiscard]] nlohmann::ordered_json shims_json(const sheet::RunSheet& run, const Card& card);

}  // namespace hangtrue::job

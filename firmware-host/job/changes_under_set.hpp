// changes_under_set.hpp: what changed between two surveys, where some of the earlier one's one-way supports are taken not to bear.
//
// Model     The later survey is fitted from what the earlier one taught under that set, less what was expected to creep since; what
//           changed is looked for by later_fits.hpp and recheck_causes.hpp. A softer run carries the moments it has: where one is
//           named, or would do as well, the search is made again about it.
// Marks     Where several tie the two surveys, one may have moved: all are left free while it is looked for what did. Then those
//           that are not named tie the heights, as one alone always does, unless they contradict each other.
// Choice    of a set: its probability at the earlier survey, times how likely it makes what is read now (likelier_than()).
// Units     as recheck.hpp.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <utility>
#include <vector>

#include "firmware-host/job/expected_drift.hpp"
#include "firmware-host/job/history.hpp"
#include "firmware-host/job/recheck_causes.hpp"

namespace hangtrue::job {

/// What stands in the way, or nothing.
using Obstacle = std::optional<Fault>;

/// What is compared, the same under every set. Must outlive what is made of it.
struct TwoSurveys {
  const sheet::RunSheet& run;  // by which both are read
  const History& earlier;      // the earlier survey is its last
  const BookedSurvey& later;
  const sheet::KitSheet* kit = nullptr;        // of the later one
  const sheet::KitSheet* given_kit = nullptr;  // in the place of those in the book, or nullptr
  int from_stage = 0, to_stage = 0;
  SurveyTimes times;
  int marks = 0;  // stable ones that were read in both
};

class ChangesUnderSet {
 public:
  /// Under what the history's fit of the earlier survey has.
  explicit ChangesUnderSet(const TwoSurveys& two) : two_(&two) {}

  /// Under another set instead: the earlier survey is fitted once more.
  [[nodiscard]] Obstacle suppose(const BearingOption& bore);
  /// What does not bear now, a bit a support, is taken to be that; else it is found. After suppose(); of surveys of one stage.
  void let_hang_free(std::uint32_t lifted);
  [[nodiscard]] Obstacle look();
  /// After look(), of the set that is told: now() has what was named free.
  [[nodiscard]] Obstacle fit_what_was_named();

  // ---- after these, but for the first two

  /// The earlier survey's fit, and what it taught.
  [[nodiscard]] SurveyFit& then() const { return then_ ? *then_ : *two_->earlier.last().session; }
  [[nodiscard]] const CarriedState& carried() const {
    return carried_ ? *carried_ : *two_->earlier.carried.back();
  }
  /// The later one's, with what was named.
  [[nodiscard]] SurveyFit& now() const { return *now_; }
  [[nodiscard]] std::optional<double> temperature_then_C() const { return taught_->temperature_C; }
  /// The later readings, less what had crept by the earlier survey.
  [[nodiscard]] const std::vector<sheet::ReadingEntry>& entries() const { return entries_; }
  /// The later survey's fit with other readings or at another stage, nothing named and what bears found anew.
  [[nodiscard]] std::unique_ptr<SurveyFit> again(const std::vector<sheet::ReadingEntry>& entries,
                                                 int stage) const;
  [[nodiscard]] const ExpectedDrift& drift() const { return drift_; }
  [[nodiscard]] const change::GlobalTest& test() const { return test_; }
  [[nodiscard]] const Causes& found() const { return found_; }
  [[nodiscard]] std::vector<Cause>& causes() { return found_.causes; }
  [[nodiscard]] const std::vector<ChangeSeen>& seen() const { return seen_; }
  [[nodiscard]] const std::vector<std::pair<UnknownId, UnknownId>>& twins() const { return twins_; }
  /// Whether a mark that stood still ties the heights of the two.
  [[nodiscard]] bool marks_tie() const { return marks_tie_; }
  [[nodiscard]] std::uint32_t hang_free_then() const { return bore_then(two_->to_stage + 1).back(); }
  [[nodiscard]] std::uint32_t hang_free_now() const { return lifted_.back(); }
  /// Also at another stage, where nothing is known of how it bore then.
  [[nodiscard]] bool bears_as_then() const;

  /// ln of how likely the set was beforehand.
  void weigh_beforehand(double ln_probability) { ln_weight_ += ln_probability; }
  /// One cause more has to make it likelier by one over kAsLikely, as within one set.
  [[nodiscard]] double score() const;
  /// One under which nothing changed only where it is far likelier: a change must not hide behind a set.
  [[nodiscard]] bool likelier_than(const ChangesUnderSet& other) const;

 private:
  enum class Marks { tied, free };
  [[nodiscard]] Obstacle learn();
  void expect_drift();
  [[nodiscard]] Obstacle refit_earlier(std::optional<double> drift_share, std::vector<std::uint32_t> bore,
                                       std::unique_ptr<SurveyFit>& out) const;
  [[nodiscard]] std::vector<std::uint32_t> bore_then(int stages) const;
  [[nodiscard]] std::vector<sheet::BearingRemark> bearing_then() const;
  void take_off_what_had_crept();
  [[nodiscard]] Obstacle fit_later();
  [[nodiscard]] Obstacle find_changes();
  void list_candidates(const beam::Solver<double>& solved, double bending_factor);
  [[nodiscard]] Obstacle fit_with(const std::vector<int>& named, Marks marks);
  [[nodiscard]] std::unique_ptr<SurveyFit> session_for(const std::vector<sheet::ReadingEntry>& entries,
                                                       int stage, const std::vector<int>& named, Marks marks,
                                                       const std::vector<std::uint32_t>& lifted) const;
  [[nodiscard]] std::vector<int> with_bending() const;
  // One alone can only be taken at its word.
  [[nodiscard]] Marks while_looking() const { return two_->marks > 1 ? Marks::free : Marks::tied; }

  // Members behind others refer to those.
  const TwoSurveys* two_;
  std::vector<std::uint32_t> lifted_;               // by stage: what does not bear now; empty: to be found
  std::unique_ptr<SurveyFit> then_;                 // the earlier survey's fit; nullptr: the history's
  std::unique_ptr<CarriedState> carried_, taught_;  // by it, of which `carried_` as `then_`
  std::shared_ptr<const DriftForecast> crept_;      // by the earlier survey; nullptr: nothing
  double crept_share_ = 1;
  std::unique_ptr<SheetWithMore> sheet_;  // of the later survey's fit
  std::vector<ChangeCandidate> candidates_;
  std::vector<sheet::ReadingEntry> entries_;
  std::vector<double> drift_on_;  // expected since, by entry; empty: none
  std::unique_ptr<SurveyFit> now_;
  std::unique_ptr<DriftForecast> forecast_;
  ExpectedDrift drift_;
  change::GlobalTest test_;
  Causes found_;
  std::vector<ChangeSeen> seen_;
  std::vector<std::pair<UnknownId, UnknownId>> twins_;
  bool marks_tie_ = false;
  double ln_weight_ = 0;
};

}  // namespace hangtrue::job

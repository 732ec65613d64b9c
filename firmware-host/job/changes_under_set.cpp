#include "firmware-host/job/changes_under_set.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/job/recheck_thresholds.hpp"

namespace hangtrue::job {

Obstacle ChangesUnderSet::suppose(const BearingOption& bore) {
  if (auto obstacle = refit_earlier({}, bore.by_stage, then_)) return obstacle;
  carried_ = then_->carry(0);
  return std::nullopt;
}

void ChangesUnderSet::let_hang_free(std::uint32_t lifted) {
  lifted_ = bore_then(two_->to_stage + 1);
  lifted_.back() = lifted;
}

Obstacle ChangesUnderSet::look() {
  if (auto obstacle = learn()) return obstacle;
  expect_drift();
  if (auto obstacle = fit_later()) return obstacle;
  return find_changes();
}

// ---- the earlier survey ----------------------------------------------------------------------------------------------

// What the earlier survey taught, under what is supposed.
Obstacle ChangesUnderSet::learn() {
  taught_ = without(carried(), Forget::zeros);
  const CarriedState* const began = two_->earlier.began_from.back().get();
  if (began == nullptr || !began->drift) return std::nullopt;
  // That survey once more, with the share of creep that it found as known: what it taught then stands for the run as it was on
  // that day, together with that creep.
  crept_ = began->drift;
  crept_share_ = then().drift_share()->value;
  std::unique_ptr<SurveyFit> again;
  if (auto obstacle = refit_earlier(crept_share_, bore_then(then().stage() + 1), again)) return obstacle;
  taught_ = without(*again->carry(0), Forget::zeros);
  return std::nullopt;
}

// The earlier survey's fit once more, with what bore at its stage and before it as known.
Obstacle ChangesUnderSet::refit_earlier(std::optional<double> drift_share, std::vector<std::uint32_t> bore,
                                        std::unique_ptr<SurveyFit>& out) const {
  const FittedSurvey& from = two_->earlier.last();
  const sheet::KitSheet* const kit =
      two_->given_kit != nullptr ? two_->given_kit : two_->earlier.kits.back().get();
  out = std::make_unique<SurveyFit>(two_->run, kit, from.stage, two_->earlier.began_from.back().get());
  out->take_checks(from.booked.checks);
  out->take_bearing(std::move(bore));
  out->take_start(from.booked.found.starts_at);
  if (drift_share) out->take_drift_share(*drift_share);
  // Where nothing moved within its walk, nothing is looked for again.
  if (from.session->report().movements.empty()) out->expect_changes({});
  for (sheet::ReadingEntry& reading : kept_readings(from.booked)) out->add(std::move(reading));
  if (const auto fitted = out->fit(); !fitted) return fitted.fault();
  return std::nullopt;
}

// What did not bear at the first stages, by the earlier survey's fit.
std::vector<std::uint32_t> ChangesUnderSet::bore_then(int stages) const {
  const beam::State<double> state = then().fitted().state();
  return {state.lifted, state.lifted + stages};
}

bool ChangesUnderSet::bears_as_then() const {
  if (two_->from_stage != two_->to_stage) return true;
  return lifted_ == bore_then(two_->to_stage + 1);
}

// What bears is likelier as it was than otherwise; none at another stage.
std::vector<sheet::BearingRemark> ChangesUnderSet::bearing_then() const {
  if (two_->from_stage != two_->to_stage) return {};
  const sheet::RunSheet& run = two_->run;
  const std::uint32_t lifted = bore_then(two_->from_stage + 1).back();
  std::vector<sheet::BearingRemark> remarks;
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    if (run.beam_supports[i].one_way() &&
        run.beam_stages[std::size_t(two_->from_stage)].lists_support(int(i)))
      remarks.push_back({run.supports[i].name, ((lifted >> i) & 1u) == 0});
  return remarks;
}

void ChangesUnderSet::expect_drift() {
  forecast_ =
      std::make_unique<DriftForecast>(two_->run, two_->to_stage, then().fitted().state(), two_->times);
  drift_ = forecast_->expected();
  for (const double at : two_->run.stations_m)
    drift_.before_m.push_back(crept_ ? crept_share_ * crept_->height_m(at, 0) : 0);
}

// ---- the later survey ------------------------------------------------------------------------------------------------

void ChangesUnderSet::take_off_what_had_crept() {
  entries_ = kept_readings(two_->later);
  if (crept_) {
    const sheet::Survey survey = sheet::make_survey(entries_, two_->kit, two_->run.marks);
    for (std::size_t i = 0; i < entries_.size(); ++i)
      entries_[i].value -= crept_share_ * crept_->on(survey.readings[i]);
  }
  drift_on_.clear();
  if (forecast_->any())
    for (const survey::Reading<double>& reading :
         sheet::make_survey(entries_, two_->kit, two_->run.marks).readings)
      drift_on_.push_back(forecast_->on(reading));
}

Obstacle ChangesUnderSet::fit_later() {
  SurveyFit& earlier = then();
  const beam::State<double> state = earlier.fitted().state();
  if (!earlier.solver().solve(state))
    return Fault(beam::StageFault{beam::StageFaultCode::does_not_settle, earlier.stage()});
  list_candidates(earlier.solver(), state.bending_factor);
  take_off_what_had_crept();
  if (auto obstacle = fit_with({}, while_looking())) return obstacle;
  const beam::State<double> found = now_->fitted().state();
  lifted_.assign(found.lifted, found.lifted + two_->to_stage + 1);
  return std::nullopt;
}

// A softer run bends by the moments of this run: solved as it was, or as it has become.
void ChangesUnderSet::list_candidates(const beam::Solver<double>& solved, double bending_factor) {
  sheet_ = std::make_unique<SheetWithMore>(
      with_more_loads(two_->run, two_->to_stage, solved, bending_factor, then().unknowns().count));
  candidates_ = change_candidates(*sheet_, two_->to_stage);
  if (two_->marks == 0)
    std::erase_if(candidates_,
                  [](const ChangeCandidate& each) { return each.id.of == UnknownOf::mark_height; });
}

// The later survey with what may have changed free that does not multiply anything else: moves and bows, so that its shape is
// its own; and with what was named.
Obstacle ChangesUnderSet::fit_with(const std::vector<int>& named, Marks marks) {
  now_ = session_for(entries_, two_->to_stage, named, marks, lifted_);
  if (const auto fitted = now_->fit(); !fitted) return fitted.fault();
  return std::nullopt;
}

std::unique_ptr<SurveyFit> ChangesUnderSet::again(const std::vector<sheet::ReadingEntry>& entries,
                                                  int stage) const {
  return session_for(entries, stage, {}, while_looking(), {});
}

std::unique_ptr<SurveyFit> ChangesUnderSet::session_for(const std::vector<sheet::ReadingEntry>& entries,
                                                        int stage, const std::vector<int>& named, Marks marks,
                                                        const std::vector<std::uint32_t>& lifted) const {
  const auto is_named = [&](int j) { return std::find(named.begin(), named.end(), j) != named.end(); };
  std::vector<ChangeCandidate> free;
  std::vector<int> free_marks;
  for (int j = 0; j < int(candidates_.size()); ++j) {
    const ChangeCandidate& each = candidates_[std::size_t(j)];
    if (each.unknown.kind == fit::UnknownKind::mark_change) {
      if (marks == Marks::free || is_named(j)) free_marks.push_back(each.unknown.index);
    } else if (is_move(each.id.of) || each.id.of == UnknownOf::bow || is_named(j)) {
      free.push_back(each);
    }
  }
  ChangesSince since = changes_since(*sheet_, free, two_->marks > 0);
  for (const int mark : free_marks) since.mark_sigma_m[std::size_t(mark)] = kPriorOfWide * kWide_m;
  since.drift = drift_on_;
  since.drift_share_sigma = kCreepSigma;
  auto session = std::make_unique<SurveyFit>(sheet_->run, two_->kit, stage, taught_.get());
  session->take_checks(two_->later.checks);
  // What is past stays as it was.
  session->take_bearing(
      stage == two_->to_stage && !lifted.empty() ? lifted : bore_then(std::min(stage, then().stage() + 1)));
  std::vector<sheet::BearingRemark> bearing;
  if (stage == two_->to_stage) bearing = bearing_then();
  bearing.insert(bearing.end(), two_->later.found.bearing.begin(), two_->later.found.bearing.end());
  session->take_answers(std::move(bearing));
  session->expect_changes(std::move(since));
  for (const sheet::ReadingEntry& each : entries) session->add(each);
  return session;
}

Obstacle ChangesUnderSet::find_changes() {
  for (int turn = 1;; ++turn) {
    LaterFits fits(*now_, candidates_);
    const ChangeTests tests(fits.at_no_change(), candidates_);
    if (turn == 1) {
      test_ = found_.rest = tests.global();
      seen_ = tests.each();
      twins_ = tests.twins();
    }
    if (test_.p_value < 1 - kRecheckConfidence)
      found_ = find_causes(fits, *sheet_, tests, /*heights_compared=*/two_->marks > 0);
    const std::vector<int> softened = turn == kMostTurns ? std::vector<int>() : with_bending();
    const auto state = softened.empty() ? std::nullopt : fits.stand_at(softened);
    if (!state) {
      ln_weight_ += fits.ln_likely(found_.set);
      if (forecast_->any()) judge_drift(drift_, fits.drift_share(found_.set));
      return std::nullopt;
    }
    list_candidates(now_->solver(), state->bending_factor);
    if (auto obstacle = fit_with({}, while_looking())) return obstacle;
  }
}

// Marks that are not named tie the heights. Where they do not agree, nobody knows which of them stood still: then none does.
Obstacle ChangesUnderSet::fit_what_was_named() {
  const auto named_marks = std::count_if(found_.set.begin(), found_.set.end(), [&](int j) {
    return candidates_[std::size_t(j)].id.of == UnknownOf::mark_height;
  });
  marks_tie_ = two_->marks > named_marks;
  if (!found_.set.empty() || while_looking() == Marks::free)
    if (auto obstacle = fit_with(found_.set, Marks::tied)) return obstacle;
  if (while_looking() == Marks::tied || now_->report().self_test.outcome != fit::TestOutcome::fails)
    return std::nullopt;
  marks_tie_ = false;
  return fit_with(found_.set, Marks::free);
}

// The set named, where a softer run is in it or may stand in the place of all of it; else none.
std::vector<int> ChangesUnderSet::with_bending() const {
  const auto bending = std::find_if(candidates_.begin(), candidates_.end(),
                                    [](const ChangeCandidate& each) { return each.flexibility; });
  const int index = int(bending - candidates_.begin());
  if (bending == candidates_.end() || found_.set.empty()) return {};
  if (std::find(found_.set.begin(), found_.set.end(), index) != found_.set.end()) return found_.set;
  const std::vector<UnknownId>& others = found_.causes.front().or_else;
  const bool instead =
      found_.set.size() == 1 && std::find(others.begin(), others.end(), bending->id) != others.end();
  return instead ? std::vector<int>{index} : std::vector<int>{};
}

// ---- which set -------------------------------------------------------------------------------------------------------

double ChangesUnderSet::score() const {
  return ln_weight_ + double(found_.causes.size()) * std::log(kAsLikely);
}

bool ChangesUnderSet::likelier_than(const ChangesUnderSet& other) const {
  if (found_.causes.empty() == other.found_.causes.empty()) return score() > other.score();
  const double ahead = ln_weight_ - other.ln_weight_;
  return ahead > (found_.causes.empty() ? -std::log(kAsLikely) : std::log(kAsLikely));
}

}  // namespace hangtrue::job

#include "firmware-host/job/card.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <utility>

#include "core/adjust/workspace.hpp"
#include "firmware-host/job/prediction.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

// A run that many times its tolerance off is far past it. No source.
constexpr double kFarPast = 1.2;

constexpr std::array kOffsets{beam::ParameterKind::offset_rise, beam::ParameterKind::offset_pitch,
                              beam::ParameterKind::offset_roll};

class CardMaker {
 public:
  explicit CardMaker(SurveyFit& survey)
      : survey_(survey),
        run_(survey.run()),
        settings_(run_, stage_, finished_),
        points_(2 * run_.stations_m.size()),
        unknowns_(std::size_t(survey.unknowns().count)) {}

  Result<Card, Fault> make() {
    if (!(run_.tolerance.level_m > 0)) return Fault(NoTolerance{});
    if (settings_.trouble()) return *settings_.trouble();
    std::vector<double> height(points_), factor(points_ * unknowns_);
    if (const auto done = survey_.finished(height, factor); !done) return fault_of(done.fault(), survey_);
    state_ = survey_.fitted().state();
    state_.move_stage = stage_;
    if (const auto done = settings_.find(state_, crept_m()); !done) return done.fault();
    if (const auto done = choose(); !done) return done.fault();
    if (const auto done = foresee(factor); !done) return done.fault();
    react();
    order_moves();
    weigh_fit_up();
    if (const auto done = doubt(); !done) return done.fault();
    answer();
    advise();
    return std::move(card_);
  }

 private:
  [[nodiscard]] bool engaged(int stage, int support) const {
    return run_.beam_stages[std::size_t(stage)].lists_support(support);
  }
  [[nodiscard]] std::optional<double> target() const { return run_.tolerance.target_height_m; }

  Result<Done, Fault> choose();
  [[nodiscard]] std::vector<double> crept_m() const;
  [[nodiscard]] std::optional<std::vector<double>> finished_edges(const beam::State<double>& state);
  [[nodiscard]] adjust::Prospect<double> prospect_of(const std::vector<double>& height_m,
                                                     const std::vector<double>& factor) const;
  [[nodiscard]] double of_tolerance(const std::vector<double>& height_m) const;
  void note_troubles();
  Result<Done, Fault> foresee(const std::vector<double>& factor);
  void react();
  void order_moves();
  [[nodiscard]] std::optional<int> later_stage(int support) const;
  [[nodiscard]] bool engaged_by_survey(int support) const;
  [[nodiscard]] bool choice_exists() const;
  void weigh_fit_up();
  Result<Done, Fault> doubt();
  void answer();
  void advise();
  void advise_what_to_know();

  SurveyFit& survey_;
  const sheet::RunSheet& run_;
  const int stage_ = survey_.stage(), finished_ = survey_.finished_stage();
  Settings settings_;
  const std::size_t points_, unknowns_;

  beam::State<double> state_, moved_;  // as things are; after the moves
  std::unique_ptr<adjust::Workspace<double>> workspace_ = std::make_unique<adjust::Workspace<double>>();
  std::vector<double> factor_after_;
  Card card_;
};

// ---- choice -------------------------------------------------------------------------------------------------------

Result<Done, Fault> CardMaker::choose() {
  if (survey_.report().status != fit::Status::settled) return Done{};
  auto chosen = choose_moves(run_, settings_.problem(), *workspace_);
  if (!chosen) return Fault(chosen.fault());
  card_.choice = std::move(chosen).value();
  return Done{};
}

// ---- outcome ------------------------------------------------------------------------------------------------------

// What crept by the survey, at the check points.
std::vector<double> CardMaker::crept_m() const {
  std::vector<double> crept;
  for (const double x : run_.stations_m)
    for (const double across : {run_.width_m / 2, -run_.width_m / 2})
      crept.push_back(survey_.drift_height_m(x, across));
  return crept;
}

// Finished heights at the check points, with one-way supports as they are; nothing where the run cannot be solved.
std::optional<std::vector<double>> CardMaker::finished_edges(const beam::State<double>& state) {
  beam::Solver<double>& solver = survey_.solver();
  if (!solver.solve(state)) return std::nullopt;
  std::vector<double> heights = edge_heights(run_, solver, finished_);
  const std::vector<double> crept = crept_m();
  for (std::size_t point = 0; point < heights.size(); ++point) heights[point] += crept[point];
  return heights;
}

adjust::Prospect<double> CardMaker::prospect_of(const std::vector<double>& height_m,
                                                const std::vector<double>& factor) const {
  const adjust::Spread<double> spread{factor, int(unknowns_)};
  const auto departures = departures_that_count(run_, height_m, spread);
  const adjust::StraightLimit<double> straight{departures,
                                               run_.tolerance.per ? run_.tolerance.per->gap_m : 0};
  return adjust::prospect<double>(height_m, spread, run_.tolerance.level_m, target(), straight);
}

// The larger share of what the tolerance allows: of level, or under the straight-edge.
double CardMaker::of_tolerance(const std::vector<double>& height_m) const {
  const double level = adjust::level_error<double>(height_m, target()) / run_.tolerance.level_m;
  const auto straight = straightness(run_, height_m);
  return straight ? std::max(level, straight->departure_m / run_.tolerance.per->gap_m) : level;
}

// Supports that, as things are, go unloaded or over their rating in any stage from now to the finished one.
void CardMaker::note_troubles() {
  if (!survey_.solver().solve(state_)) return;
  for (int s = stage_; s <= finished_; ++s)
    for (int i = 0; i < int(run_.supports.size()); ++i) {
      if (!engaged(s, i)) continue;
      const beam::SupportAction<double> action = survey_.solver().support(s, i);
      const std::optional<double> rating = run_.supports[std::size_t(i)].rating_N;
      const std::string& name = run_.supports[std::size_t(i)].name;
      const std::string& stage = run_.stages[std::size_t(s)];
      if (!action.engaged) card_.troubles.push_back({name, stage, 0, std::nullopt});
      if (rating && std::abs(action.force_N) > *rating)
        card_.troubles.push_back({name, stage, action.force_N, rating});
    }
}

// Before and after the moves. A card lists no move whose own result, solved anew, is worse than none; one that cures a
// support may cost level.
Result<Done, Fault> CardMaker::foresee(const std::vector<double>& factor) {
  const auto split = [](const std::vector<double>& edges, std::vector<double>& left,
                        std::vector<double>& right) {
    for (std::size_t i = 0; i < edges.size(); ++i) (i % 2 == 0 ? left : right).push_back(edges[i]);
  };
  const std::optional<std::vector<double>> before = finished_edges(state_);
  if (!before) return Fault(beam::StageFault{beam::StageFaultCode::does_not_settle, stage_});
  card_.before = prospect_of(*before, factor);
  card_.straight_before = straightness(run_, *before, {factor, int(unknowns_)});
  split(*before, card_.left_before_m, card_.right_before_m);
  note_troubles();

  moved_ = state_;
  for (int k = 0; k < card_.choice.moves; ++k) {
    const adjust::Move<double>& move = card_.choice.move[std::size_t(k)];
    moved_.move[move.support] = {move.rise_m, move.pitch_rad, move.roll_rad};
  }
  if (card_.choice.moves > 0)  // what bears then is found anew
    moved_.bearing_given = std::min(moved_.bearing_given, stage_);
  std::optional<std::vector<double>> after = finished_edges(moved_);
  const bool worse =
      !after || (card_.troubles.empty() &&
                 of_tolerance(*after) > of_tolerance(*before) + kWorseBy_m / run_.tolerance.level_m);
  if (worse) {
    card_.choice.moves = 0;
    moved_ = state_;
    after = before;
  }
  factor_after_.resize(points_ * unknowns_);
  std::vector<double> height(points_);
  const std::vector<beam::Motions<double>> moves(moved_.move, moved_.move + run_.supports.size());
  if (const auto done = survey_.finished_after(moves, height, factor_after_); !done)
    return fault_of(done.fault(), survey_);
  card_.after = prospect_of(*after, factor_after_);
  card_.straight_after = straightness(run_, *after, {factor_after_, int(unknowns_)});
  split(*after, card_.left_m, card_.right_m);
  return Done{};
}

void CardMaker::react() {
  for (int i = 0; i < int(run_.supports.size()); ++i)
    if (engaged(finished_, i)) card_.reactions.push_back({run_.supports[std::size_t(i)].name, {}, {}});
  const auto solved = [&](const beam::State<double>& at, beam::SupportAction<double> Reaction::*which) {
    if (!survey_.solver().solve(at)) return;
    for (Reaction& reaction : card_.reactions)
      reaction.*which = survey_.solver().support(finished_, run_.support(reaction.support));
  };
  solved(state_, &Reaction::before);
  solved(moved_, &Reaction::after);
}

// The first stage after this one that engages a support which is not engaged now.
std::optional<int> CardMaker::later_stage(int support) const {
  if (engaged(stage_, support)) return std::nullopt;
  for (int s = stage_ + 1; s <= finished_; ++s)
    if (engaged(s, support)) return s;
  return std::nullopt;
}

void CardMaker::order_moves() {
  card_.order = adjust::order_moves(settings_.problem(), card_.choice, *workspace_);
  for (const bool later : {false, true})
    for (int t = 0; t < card_.order.turns; ++t) {
      const adjust::Turn<double>& turn = card_.order.turn[std::size_t(t)];
      const adjust::Move<double>& move = card_.choice.move[std::size_t(turn.move)];
      const std::optional<int> stage = later_stage(move.support);
      if (stage.has_value() != later) continue;
      card_.moves.push_back(
          {move, turn, run_.supports[std::size_t(move.support)].name, stage,
           later ? std::vector<Effect>{} : settings_.effects(move.support, moved_.move[move.support])});
    }
}

bool CardMaker::choice_exists() const {
  return card_.choice.outcome == adjust::Outcome::proved_best ||
         card_.choice.outcome == adjust::Outcome::stopped_at_limit;
}

// ---- fit-up -------------------------------------------------------------------------------------------------------

// Offsets of supports that engage later are no part of what the readings tell: knowing them takes their rows out of the
// factor.
void CardMaker::weigh_fit_up() {
  FitUp fit_up;
  for (int i = 0; i < int(run_.supports.size()); ++i)
    if (later_stage(i) && !engaged_by_survey(i))
      fit_up.supports.push_back(run_.supports[std::size_t(i)].name);
  if (fit_up.supports.empty()) return;
  std::vector<double> without = factor_after_, own(unknowns_);
  for (int u = 0; u < survey_.unknowns().count; ++u) {
    const fit::Unknown& unknown = survey_.unknowns().unknown[u];
    const bool offset =
        unknown.kind == fit::UnknownKind::shape &&
        std::find(std::begin(kOffsets), std::end(kOffsets), unknown.shape.kind) != std::end(kOffsets);
    if (!offset || engaged_by_survey(unknown.shape.index)) continue;
    survey_.fitted().factor_row(u, own);
    double squared = 0;
    for (const double each : own) squared += each * each;
    if (!(squared > 0)) continue;
    for (std::size_t point = 0; point < points_; ++point) {
      double* const row = without.data() + point * unknowns_;
      double along = 0;
      for (std::size_t k = 0; k < unknowns_; ++k) along += row[k] * own[k];
      for (std::size_t k = 0; k < unknowns_; ++k) row[k] -= along / squared * own[k];
    }
  }
  std::vector<double> after(points_);
  for (std::size_t s = 0; s < points_ / 2; ++s) {
    after[2 * s] = card_.left_m[s];
    after[2 * s + 1] = card_.right_m[s];
  }
  const adjust::Prospect<double> known = prospect_of(after, without);
  fit_up.sigma_without_m = known.drawn_sigma_m;
  const double all = card_.after.drawn_sigma_m, rest = known.drawn_sigma_m;
  fit_up.sigma_m = std::sqrt(std::max(0.0, all * all - rest * rest));
  fit_up.chance_without = known.chance;
  card_.fit_up = std::move(fit_up);
}

bool CardMaker::engaged_by_survey(int support) const {
  for (int s = 0; s <= stage_; ++s)
    if (engaged(s, support)) return true;
  return false;
}

// What would spoil the answer. Ready: what is left of the tolerance, but never less than what matters. Moves, which can be made
// again: what would leave the run past kFarPast of it.
Result<Done, Fault> CardMaker::doubt() {
  const double level_m = run_.tolerance.level_m;
  const bool now = card_.before.chance >= run_.tolerance.confidence;
  const double spoils_m =
      now ? std::max(level_m - card_.before.level_error_m, kMatters * level_m)
          : std::max(kFarPast * level_m - card_.after.level_error_m, 2 * kMatters * level_m);
  auto found = find_doubts(survey_, spoils_m);
  if (!found) return found.fault();
  card_.doubts = std::move(found).value();
  return Done{};
}

void CardMaker::answer() {
  const FitReport& report = survey_.report();
  adjust::HoldPointInput input;
  input.confidence = run_.tolerance.confidence;
  input.chance_now = card_.before.chance;
  input.chance_after = card_.after.chance;
  input.level_error_now_m = card_.before.level_error_m;
  input.level_error_after_m = card_.after.level_error_m;
  input.tolerance_m = run_.tolerance.level_m;
  input.straight_after = !card_.straight_after || card_.straight_after->within;
  input.choice_exists = choice_exists();
  input.moves = card_.choice.moves;
  input.search_stopped = card_.choice.outcome == adjust::Outcome::stopped_at_limit ||
                         card_.choice.outcome == adjust::Outcome::none_found;
  input.fit_holds =
      report.self_test.outcome == fit::TestOutcome::holds && report.status != fit::Status::not_settled;
  input.has_readings = report.self_test.degrees_of_freedom > 0;
  if (card_.fit_up) input.chance_without_fit_up = card_.fit_up->chance_without;
  input.doubt_open = !card_.doubts.empty();
  input.doubt_against_moves = std::any_of(card_.doubts.begin(), card_.doubts.end(), against_moves);
  for (const SupportTrouble& trouble : card_.troubles)
    (trouble.rating_N ? input.support_over_rating : input.support_unloaded) = true;
  card_.hold_point = adjust::hold_point(input);
}

// ---- advice -------------------------------------------------------------------------------------------------------

void CardMaker::advise() {
  if (card_.hold_point.answer == adjust::HoldPoint::shims_cannot && choice_exists() &&
      card_.hold_point.reason != adjust::HoldPointReason::not_straight_after) {  // a cure of level is none
    const auto cures = find_cures(settings_.problem(), settings_.sag_m(), run_.tolerance.level_m,
                                  bow_found(survey_.report()), *workspace_);
    if (cures) card_.advice.push_back(cures.value());
  }
  if (card_.hold_point.answer != adjust::HoldPoint::read_again) return;
  const std::optional<NextReading>& next = survey_.report().next;
  if (next && next->sigma_after_m < kReadingWorthIt * next->sigma_now_m) card_.advice.push_back(*next);
  advise_what_to_know();
}

// What leaves most open; and the load that would help most if it were weighed, where that is worth the trouble.
void CardMaker::advise_what_to_know() {
  const adjust::Spread<double> spread{factor_after_, int(unknowns_)};
  const double now = card_.after.level_error_sigma_m;
  MostOpen open{{}, now, kKnowingWorthIt * now};
  WorthWeighing weighing{{}, now, kKnowingWorthIt * now};
  bool any_open = false, any_load = false;
  std::vector<double> own(unknowns_);
  for (int u = 0; u < survey_.unknowns().count; ++u) {
    const fit::Unknown& unknown = survey_.unknowns().unknown[u];
    survey_.fitted().factor_row(u, own);
    const double sigma = adjust::sigma_if_measured<double>(card_.after, spread, own, 0, target().has_value());
    const bool is_load =
        unknown.kind == fit::UnknownKind::shape && unknown.shape.kind == beam::ParameterKind::load;
    if (is_load && sigma < weighing.sigma_after_m) {
      weighing = {run_.loads[std::size_t(unknown.shape.index)].name, now, sigma};
      any_load = true;
    }
    if (sigma < open.sigma_after_m) {
      open = {survey_.id_of(unknown), now, sigma};
      any_open = true;
    }
  }
  if (any_open) card_.advice.push_back(open);
  if (any_load) card_.advice.push_back(weighing);
}

}  // namespace

Result<Card, Fault> make_card(SurveyFit& survey) { return CardMaker(survey).make(); }

}  // namespace hangtrue::job

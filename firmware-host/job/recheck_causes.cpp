#include "firmware-host/job/recheck_causes.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <optional>

#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

constexpr double kNever = -std::numeric_limits<double>::infinity();
/// Changes that are not named are held to this share of what is called wide, so that the fit is the named ones' and yet tells
/// what is known of all. No source: seven digits of what is known are left.
constexpr double kHeld = 1e-3;

using Set = std::vector<int>;

}  // namespace

// ---- fits ------------------------------------------------------------------------------------------------------------

struct LaterFits::Work {
  SurveyFit& session;
  const std::vector<ChangeCandidate>& candidates;
  fit::Problem<double> problem;
  std::vector<std::uint8_t> aside;
  std::vector<fit::Judgement<double>> judgements;
  fit::UnknownList<double> list;
  std::vector<double> storage;
  std::unique_ptr<fit::Fit<double>> fit = std::make_unique<fit::Fit<double>>();
  std::map<Set, double> weights;
  double none = 0;  // evidence of no change

  Work(SurveyFit& of, const std::vector<ChangeCandidate>& changes)
      : session(of), candidates(changes), problem(of.walk().problem) {
    const beam::State<double> stands = session.fitted().state();
    std::copy(std::begin(stands.lifted), std::end(stands.lifted), std::begin(problem.base.lifted));
    problem.base.bearing_given = stands.bearing_given;
    problem.options.gate = std::numeric_limits<double>::infinity();
    for (const fit::Judgement<double>& each : session.report().judgements)
      aside.push_back(each.verdict != fit::Verdict::kept);
    judgements.resize(aside.size());
    none = evidence_of({});
  }

  struct Added {
    fit::Unknown unknown;
    fit::Prior<double> prior;
  };
  // All unknowns but changes; changes with the sigma that `free` gives them (0: left out), and one more.
  template <class Free>
  bool run(const Free& free, const std::optional<Added>& added = {}) {
    const fit::UnknownList<double>& all = session.unknowns();
    const auto is_change = [](const fit::Unknown& each) {
      return each.kind == fit::UnknownKind::change || each.kind == fit::UnknownKind::mark_change;
    };
    list = {};
    bool room = true;
    const auto push_all = [&](bool of_shape) {
      for (int u = 0; u < all.count; ++u)
        if (!is_change(all.unknown[u]) && fit::is_of_shape(all.unknown[u].kind) == of_shape)
          room = list.push(all.unknown[u], all.prior[u]) && room;
      for (int j = 0; j < int(candidates.size()); ++j)
        if (const fit::Unknown& each = candidates[std::size_t(j)].unknown;
            fit::is_of_shape(each.kind) == of_shape)
          room = list.push(each, {0, free(j)}) && room;
      if (of_shape && added) room = list.push(added->unknown, added->prior) && room;
    };
    push_all(true);
    push_all(false);
    problem.unknowns = &list;
    storage.resize(
        fit::Fit<double>::storage_needed(list.count, int(aside.size()), int(problem.stations_m.size())));
    if (!room || !fit->begin(problem, storage).ok()) return false;
    const auto ran = fit->run(session.survey().readings, aside, judgements);
    return ran.ok() && ran.value() != fit::Status::prior_only;
  }

  [[nodiscard]] int column(const fit::Unknown& unknown) const {
    const fit::Unknown* const end = list.unknown + list.count;
    const fit::Unknown* const found = std::find(list.unknown, end, unknown);
    return found == end ? -1 : int(found - list.unknown);
  }
  [[nodiscard]] fit::Estimate<double> estimate(const fit::Unknown& unknown) const {
    return fit->estimate(column(unknown));
  }
  [[nodiscard]] double ln_odds(const Set& set) const {
    double sum = 0;
    for (const int j : set) {
      const ChangeCandidate& each = candidates[std::size_t(j)];
      sum += each.belief.ln_odds(estimate(each.unknown).value);
    }
    return sum;
  }

  double evidence_of(const Set& set) {
    const auto free = [&](int j) { return holds(set, j) ? candidates[std::size_t(j)].belief.sigma : 0; };
    return run(free) ? fit->log_evidence(judgements) : kNever;
  }

  // Where nothing changed: one step from what the earlier survey left.
  template <class Run>
  auto where_nothing_changed(const Run& run_it) {
    const int most = problem.options.most_iterations;
    problem.options.most_iterations = 1;
    auto result = run_it();
    problem.options.most_iterations = most;
    return result;
  }

  std::unique_ptr<change::Changes> tests_with(const Set& set, bool with_drift = false) {
    std::vector<double> wide, prior;
    for (int j = 0; j < int(candidates.size()); ++j) {
      wide.push_back(candidates[std::size_t(j)].wide);
      prior.push_back(holds(set, j) ? wide.back() : kHeld * wide.back());
    }
    if (!run([&](int j) { return prior[std::size_t(j)]; })) return nullptr;
    std::vector<int> columns;
    for (const ChangeCandidate& each : candidates) columns.push_back(column(each.unknown));
    if (with_drift) {
      const ChangeCandidate drift = drift_share_candidate();
      columns.push_back(column(drift.unknown));
      wide.push_back(drift.wide);
      prior.push_back(drift.prior);
    }
    if (std::find(columns.begin(), columns.end(), -1) != columns.end()) return nullptr;
    std::vector<double> triangle(columns.size() * columns.size()), right(columns.size());
    fit->information(columns, triangle, right);
    auto changes = std::make_unique<change::Changes>();
    if (!changes->begin(int(columns.size()), wide, prior, triangle, right)) return nullptr;
    return changes;
  }

  static bool holds(const Set& set, int j) { return std::find(set.begin(), set.end(), j) != set.end(); }
};

LaterFits::LaterFits(SurveyFit& session, const std::vector<ChangeCandidate>& candidates)
    : work_(std::make_unique<Work>(session, candidates)) {}
LaterFits::~LaterFits() = default;

std::unique_ptr<change::Changes> LaterFits::at_no_change() {
  return work_->where_nothing_changed([&] { return work_->tests_with({}); });
}

std::unique_ptr<change::Changes> LaterFits::around(const Set& set) { return work_->tests_with(set); }

double LaterFits::ln_weight(const Set& set) {
  if (const auto known = known_weight(set)) return *known;
  double weight = work_->evidence_of(set) - work_->none;
  if (weight > kNever) weight += work_->ln_odds(set);
  return work_->weights[set] = weight;
}

std::optional<double> LaterFits::known_weight(const Set& set) const {
  const auto known = work_->weights.find(set);
  return known == work_->weights.end() ? std::nullopt : std::optional(known->second);
}

std::optional<LaterFits::Spring> LaterFits::with_spring(const Set& set, int j) {
  Work& work = *work_;
  beam::Parameter spring = work.candidates[std::size_t(j)].unknown.shape;
  for (const beam::Motion motion : beam::kMotions)
    if (spring.kind == beam::kMoves[motion]) {
      if (!(work.problem.run->supports[std::size_t(spring.index)].restraint(motion).compliance > 0))
        return std::nullopt;
      spring.kind = beam::kSprings[motion];
      break;
    }
  const fit::Unknown softer{fit::UnknownKind::change, spring, 0};
  Set others = set;
  others.erase(std::remove(others.begin(), others.end(), j), others.end());
  const auto free = [&](int k) {
    return Work::holds(others, k) ? work.candidates[std::size_t(k)].belief.sigma : 0;
  };
  if (!work.run(free, Work::Added{softer, {0, kLikelySpring.size}})) return std::nullopt;
  const fit::Estimate<double> log = work.estimate(softer);
  Spring found;
  found.ln_weight = work.fit->log_evidence(work.judgements) - work.none + work.ln_odds(others) +
                    std::log(kLikelySpring.odds * (log.value > 0 ? kTheOtherWay : 1));
  // Without its prior, as every size is told.
  const double told = 1 / (log.sigma * log.sigma), prior = 1 / (kLikelySpring.size * kLikelySpring.size);
  if (!(told > prior)) return std::nullopt;
  found.change = {QuantityKind::log_factor, log.value * told / (told - prior), 1 / std::sqrt(told - prior)};
  return found;
}

change::Single LaterFits::drift_share(const Set& named) {
  Set moved;
  for (const int j : named) {
    const UnknownOf of = work_->candidates[std::size_t(j)].id.of;
    if (is_move(of) || of == UnknownOf::mark_height) moved.push_back(j);
  }
  const auto changes = work_->where_nothing_changed([&] { return work_->tests_with({}, true); });
  return changes ? changes->single(changes->count() - 1, moved) : change::Single{};
}

// ---- search ----------------------------------------------------------------------------------------------------------

namespace {

class CauseSearch {
 public:
  CauseSearch(LaterFits& fits, const SheetWithMore& sheet, const ChangeTests& tests, bool heights_compared)
      : sheet_(sheet),
        tests_(tests),
        candidates_(tests.candidates()),
        heights_compared_(heights_compared),
        fits_(fits) {
    for (const ChangeCandidate& each : candidates_) beliefs_.push_back(each.belief);
  }

  Causes find() {
    grow();
    Causes found;
    found.set = set_;
    found.rest = around_ ? around_->rest(set_) : tests_.global();
    for (const int j : set_) found.causes.push_back(cause(j));
    std::stable_sort(found.causes.begin(), found.causes.end(), [](const Cause& a, const Cause& b) {
      return std::abs(a.change.change.value / a.change.change.sigma) >
             std::abs(b.change.change.value / b.change.change.sigma);
    });
    return found;
  }

 private:
  static bool passes(const change::GlobalTest& test) {
    return test.degrees_of_freedom == 0 || test.p_value >= 1 - kRecheckConfidence;
  }

  // Set by set, one change larger each time.
  void grow() {
    double weight = 0;
    for (int size = 1; size <= change::kMostNamed; ++size) {
      const auto [best, best_weight] = best_of(size);
      if (!(best_weight > weight - std::log(kAsLikely))) return;
      auto around = fits_.around(best);
      if (!around || !all_significant(*around, best)) return;
      set_ = best;
      weight = best_weight;
      around_ = std::move(around);
      if (passes(around_->rest(set_))) return;
    }
  }

  std::pair<Set, double> best_of(int size) {
    constexpr int kAllSets = 3;  // of more than so many only those that hold what is named already
    std::vector<change::Weighed> tried;
    if (size <= kAllSets) tried = tests_.changes().heaviest(size, beliefs_, kFittedInFull);
    if (around_)
      for (change::Weighed& each : around_->heaviest(size, beliefs_, kFittedInFull, set_))
        tried.push_back(std::move(each));
    std::pair<Set, double> best{{}, kNever};
    for (const change::Weighed& each : tried)
      if (const double weight = fits_.ln_weight(each.set); weight > best.second) best = {each.set, weight};
    return best;
  }

  [[nodiscard]] bool all_significant(const change::Changes& changes, const Set& set) const {
    return std::all_of(set.begin(), set.end(), [&](int j) {
      const change::Single single = changes.single(j, without(set, j));
      return single.seen &&
             change::corrected(single.p_value, tests_.changes().looked_at()) < 1 - kRecheckConfidence;
    });
  }

  static Set without(Set set, int j) {
    set.erase(std::remove(set.begin(), set.end(), j), set.end());
    return set;
  }
  [[nodiscard]] const UnknownId& id(int j) const { return candidates_[std::size_t(j)].id; }

  // How much heavier the set is with another in the place of one.
  [[nodiscard]] double exchanged(int j, int other) const {
    Set instead = without(set_, j);
    instead.insert(std::upper_bound(instead.begin(), instead.end(), other), other);
    const auto known = fits_.known_weight(instead), named = fits_.known_weight(set_);
    if (known && named) return *known - *named;
    return around_->ln_weight(instead, beliefs_) - around_->ln_weight(set_, beliefs_);
  }

  Cause cause(int j) {
    const Set others = without(set_, j);
    Cause cause;
    cause.change = tests_.seen(j, *around_, others);
    const beam::Parameter& what = candidates_[std::size_t(j)].unknown.shape;
    if (what.kind == beam::ParameterKind::load && what.index >= sheet_.listed) {
      const auto kind = sheet_.more[std::size_t(what.index - sheet_.listed)].kind;
      cause.not_listed = kind == SheetWithMore::Kind::later || kind == SheetWithMore::Kind::unlisted;
    }
    const bool rise = id(j).of == UnknownOf::move_rise;
    cause.height_told = rise && height_told(j, others);
    list_others(j, rise, cause);
    weigh_spring(j, cause);
    return cause;
  }

  // Another place of an unlisted weight is no other cause.
  void list_others(int j, bool rise, Cause& cause) const {
    std::optional<int> weight;  // the likeliest place of one
    double weight_by = std::log(kAsLikely);
    for (int other = 0; other < int(candidates_.size()); ++other) {
      if (std::find(set_.begin(), set_.end(), other) != set_.end()) continue;
      const bool other_rise = rise && !cause.height_told && id(other).of == UnknownOf::move_rise;
      const double by = exchanged(j, other);
      if (id(other).of == UnknownOf::unlisted_load) {
        if (id(j).of != UnknownOf::unlisted_load && by > weight_by) weight = other, weight_by = by;
      } else if (by > std::log(kAsLikely) || other_rise) {
        cause.or_else.push_back(id(other));
      }
    }
    if (weight) cause.or_else.push_back(id(*weight));
  }

  void weigh_spring(int j, Cause& cause) {
    if (!is_move(id(j).of)) return;
    const auto spring = fits_.with_spring(set_, j);
    const auto named = fits_.known_weight(set_);
    if (!spring || !named || spring->ln_weight < *named + std::log(kAsLikely)) return;
    if (spring->ln_weight < *named) {
      cause.or_else.insert(cause.or_else.begin(), spring_of(id(j)));
      return;
    }
    cause.or_else.insert(cause.or_else.begin(), id(j));
    cause.change.id = spring_of(id(j));
    cause.change.change = spring->change;
  }

  // Whether marks tell the height of a support that moved, not only where it stands against the others: they do where it
  // stands out with any mark's height left open.
  [[nodiscard]] bool height_told(int j, const Set& others) const {
    if (!heights_compared_) return false;
    const double alone = around_->single(j, others).value;
    for (int m = 0; m < int(candidates_.size()); ++m) {
      if (id(m).of != UnknownOf::mark_height) continue;
      if (std::abs(alone) < kHeightToldSigmas * around_->single(m, others).sigma) return false;
    }
    return true;
  }

  const SheetWithMore& sheet_;
  const ChangeTests& tests_;
  const std::vector<ChangeCandidate>& candidates_;
  bool heights_compared_;
  LaterFits& fits_;
  std::vector<change::Belief> beliefs_;
  Set set_;  // in order
  std::unique_ptr<change::Changes> around_;
};

}  // namespace

Causes find_causes(LaterFits& fits, const SheetWithMore& sheet, const ChangeTests& tests,
                   bool heights_compared) {
  return CauseSearch(fits, sheet, tests, heights_compared).find();
}

}  // namespace hangtrue::job

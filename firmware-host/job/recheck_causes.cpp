#include "firmware-host/job/recheck_causes.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "core/change/distribution.hpp"
#include "firmware-host/job/recheck_thresholds.hpp"

namespace hangtrue::job {

namespace {

using Set = std::vector<int>;

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

  // Set by set, one change larger each time. Two changes may hide each other: pairs are looked at even where no single one is named.
  void grow() {
    double weight = 0;
    for (int size = 1; size <= change::kMostNamed; ++size) {
      const bool named = name_one_of(heaviest(size), weight);
      if (named ? passes(around_->rest(set_)) : size > 1) return;
    }
  }

  // The heaviest of those whose changes all stand out, if it is likelier enough than what is named already.
  bool name_one_of(const std::vector<change::Weighed>& sets, double& weight) {
    for (const change::Weighed& best : sets) {
      if (!(best.ln_weight > weight - std::log(kAsLikely))) return false;
      auto around = fits_.around(best.set);
      if (!around || !all_significant(*around, best.set)) continue;
      set_ = best.set;
      weight = best.ln_weight;
      around_ = std::move(around);
      return true;
    }
    return false;
  }

  // Fitted in full, the heaviest first. Of sets that differ in the place of an unlisted weight alone the likeliest stands for all.
  std::vector<change::Weighed> heaviest(int size) {
    std::vector<change::Weighed> tried;
    if (size <= kAllSets) tried = tests_.changes().heaviest(size, beliefs_, kFittedInFull);
    if (around_)
      for (change::Weighed& each : around_->heaviest(size, beliefs_, kFittedInFull, set_))
        if (std::none_of(tried.begin(), tried.end(),
                         [&](const change::Weighed& other) { return other.set == each.set; }))
          tried.push_back(std::move(each));
    const auto heavier = [](const change::Weighed& a, const change::Weighed& b) {
      return a.ln_weight > b.ln_weight;
    };
    for (change::Weighed& each : tried) each.ln_weight = fits_.ln_weight(each.set);
    std::stable_sort(tried.begin(), tried.end(), heavier);
    std::vector<Set> known;
    std::erase_if(tried, [&](const change::Weighed& each) {
      Set anywhere = each.set;
      for (int& j : anywhere)
        if (is_weight(j)) j = int(candidates_.size());
      if (std::find(known.begin(), known.end(), anywhere) != known.end()) return true;
      known.push_back(std::move(anywhere));
      return false;
    });
    for (change::Weighed& each : tried) each.ln_weight = weight_of(each.set);
    std::stable_sort(tried.begin(), tried.end(), heavier);
    return tried;
  }

  [[nodiscard]] bool is_weight(int j) const { return id(j).of == UnknownOf::unlisted_load; }

  // ln of the set's weight; with an unlisted weight in it at whatever place, so that it does not count for less the more places it
  // is looked for at.
  double weight_of(const Set& set) {
    const double here = fits_.ln_weight(set);
    const auto weight = std::find_if(set.begin(), set.end(), [&](int j) { return is_weight(j); });
    if (weight == set.end() || !std::isfinite(here)) return here;
    const change::Changes& changes = tests_.changes();
    const double linear = changes.ln_weight(set, beliefs_);
    double sum = 1;
    for (int other = 0; other < int(candidates_.size()); ++other) {
      if (!is_weight(other) || std::find(set.begin(), set.end(), other) != set.end()) continue;
      const Set there = exchanged(set, *weight, other);
      if (changes.ln_weight(there, beliefs_) > linear - kFarBehind)
        sum += std::exp(fits_.ln_weight(there) - here);
    }
    return here + std::log(sum);
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

  static Set exchanged(Set set, int j, int other) {
    set = without(std::move(set), j);
    set.insert(std::upper_bound(set.begin(), set.end(), other), other);
    return set;
  }
  [[nodiscard]] Set with_instead(int j, int other) const { return exchanged(set_, j, other); }

  // How much heavier the set is with another in the place of one.
  [[nodiscard]] double heavier_by(int j, int other) {
    const Set instead = with_instead(j, other);
    const double about =
        std::max(around_->ln_weight(instead, beliefs_) - around_->ln_weight(set_, beliefs_),
                 tests_.changes().ln_weight(instead, beliefs_) - tests_.changes().ln_weight(set_, beliefs_));
    return about < -kFarBehind ? about : weight_of(instead) - weight_of(set_);
  }

  Cause cause(int j) {
    const Set others = without(set_, j);
    Cause cause;
    cause.change = tests_.seen(j, *around_, others);
    if (candidates_[std::size_t(j)].flexibility) {  // left = 1 / (1 + share of the curvature that came)
      const double left = 1 + cause.change.change.value;
      cause.change.change.sigma =
          std::hypot(cause.change.change.sigma, left * (1 - left) * fits_.curvature_sigma(set_, sheet_));
    }
    const beam::Parameter& what = candidates_[std::size_t(j)].unknown.shape;
    if (what.kind == beam::ParameterKind::load && what.index >= sheet_.listed) {
      const auto kind = sheet_.more[std::size_t(what.index - sheet_.listed)].kind;
      cause.not_listed = kind == SheetWithMore::Kind::later || kind == SheetWithMore::Kind::unlisted;
    }
    const bool rise = id(j).of == UnknownOf::move_rise;
    cause.height_told = rise && height_told(j, others);
    list_others(j, cause);
    weigh_spring(j, cause);
    return cause;
  }

  // Another place of an unlisted weight is no other cause.
  void list_others(int j, Cause& cause) {
    std::optional<int> weight;  // the likeliest place of one
    double weight_here = 0;
    for (int other = 0; other < int(candidates_.size()); ++other) {
      if (std::find(set_.begin(), set_.end(), other) != set_.end()) continue;
      const double by = heavier_by(j, other);
      if (!as_good(j, other, by)) continue;
      if (is_weight(other)) {
        const double here = fits_.ln_weight(with_instead(j, other));
        if (!is_weight(j) && (!weight || here > weight_here)) weight = other, weight_here = here;
        continue;
      }
      cause.or_else.push_back(id(other));
      if (is_move(id(other).of) && spring_as_likely(j, other)) cause.or_else.push_back(spring_of(id(other)));
    }
    if (weight) cause.or_else.push_back(id(*weight));
  }

  // `by`: ln of how much likelier the set is with the other in the place of j.
  bool as_good(int j, int other, double by) {
    if (by > std::log(kAsLikely)) return true;
    return by > std::log(kLikelyAtAll) && fits_.misfit(with_instead(j, other)) - fits_.misfit(set_) <
                                              change::chi_squared_quantile(kRecheckConfidence, 1);
  }

  // Whether the spring of another support's move would do in the place of change j.
  bool spring_as_likely(int j, int other) {
    const auto spring = fits_.with_spring(with_instead(j, other), other);
    return spring && spring->ln_weight > fits_.ln_weight(set_) + std::log(kAsLikely);
  }

  void weigh_spring(int j, Cause& cause) {
    if (!is_move(id(j).of)) return;
    const auto spring = fits_.with_spring(set_, j);
    if (!spring || spring->misfit_more > change::chi_squared_quantile(1 - kSpringToldApart, 1)) return;
    if (spring->ln_weight < fits_.ln_weight(set_)) {
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

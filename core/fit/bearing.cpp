#include "core/fit/bearing.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

#include "core/fit/distribution.hpp"
#include "core/fit/fit_math.hpp"
#include "core/fit/thresholds.hpp"

namespace hangtrue::fit {
namespace {

// ln of the standard normal distribution function; far below zero by its asymptotic series.
double log_normal_cdf(double z) {
  if (z > -8) return std::log(normal_cdf(z));
  constexpr double kLogRootTwoPi = 0.91893853320467274;
  return -z * z / 2 - std::log(-z) - kLogRootTwoPi;
}

template <class Scalar>
bool same(const BearingSet<Scalar>& a, const BearingSet<Scalar>& b) {
  return std::equal(std::begin(a.lifted), std::end(a.lifted), std::begin(b.lifted));
}

}  // namespace

template <class Scalar>
std::uint32_t BearingSearch<Scalar>::one_way(int stage) const {
  std::uint32_t found = 0;
  const auto& supports = problem_.run->supports;
  for (std::size_t i = 0; i < supports.size(); ++i)
    if (supports[i].one_way() && supports[i].rise.held &&
        problem_.run->stages[static_cast<std::size_t>(stage)].lists_support(static_cast<int>(i)))
      found |= 1u << i;
  return found;
}

template <class Scalar>
void BearingSearch<Scalar>::propose(const BearingSet<Scalar>& set) {
  const auto known = [&](const BearingSet<Scalar>& other) { return same(set, other); };
  if (count_ == kMostBearingSets || std::any_of(set_, set_ + count_, known)) return;
  if (only_agreeing_ && contradicts(set)) return;
  set_[count_] = set;
  set_[count_++].status = Status::not_run;
}

template <class Scalar>
bool BearingSearch<Scalar>::contradicts(const BearingSet<Scalar>& set) const {
  const std::uint32_t lifted = set.lifted[problem_.stage];
  return (lifted & found_.bears) != 0 || (one_way(problem_.stage) & ~lifted & found_.hangs_free) != 0;
}

// As the sheet has it: the solver stands at the prior after begin().
template <class Scalar>
BearingSet<Scalar> BearingSearch<Scalar>::predicted() {
  BearingSet<Scalar> set;
  for (int stage = 0; stage <= problem_.stage; ++stage) {
    const std::uint32_t choice = one_way(stage);
    for (int i = 0; i < static_cast<int>(problem_.run->supports.size()); ++i)
      if (((choice >> i) & 1u) != 0 && !problem_.solver->support(stage, i).engaged)
        set.lifted[stage] |= 1u << i;
  }
  return set;
}

// Every choice at the survey's stage, by how many supports differ from what is predicted.
template <class Scalar>
void BearingSearch<Scalar>::propose_of_survey(const BearingSet<Scalar>& predicted) {
  if (found_.known_stages > problem_.stage) return propose(predicted);
  const std::uint32_t choice = one_way(problem_.stage);
  const int most = std::popcount(choice);
  for (int changes = 0; changes <= most && count_ < kMostBearingSets; ++changes)
    for (std::uint32_t differ = choice;; differ = (differ - 1) & choice) {
      if (std::popcount(differ) == changes) {
        BearingSet<Scalar> set = predicted;
        set.lifted[problem_.stage] ^= differ;
        propose(set);
      }
      if (differ == 0) break;
    }
}

template <class Scalar>
void BearingSearch<Scalar>::propose_of_former(const BearingSet<Scalar>& set) {
  for (int k = 0; k < doubtfuls_; ++k) {
    BearingSet<Scalar> other = set;
    other.lifted[doubtful_[k].stage] ^= 1u << doubtful_[k].support;
    propose(other);
  }
}

template <class Scalar>
Result<Status, FitFault> BearingSearch<Scalar>::stand_at(const BearingSet<Scalar>& set) {
  std::copy(std::begin(set.lifted), std::end(set.lifted), problem_.base.lifted);
  problem_.base.bearing_given = problem_.stage + 1;
  if (const auto begun = fit_->begin(problem_, storage_); !begun) return begun.fault();
  return fit_->run(readings_, by_hand_, judgements_);
}

// Whether two steps of the fit already leave the set far behind the best after as many. The run is nearly linear in its unknowns:
// further steps change little.
template <class Scalar>
Result<bool, FitFault> BearingSearch<Scalar>::is_hopeless(const BearingSet<Scalar>& set) {
  if (one_way(problem_.stage) == 0) return false;
  const Options<Scalar> options = problem_.options;
  problem_.options = {std::numeric_limits<Scalar>::infinity(), 2};
  const auto ran = stand_at(set);
  problem_.options = options;
  if (!ran) {
    if (ran.fault().code != FitFaultCode::run_not_solvable) return ran.fault();
    return false;  // the whole run says so
  }
  const Scalar weight = fit_->log_evidence(judgements_);
  most_at_once_ = std::max(most_at_once_, weight);
  return weight < most_at_once_ - Scalar(kHopeless);
}

// Fits under that set. One that does not hold the run keeps no weight; one whose fit does not settle has that of where it stands.
template <class Scalar>
Result<Done, FitFault> BearingSearch<Scalar>::weigh(BearingSet<Scalar>& set) {
  set.log_weight = -std::numeric_limits<Scalar>::infinity();
  doubtfuls_ = 0;
  if (found_.known_stages <= problem_.stage) {  // else there is no other to be far behind of
    const auto hopeless = is_hopeless(set);
    if (!hopeless) return hopeless.fault();
    if (hopeless.value()) return Done{};
  }
  const auto ran = stand_at(set);
  if (!ran) {
    if (ran.fault().code != FitFaultCode::run_not_solvable) return ran.fault();
    return Done{};
  }
  set.status = ran.value();
  Scalar weight = fit_->log_evidence(judgements_);
  for (int stage = 0; stage <= problem_.stage; ++stage)
    for (int i = 0; i < static_cast<int>(problem_.run->supports.size()); ++i) {
      if (((one_way(stage) >> i) & 1u) == 0) continue;
      const auto contact = fit_->contact(stage, i);
      if (!contact) return contact.fault();
      const auto& at = contact.value();
      // A contact that nothing can move is as it is: on its edge, within rounding, both hold.
      const bool sure = !(at.sigma > kRoundingOfContact<Scalar>);
      const double normalised =
          sure ? (at.margin >= -kRoundingOfContact<Scalar> ? 40 : -40) : double(at.margin / at.sigma);
      const double log_chance = log_normal_cdf(normalised);
      weight += Scalar(log_chance);
      if (stage >= found_.known_stages && stage < problem_.stage && log_chance < std::log(kSureContact))
        doubtful_[doubtfuls_++] = {stage, i};
      if (stage != problem_.stage) continue;
      const bool against = (((at.bears ? found_.hangs_free : found_.bears) >> i) & 1u) != 0;
      if (against) weight += Scalar(std::log(kLeastSetProbability));
    }
  set.log_weight = weight;
  return Done{};
}

template <class Scalar>
Result<Status, FitFault> BearingSearch<Scalar>::search(Fit<Scalar>& fit, const Problem<Scalar>& problem,
                                                       std::span<Scalar> storage,
                                                       std::span<const survey::Reading<Scalar>> readings,
                                                       std::span<const std::uint8_t> by_hand,
                                                       std::span<Judgement<Scalar>> judgements,
                                                       BearingFound found, bool found_first) {
  fit_ = &fit;
  problem_ = problem;
  storage_ = storage;
  readings_ = readings;
  by_hand_ = by_hand;
  judgements_ = judgements;
  found_ = found;

  const auto begun = fit.begin(problem, storage);
  BearingSet<Scalar> first;
  if (begun)
    first = predicted();
  else if (begun.fault().code != FitFaultCode::run_not_solvable)
    return begun.fault();
  // At the likeliest. Of one set alone the fit still stands as it was weighed.
  const auto stand = [&] {
    return weighed_ == 1 ? Result<Status, FitFault>(set_[0].status) : stand_at(set_[0]);
  };
  only_agreeing_ = found_first && (found.bears | found.hangs_free) != 0;
  if (const auto weighed = weigh_all(first); !weighed) return weighed.fault();
  if (only_agreeing_) {
    if (count_ > 0) {
      const auto stood = stand();
      if (!stood || holds_as_found()) return stood;
    }
    only_agreeing_ = false;
    if (const auto weighed = weigh_all(first); !weighed) return weighed.fault();
  }
  if (count_ == 0) {  // no set holds the run
    if (!begun) return begun.fault();
    return stand_at(first);
  }
  return stand();
}

// Of all sets, or of those alone that agree with what was found; then concludes.
template <class Scalar>
Result<Done, FitFault> BearingSearch<Scalar>::weigh_all(const BearingSet<Scalar>& predicted) {
  count_ = weighed_ = 0;
  most_at_once_ = -std::numeric_limits<Scalar>::infinity();
  BearingSet<Scalar> first = predicted;
  const int known = std::min(found_.known_stages, problem_.stage + 1);
  std::copy_n(found_.lifted, known, first.lifted);
  propose_of_survey(first);
  for (int stage = known; stage < problem_.stage; ++stage) first.lifted[stage] = 0;
  propose_of_survey(first);  // and with all of the former stages bearing
  Scalar most = -std::numeric_limits<Scalar>::infinity();
  for (weighed_ = 0; weighed_ < count_; ++weighed_) {
    BearingSet<Scalar>& set = set_[weighed_];
    if (const auto weighed = weigh(set); !weighed) return weighed.fault();
    if (!(set.log_weight > most + Scalar(std::log(kLeastSetProbability)))) continue;
    most = std::max(most, set.log_weight);
    propose_of_former(set);
  }
  conclude();
  return Done{};
}

// Whether the fit as it stands holds, and no contact of the survey's stage is unlikely.
template <class Scalar>
bool BearingSearch<Scalar>::holds_as_found() {
  if (fit_->self_test().outcome != TestOutcome::holds) return false;
  const std::uint32_t choice = one_way(problem_.stage);
  for (int i = 0; i < static_cast<int>(problem_.run->supports.size()); ++i) {
    if (((choice >> i) & 1u) == 0) continue;
    const auto contact = fit_->contact(problem_.stage, i);
    if (!contact || contact.value().margin < -kUnlikelyContact * contact.value().sigma) return false;
  }
  return true;
}

// Those that settled, the likeliest first, with their probabilities.
template <class Scalar>
void BearingSearch<Scalar>::conclude() {
  BearingSet<Scalar>* const end = std::remove_if(
      set_, set_ + weighed_, [](const BearingSet<Scalar>& set) { return !std::isfinite(set.log_weight); });
  count_ = static_cast<int>(end - set_);
  std::sort(set_, set_ + count_, [](const auto& a, const auto& b) { return a.log_weight > b.log_weight; });
  Scalar sum = 0;
  for (int k = 0; k < count_; ++k)
    sum += set_[k].probability = std::exp(set_[k].log_weight - set_[0].log_weight);
  for (int k = 0; k < count_; ++k) set_[k].probability /= sum;
}

template class BearingSearch<double>;
template class BearingSearch<float>;

}  // namespace hangtrue::fit

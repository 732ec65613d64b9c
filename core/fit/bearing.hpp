// bearing.hpp: which one-way supports bear, at the survey's stage and before it.
//
// Model       A set says of every stage up to the survey's which of its one-way supports do not bear. Given a set the run is
//             linear, and so is the fit. What bears follows from the unknowns themselves, so that a set needs no prior of its
//             own; its weight is
//                 p(readings | set) * P(the set is an equilibrium | readings, set),
//             the first the evidence of the fit under that set, the second the chance that forces push and gaps are open,
//             each from its mean and sigma, taken as independent.
// Search      All sets of the survey's stage that hold the run, those nearest to what the sheet predicts first; of former
//             stages single changes to the likelier sets wherever a contact is not sure. At most kMostBearingSets fits. Of stages
//             whose set is known no other is tried.
// Evidence    A person who tried a nut: a set that contradicts that is kLeastSetProbability times as likely. On request it is tried
//             only where none that agrees fits.
// After       search() the fit stands at the likeliest set, run with the judgements given back.
// Memory      no heap; the fit's own and this object's (3 KB).
// Source      evidence of a truncated Gaussian: D. J. C. MacKay, Information Theory, Inference, and Learning Algorithms,
//             Cambridge University Press 2003, chapter 28 (from memory).
#pragma once

#include <cstdint>
#include <span>

#include "core/fit/fit.hpp"

namespace hangtrue::fit {

/// A set is left after two steps of its fit where its evidence is behind by so much, in ln: far beyond kLeastSetProbability.
inline constexpr double kHopeless = 1000;
/// A contact that is so many sigmas on the wrong side is unlikely. No source: the usual 1 of 20, one-sided.
inline constexpr double kUnlikelyContact = 1.645;

template <class Scalar>
struct BearingSet {
  std::uint32_t lifted[kMaxStages] = {};  // by stage, up to the survey's
  Scalar log_weight = 0;
  Scalar probability = 0;  // among the sets that were tried
  Status status = Status::not_run;
};

/// What a person found at the survey's stage, a bit a support; and what is known of the first stages, which are not looked into.
struct BearingFound {
  std::uint32_t bears = 0, hangs_free = 0;
  int known_stages = 0;                   // so many; more than the survey's: there is one set
  std::uint32_t lifted[kMaxStages] = {};  // by stage: what did not bear
};

template <class Scalar>
class BearingSearch {
 public:
  /// `problem` as for Fit::begin(); its base says nothing of bearing sets. Where the sheet has no one-way support up to the
  /// survey's stage there is one set, the empty one.
  [[nodiscard]] Result<Status, FitFault> search(Fit<Scalar>& fit, const Problem<Scalar>& problem,
                                                std::span<Scalar> storage,
                                                std::span<const survey::Reading<Scalar>> readings,
                                                std::span<const std::uint8_t> by_hand,
                                                std::span<Judgement<Scalar>> judgements, BearingFound found,
                                                bool found_first = false);

  /// The sets that were tried and hold the run, the likeliest first; the first is the one that the fit stands at.
  [[nodiscard]] std::span<const BearingSet<Scalar>> sets() const {
    return {set_, static_cast<std::size_t>(count_)};
  }

  /// The fit brought to another of them.
  [[nodiscard]] Result<Status, FitFault> stand_at(const BearingSet<Scalar>& set);

 private:
  struct Doubtful {
    int stage, support;
  };
  void propose(const BearingSet<Scalar>& set);
  void propose_of_survey(const BearingSet<Scalar>& predicted);
  void propose_of_former(const BearingSet<Scalar>& set);
  [[nodiscard]] BearingSet<Scalar> predicted();
  [[nodiscard]] std::uint32_t one_way(int stage) const;
  Result<bool, FitFault> is_hopeless(const BearingSet<Scalar>& set);
  Result<Done, FitFault> weigh(BearingSet<Scalar>& set);
  Result<Done, FitFault> weigh_all(const BearingSet<Scalar>& predicted);
  [[nodiscard]] bool contradicts(const BearingSet<Scalar>& set) const;
  [[nodiscard]] bool holds_as_found();
  void conclude();

  Fit<Scalar>* fit_ = nullptr;
  Problem<Scalar> problem_;
  std::span<Scalar> storage_;
  std::span<const survey::Reading<Scalar>> readings_;
  std::span<const std::uint8_t> by_hand_;
  std::span<Judgement<Scalar>> judgements_;
  BearingFound found_;
  bool only_agreeing_ = false;  // propose nothing that contradicts it
  BearingSet<Scalar> set_[kMostBearingSets];
  int count_ = 0;                                 // proposed
  int weighed_ = 0;                               // of those, in their order
  Doubtful doubtful_[kMaxSupports * kMaxStages];  // contacts of the set weighed last that are not sure
  int doubtfuls_ = 0;
  Scalar most_at_once_ = 0;  // best evidence after two steps
};

}  // namespace hangtrue::fit

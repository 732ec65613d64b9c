// later_fits.hpp: the later of two surveys, weighed with sets of changes between them.
//
// Model    What the earlier survey taught of the run is linear about its estimate; so it stays: readings that came later must not
//          make it what the earlier ones would not bear. With u the run's unknowns (sigma 1 each, less what is expected of them) and
//          c the changes the later readings are
//              y = A u + D c + sum over j of c_j B_j u + noise,
//          each divided by its sigma: exact in the changes, which what is unknown of stiffness, springs and loads multiplies, so
//          that a large change is no surer than those are. A set is fitted by Gauss and Newton's steps in u and c; its evidence is
//          Laplace's. B_j comes from the solver, once for a change.
// Springs  multiply a force, and are solved anew at every step.
// Units    SI, rad; sigma is one standard deviation. Weights are ln.
// Source   D. J. C. MacKay, Information Theory, Inference, and Learning Algorithms, 2003, ch. 27 (Laplace), ch. 28 (evidence).
//          From memory.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "firmware-host/job/change_candidates.hpp"

namespace hangtrue::job {

class LaterFits {
 public:
  /// `session`: the later survey's fit, by the sheet that has the candidates' loads; its bearing set and the readings that it set
  /// aside stand. Both must outlive this.
  LaterFits(SurveyFit& session, const std::vector<ChangeCandidate>& candidates);
  ~LaterFits();
  LaterFits(const LaterFits&) = delete;
  LaterFits& operator=(const LaterFits&) = delete;

  /// The tests of all changes, linearised where nothing changed: at what the earlier survey left. Nothing where that cannot be.
  [[nodiscard]] std::unique_ptr<change::Changes> at_no_change();
  /// The same, linearised where these are fitted.
  [[nodiscard]] std::unique_ptr<change::Changes> around(const std::vector<int>& set);
  /// How much likelier the set makes the readings than no change does, times the odds of its changes; -infinity where one of them
  /// cannot be.
  [[nodiscard]] double ln_weight(const std::vector<int>& set);
  /// Chi-squared that the set leaves, what is known of the run included and the changes' own priors not.
  [[nodiscard]] double misfit(const std::vector<int>& set);
  /// ln of how likely the survey's readings are with this set of changes, theirs beforehand included; and that the one-way
  /// supports then bear as the fit has them. To be compared between fits of the same readings.
  [[nodiscard]] double ln_likely(const std::vector<int>& set);
  /// The run with this set of changes; the solver of the survey's fit is then solved for it. Nothing where that cannot be.
  [[nodiscard]] std::optional<beam::State<double>> stand_at(const std::vector<int>& set);
  /// Sigma of ln of the curvature that the run has by its loads, with this set of changes: loads counted by their weight. What is
  /// said of a softer run is a share of that curvature, and no surer. 0 where that cannot be.
  [[nodiscard]] double curvature_sigma(const std::vector<int>& set, const SheetWithMore& sheet);
  /// The set with the spring of move `j` softer in the place of that move: no spring becomes stiffer by itself, and none softer than
  /// by kLargestSpringFactor.
  struct Spring {
    Quantity change;
    double ln_weight = 0;
    double misfit_more = 0;  // than misfit() of the set
  };
  [[nodiscard]] std::optional<Spring> with_spring(const std::vector<int>& set, int j);
  /// The share of the expected drift, less 1, beside supports and marks of `named` that moved; a softer beam or a heavier load
  /// would be the creep itself. Linearised where nothing changed. Not seen where none is expected.
  [[nodiscard]] change::Single drift_share(const std::vector<int>& named);

 private:
  struct Work;
  std::unique_ptr<Work> work_;
};

}  // namespace hangtrue::job

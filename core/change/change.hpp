// change.hpp: what moved between two surveys: a global test, then single changes, and what could have been seen.
//
// Model     The later survey's readings are y = A x + D c + noise, x whatever is not a change (shape as the earlier survey
//           left it, datums, zero errors; all with what is known of them), c the changes. With x taken out,
//               information G = D' S^-1 D,   right side g = D' S^-1 v,
//           v the readings less what the earlier survey makes expected, S their covariance: g has mean G c and covariance
//           G. Nothing is assumed of c.
// Global    (congruence) H0: c = 0. T = g' G^+ g over the directions of c that can be seen is chi-squared with as many
//           degrees of freedom. A direction counts as seen where it would be known better than what was called wide.
// Weight    of a set of changes: how much likelier it makes what was read than no change does, times the odds that they happen
//           at all. The size of each that happened is taken as normal about nothing, its sigma and odds given (Belief): what a
//           change would have to be counts. Gaussian evidence, closed form.
// Single    change j beside those of a set that are taken to be: value and sigma by least squares, normal test, two-sided.
// Many      Of k changes looked at, the chance that chance alone makes any as significant is at most 1 - (1 - p)^k.
// Smallest  movement that is found with a given power: by the global test (non-central chi-squared) and by its own
//           corrected test; the greater of the two.
// Units     those of the changes; scaled by what is called wide inside.
// Where     on the host alone: on the heap, and by Eigen's decompositions and Boost.Math.
// Source    H. Pelzer, Zur Analyse geodaetischer Deformationsmessungen, 1971 (congruence test); W. Baarda, A testing
//           procedure for use in geodetic networks, 1968 (single alternatives, smallest detectable); Z. Sidak,
//           Rectangular confidence regions, JASA 62 (1967) 626-633 (many, whatever their correlation); D. J. C. MacKay,
//           Information Theory, Inference, and Learning Algorithms, 2003, ch. 28 (weight, the Occam factor). From memory.
#pragma once

#include <Eigen/Core>
#include <limits>
#include <span>
#include <vector>

#include "core/change/distribution.hpp"
#include "core/change/thresholds.hpp"
#include "core/quantity/limits.hpp"

namespace hangtrue::change {

inline constexpr int kMaxChanges = kMaxUnknowns;

struct GlobalTest {
  double statistic = 0;
  int degrees_of_freedom = 0;  // 0: nothing could be seen
  double p_value = 1;
};

struct Single {
  bool seen = false;  // known better than what was called wide; else nothing below is valid
  double value = 0, sigma = 0;
  double p_value = 1;  // by itself, two-sided
};

/// What is known of a change before anything is read.
struct Belief {
  double sigma = 0;  // of its size where it happened, > 0; in the change's own units
  double ln_odds_more =
      0;  // ln of how likely it is to happen, against nothing happening: where it is positive
  double ln_odds_less = 0;  // likewise where it is negative; -infinity: it cannot be
  double least = -std::numeric_limits<double>::infinity();  // it cannot be less than this

  [[nodiscard]] double ln_odds(double size) const {
    if (size < least) return -std::numeric_limits<double>::infinity();
    return size > 0 ? ln_odds_more : ln_odds_less;
  }
};

/// A set of changes and its weight, in ln; no change weighs 0.
struct Weighed {
  std::vector<int> set;
  double ln_weight = 0;
};

/// 1 - (1 - p)^looked_at, exact for small p.
[[nodiscard]] double corrected(double p_value, int looked_at);

class Changes {
 public:
  /// triangle: count rows of count entries, R with R'R the information over the changes, each in units of its prior's
  /// sigma, that prior (mean 0, sigma 1) included; right: R times the estimate. As InformationFilter gives them after the
  /// other unknowns were taken out. False where count is none or too many, or a number is not finite.
  [[nodiscard]] bool begin(int count, std::span<const double> wide, std::span<const double> prior,
                           std::span<const double> triangle, std::span<const double> right);
  /// The same where the priors are as wide.
  [[nodiscard]] bool begin(int count, std::span<const double> wide, std::span<const double> triangle,
                           std::span<const double> right) {
    return begin(count, wide, wide, triangle, right);
  }

  [[nodiscard]] int count() const { return count_; }
  [[nodiscard]] GlobalTest global() const { return rest({}); }
  /// How many of them can be seen by themselves.
  [[nodiscard]] int looked_at() const { return looked_at_; }
  /// Change j beside those in `beside` (which hold whatever they are).
  [[nodiscard]] Single single(int j, std::span<const int> beside = {}) const;
  /// Of what is left once `beside` are allowed.
  [[nodiscard]] GlobalTest rest(std::span<const int> beside) const;
  /// Cosine between what two changes do to the readings: 1 or -1, and nothing tells them apart. 0 where one is not seen.
  [[nodiscard]] double likeness(int i, int j) const;
  /// Chi-squared that the set explains.
  [[nodiscard]] double explains(std::span<const int> set) const;
  /// In its own sigmas, the size of a change that is found with `power` by a global test at 1 - confidence and named at the
  /// same, corrected. Infinite where nothing is seen.
  [[nodiscard]] double detectable_sigmas(double confidence, double power) const;
  /// That size of change j; infinite where it is not seen.
  [[nodiscard]] double smallest_detectable(int j, double confidence, double power) const;

  /// Weight of a set (at most kMostNamed), in ln; -infinity where one of them would have to be what it cannot be. One belief a
  /// change.
  [[nodiscard]] double ln_weight(std::span<const int> set, std::span<const Belief> beliefs) const;
  /// The sets of `size` that weigh most, the heaviest first, at most `most`; with `holding` those that hold all of these.
  [[nodiscard]] std::vector<Weighed> heaviest(int size, std::span<const Belief> beliefs, std::size_t most,
                                              std::span<const int> holding = {}) const;

 private:
  struct Left {
    double information, right;
  };
  [[nodiscard]] Left left(int j, std::span<const int> beside) const;

  int count_ = 0, looked_at_ = 0;
  double statistic_ = 0;
  Eigen::VectorXd wide_, right_;  // right_: g, scaled
  Eigen::MatrixXd information_;   // G, scaled
  Eigen::MatrixXd seen_;  // a row each: a direction that can be seen, over the root of its information
};

}  // namespace hangtrue::change

// repeatability.hpp: what repeated values say of an instrument: how much it scatters, whether that is what was
// stated, and by how much it reads too much.
//
// Pooling  values of one group were read under the same conditions; s^2 = sum over groups of sum (value - mean of its
//          group)^2 / nu, nu = values less groups: what the mean of each group's own variance is, weighted by its
//          degrees of freedom (JCGM 100:2008, 4.2.4 and H.5.2.2).
// Tests    the questions that the field procedures of ISO 17123 ask at a confidence of 0.95 (part 1: theory; part 2,
//          levels; part 6, rotating lasers; worded alike in part 7):
//            a) is the experimental standard deviation within a stated one?     s <= sigma sqrt(chi2_0.95(nu) / nu)
//            b) do two of them belong to one population?                        s1^2 / s2^2 within F_0.975, both ways
//            c) is an offset (zero, tilt) zero, or what it was?                 |d| <= t_0.975(nu) s_d; normal where
//                                                                               sigma_d is stated
//          Questions a, b and d (here c): ISO 17123-7. Formulas, and parts 1, 2 and 6: from memory, not checked.
//          The procedures here are shorter than the standard's (its part 2 asks for 40 readings): same statistics, no
//          claim of a test after ISO 17123.
// Stated   a stated sigma is believed as if it had been found with kStatedFreedom degrees of freedom: the belief that
//          it is right to about a third of itself (JCGM 100:2008, G.4.2, (G.3): nu = (du / u)^-2 / 2 = 4 at du / u =
//          0.35). Three rounds alone (2 degrees of freedom) may by chance scatter by next to nothing, or by twice what
//          the instrument does; so the variance of one round is pooled,
//            (kStatedFreedom * stated^2 + (rounds - 1) * scatter^2) / (kStatedFreedom + rounds - 1),
//          and never taken below stated^2: a lucky scatter buys nothing. Where test a refutes the stated sigma it is
//          not pooled with alone: sigma is then at least t_0.975(rounds - 1) / 1.96 * scatter, so that two sigma still
//          hold what two sigma should. By simulation 95 to 96 % of the checks then hold the truth within 1.96 sigma
//          where the stated sigma is right; where an instrument scatters twice as much as stated 0.68 with one round,
//          0.83 with 2, 0.89 with 3, 0.94 with 6, 0.95 with 12.
// Units    of the values, whatever they are; sigma is one standard deviation. No heap, no exceptions.
#pragma once

#include <cstdint>
#include <limits>
#include <span>

#include "core/fit/thresholds.hpp"

namespace hangtrue::fit {

/// Pooled experimental standard deviation of one value.
struct Scatter {
  double sigma = 0;  // 0 without degrees of freedom
  int groups = 0;    // of two values or more
  int degrees_of_freedom = 0;
};
class PooledScatter {
 public:
  /// The values of one group, all finite. A group of one says nothing.
  void add(std::span<const double> group);
  /// A sum of squares known otherwise, with its degrees of freedom (> 0).
  void add(double sum_of_squares, int degrees_of_freedom);
  [[nodiscard]] Scatter scatter() const;

 private:
  double squares_ = 0;
  int groups_ = 0, degrees_of_freedom_ = 0;
};

enum class ScatterVerdict : std::uint8_t {
  not_tested,         // no degrees of freedom, or no stated sigma: p_value 1
  as_stated,          // p_value >= 1 - confidence
  larger_than_stated  // p_value < 1 - confidence
};
struct ScatterTest {
  ScatterVerdict verdict = ScatterVerdict::not_tested;
  double p_value = 1;     // chance of this much scatter, or more, when the stated sigma is right
  double most_sigma = 0;  // greatest experimental sigma that still is as stated
};
/// Question a. stated_sigma > 0.
[[nodiscard]] ScatterTest test_scatter(const Scatter& found, double stated_sigma,
                                       double confidence = kFieldConfidence);

enum class SameScatterVerdict : std::uint8_t {
  not_tested,    // one of them without degrees of freedom, or both 0
  same,          // p_value >= 1 - confidence
  first_larger,  // p_value < 1 - confidence
  second_larger
};
struct SameScatterTest {
  SameScatterVerdict verdict = SameScatterVerdict::not_tested;
  double p_value = 1;  // two-sided: chance that two samples of one population differ by so much, or more
};
/// Question b.
[[nodiscard]] SameScatterTest test_same_scatter(const Scatter& first, const Scatter& second,
                                                double confidence = kFieldConfidence);

enum class OffsetVerdict : std::uint8_t {
  not_tested,  // sigma not above 0, or no degrees of freedom
  none,        // p_value >= 1 - confidence
  significant  // p_value < 1 - confidence
};
struct OffsetTest {
  OffsetVerdict verdict = OffsetVerdict::not_tested;
  double p_value = 1;  // two-sided: chance of an offset of this size, or more, when the truth is 0
};
/// Question c, of an offset, or of the difference of two (sigma of the difference then). Normal unless degrees of
/// freedom are given.
[[nodiscard]] OffsetTest test_offset(double offset, double sigma,
                                     double degrees_of_freedom = std::numeric_limits<double>::infinity(),
                                     double confidence = kFieldConfidence);

/// What a check found.
struct Checked {
  double value = 0;
  double sigma = 0;  // of value, see "Stated" above; 0: nothing was checked
  int rounds = 0;
  Scatter of_readings;  // of single values about the mean of those of their kind (face, or place and set-up)
  ScatterTest repeatability;  // question a of that
};

/// The zero error of a slope or roll channel from readings of one place on both faces, round by round.
/// Model  value = face * truth + zero (core/survey/reading.hpp), so zero = (face_1 + face_2) / 2 in each round,
///        whatever the place; variance stated_sigma^2 / 2 a round.
/// face_1, face_2: as many, at least one round; stated_sigma > 0 of one reading.
[[nodiscard]] Checked zero_by_faces(std::span<const double> face_1, std::span<const double> face_2,
                                    double stated_sigma);

/// The tilt that a laser itself gives its plane, from readings of two places from two set-ups, round by round.
/// Model  value = height - (datum height + datum tilt * x) (core/survey/reading.hpp). The laser stands beyond the start
///        for set-up 1 and beyond the end for set-up 2, turned about, the same side of it towards the run; its own tilt
///        c, positive where the plane climbs away from the laser, is then a datum tilt of +c in set-up 1 and of -c in
///        set-up 2. With L = far - near and H the climb of the run between them
///          far_1 - near_1 = H - c L,   far_2 - near_2 = H + c L,
///          c = ((far_1 - near_1) - (far_2 - near_2)) / (-2 L)
///        in each round, whatever the run's shape, the heights of the laser and the zero of what reads; variance
///        stated_sigma^2 / L^2 a round. How well the laser levels itself anew shows in the scatter, where it was made
///        to between the rounds.
/// far_m > near_m; four spans of as many values, at least one round; stated_sigma > 0 of one reading, m.
[[nodiscard]] Checked tilt_by_set_ups(double near_m, double far_m, std::span<const double> near_1,
                                      std::span<const double> far_1, std::span<const double> near_2,
                                      std::span<const double> far_2, double stated_sigma);

/// Sigma of what the mean of `rounds` values is, one of which is stated to have `stated_sigma`: see "Stated" above.
[[nodiscard]] double sigma_of_mean(const Scatter& of_rounds, int rounds, double stated_sigma,
                                   bool stated_is_refuted);

}  // namespace hangtrue::fit

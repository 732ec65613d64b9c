#include "core/fit/repeatability.hpp"

#include <algorithm>
#include <cmath>

#include "core/fit/distribution.hpp"

namespace hangtrue::fit {

void PooledScatter::add(std::span<const double> group) {
  if (group.size() < 2) return;
  double mean = 0;
  for (const double value : group) mean += value / double(group.size());
  double squares = 0;
  for (const double value : group) squares += (value - mean) * (value - mean);
  add(squares, static_cast<int>(group.size()) - 1);
}

void PooledScatter::add(double sum_of_squares, int degrees_of_freedom) {
  squares_ += sum_of_squares;
  degrees_of_freedom_ += degrees_of_freedom;
  ++groups_;
}

Scatter PooledScatter::scatter() const {
  if (degrees_of_freedom_ == 0) return {};
  return {std::sqrt(squares_ / degrees_of_freedom_), groups_, degrees_of_freedom_};
}

ScatterTest test_scatter(const Scatter& found, double stated_sigma, double confidence) {
  const int freedom = found.degrees_of_freedom;
  if (freedom <= 0 || !(stated_sigma > 0)) return {};
  const double ratio = found.sigma / stated_sigma;
  ScatterTest test;
  test.p_value = chi_squared_tail(freedom * ratio * ratio, freedom);
  test.most_sigma = stated_sigma * std::sqrt(chi_squared_quantile(confidence, freedom) / freedom);
  test.verdict =
      test.p_value < 1 - confidence ? ScatterVerdict::larger_than_stated : ScatterVerdict::as_stated;
  return test;
}

SameScatterTest test_same_scatter(const Scatter& first, const Scatter& second, double confidence) {
  if (first.degrees_of_freedom <= 0 || second.degrees_of_freedom <= 0 ||
      !(first.sigma > 0 || second.sigma > 0))
    return {};
  const double ratio = first.sigma / second.sigma;  // infinite where the second is 0
  const double above = f_tail(ratio * ratio, first.degrees_of_freedom, second.degrees_of_freedom);
  SameScatterTest test;
  test.p_value = std::min(1.0, 2 * std::min(above, 1 - above));
  if (test.p_value >= 1 - confidence)
    test.verdict = SameScatterVerdict::same;
  else
    test.verdict = above < 0.5 ? SameScatterVerdict::first_larger : SameScatterVerdict::second_larger;
  return test;
}

OffsetTest test_offset(double offset, double sigma, double degrees_of_freedom, double confidence) {
  if (!(sigma > 0) || !(degrees_of_freedom > 0)) return {};
  OffsetTest test;
  test.p_value = 2 * t_tail(std::abs(offset) / sigma, degrees_of_freedom);
  test.verdict = test.p_value < 1 - confidence ? OffsetVerdict::significant : OffsetVerdict::none;
  return test;
}

double sigma_of_mean(const Scatter& of_rounds, int rounds, double stated_sigma, bool stated_is_refuted) {
  const double freedom = of_rounds.degrees_of_freedom;
  const double squares =
      kStatedFreedom * stated_sigma * stated_sigma + freedom * of_rounds.sigma * of_rounds.sigma;
  double sigma = std::max(stated_sigma, std::sqrt(squares / (kStatedFreedom + freedom)));
  if (stated_is_refuted && freedom > 0) {
    const double infinite = std::numeric_limits<double>::infinity();
    sigma = std::max(sigma,
                     of_rounds.sigma * t_quantile(kTwoSided95, freedom) / t_quantile(kTwoSided95, infinite));
  }
  return sigma / std::sqrt(double(rounds));
}

namespace {

// One round after the other: mean and scatter of what `of_round` makes of it.
template <class OfRound>
Checked over_rounds(int rounds, const OfRound& of_round, double stated_of_round,
                    std::span<const std::span<const double>> readings, double stated_sigma) {
  Checked checked;
  checked.rounds = rounds;
  for (int i = 0; i < rounds; ++i) checked.value += of_round(static_cast<std::size_t>(i)) / rounds;
  double squares = 0;
  for (int i = 0; i < rounds; ++i) {
    const double off = of_round(static_cast<std::size_t>(i)) - checked.value;
    squares += off * off;
  }
  PooledScatter of_rounds, of_readings;
  if (rounds > 1) of_rounds.add(squares, rounds - 1);
  for (const std::span<const double> group : readings) of_readings.add(group);
  checked.of_readings = of_readings.scatter();
  checked.repeatability = test_scatter(checked.of_readings, stated_sigma);
  checked.sigma = sigma_of_mean(of_rounds.scatter(), rounds, stated_of_round,
                                checked.repeatability.verdict == ScatterVerdict::larger_than_stated);
  return checked;
}

}  // namespace

Checked zero_by_faces(std::span<const double> face_1, std::span<const double> face_2, double stated_sigma) {
  const std::span<const double> groups[] = {face_1, face_2};
  const auto zero = [&](std::size_t round) { return (face_1[round] + face_2[round]) / 2; };
  return over_rounds(static_cast<int>(face_1.size()), zero, stated_sigma / std::sqrt(2.0), groups,
                     stated_sigma);
}

Checked tilt_by_set_ups(double near_m, double far_m, std::span<const double> near_1,
                        std::span<const double> far_1, std::span<const double> near_2,
                        std::span<const double> far_2, double stated_sigma) {
  const double apart = far_m - near_m;
  const std::span<const double> groups[] = {near_1, far_1, near_2, far_2};
  const auto tilt = [&](std::size_t round) {
    return ((far_1[round] - near_1[round]) - (far_2[round] - near_2[round])) / (-2 * apart);
  };
  return over_rounds(static_cast<int>(near_1.size()), tilt, stated_sigma / apart, groups, stated_sigma);
}

}  // namespace hangtrue::fit

// The information filter beside Ceres, Eigen's QR and the plainest Givens update.
#include "tests/benchmark/filter.hpp"

#include <benchmark/benchmark.h>

#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>

#include "core/fit/information_filter.hpp"
#include "tests/benchmark/side_by_side.hpp"

namespace hangtrue::bench {

namespace {

constexpr int kReadings = 1'000;
constexpr double kPriorSigma = 10, kSigma = 0.03;

/// A prior and kReadings readings, all unknowns in every reading: the dearest case for the filter.
Readings make_readings() {
  std::mt19937_64 random(1);
  std::normal_distribution<double> normal;
  Row24 truth;
  for (double& each : truth) each = normal(random);
  Readings readings;
  for (int i = 0; i < kUnknowns; ++i) {
    Row24 row{};
    row[std::size_t(i)] = 1 / kPriorSigma;
    readings.row.push_back(row);
    readings.value.push_back(0);
  }
  for (int reading = 0; reading < kReadings; ++reading) {
    Row24 row;
    double value = kSigma * normal(random);
    for (int i = 0; i < kUnknowns; ++i) {
      row[std::size_t(i)] = normal(random);
      value += row[std::size_t(i)] * truth[std::size_t(i)];
    }
    for (double& each : row) each /= kSigma;
    readings.row.push_back(row);
    readings.value.push_back(value / kSigma);
  }
  return readings;
}

class Filter {
 public:
  explicit Filter(const Readings& readings) : readings_(readings) { restart(); }
  void restart() {
    const std::vector<double> mean(kUnknowns, 0.0), sigma(kUnknowns, kPriorSigma);
    filter_.start(mean, sigma);
    next_ = kUnknowns;
  }
  void add() {
    filter_.add(readings_.row[next_], readings_.value[next_], 1.0);
    if (++next_ == readings_.row.size()) next_ = kUnknowns;
  }
  void answer() {
    if (!filter_.answer(x_)) x_.fill(NAN);
    benchmark::DoNotOptimize(x_);
  }
  [[nodiscard]] const Row24& x() const { return x_; }

 private:
  const Readings& readings_;
  fit::InformationFilter<double, kUnknowns> filter_;
  std::size_t next_ = kUnknowns;
  Row24 x_{};
};

/// The plainest Givens row update: [R | z] row-major, one rotation a column, no answer.
class Givens {
 public:
  explicit Givens(const Readings& readings) : readings_(readings) {
    for (int i = 0; i < kUnknowns; ++i) r_[i][i] = 1 / kPriorSigma;
  }
  void add() {
    double row[kUnknowns + 1];
    std::copy(readings_.row[next_].begin(), readings_.row[next_].end(), row);
    row[kUnknowns] = readings_.value[next_];
    for (int k = 0; k < kUnknowns; ++k) {
      const double length = std::sqrt(r_[k][k] * r_[k][k] + row[k] * row[k]);
      const double c = r_[k][k] / length, s = row[k] / length;
      for (int j = k; j <= kUnknowns; ++j) {
        const double kept = r_[k][j];
        r_[k][j] = c * kept + s * row[j];
        row[j] = c * row[j] - s * kept;
      }
    }
    benchmark::DoNotOptimize(r_);
    if (++next_ == readings_.row.size()) next_ = kUnknowns;
  }

 private:
  const Readings& readings_;
  double r_[kUnknowns][kUnknowns + 1] = {};
  std::size_t next_ = kUnknowns;
};

Row24 solve_with_qr(const Readings& readings) {
  const auto rows = Eigen::Index(readings.row.size());
  const Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, kUnknowns, Eigen::RowMajor>> matrix(
      readings.row.front().data(), rows, kUnknowns);
  const Eigen::Map<const Eigen::VectorXd> value(readings.value.data(), rows);
  Row24 x;
  Eigen::Map<Eigen::Matrix<double, kUnknowns, 1>>(x.data()) =
      Eigen::HouseholderQR<Eigen::Matrix<double, Eigen::Dynamic, kUnknowns>>(matrix).solve(value);
  return x;
}

double difference(const Row24& a, const Row24& b) {
  double largest = 0, scale = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    largest = std::max(largest, std::abs(a[i] - b[i]));
    scale = std::max(scale, std::abs(b[i]));
  }
  return largest / scale;
}

std::string show(double error) {
  char text[32];
  std::snprintf(text, sizeof text, "%.0e", error);
  return text;
}

}  // namespace

void filter() {
  print_heading(
      "Filter: one reading enters, 24 unknowns, all of them in every reading",
      {"Ours: add() and answer(), the 1,001st reading and on. Error: greatest difference after 1,000 "
       "readings.",
       "Ceres: builds the problem of 1,000 readings and a prior anew, DENSE_QR, one iteration, written "
       "derivatives.",
       "Eigen: HouseholderQR of the same 1,024 rows.", "Bare Givens: a plain row-major loop, no answer."});
  const Readings readings = make_readings();
  Filter ours(readings);
  for (int i = 0; i < kReadings; ++i) ours.add();
  ours.answer();
  const Row24 x = ours.x(), by_ceres = solve_with_ceres(readings), by_qr = solve_with_qr(readings);
  const auto add_and_answer = [&] {
    ours.add();
    ours.answer();
  };

  const Times ceres =
      side_by_side(add_and_answer, [&] { benchmark::DoNotOptimize(solve_with_ceres(readings)); });
  print_row({"with answer / all anew with Ceres", show_time(ceres.ours_s), show_time(ceres.other_s),
             show_ratio(ceres.ratio), show(difference(x, by_ceres)), "ratio >= 500",
             aim_if(ceres.ratio >= 500)});
  const Times qr = side_by_side(add_and_answer, [&] { benchmark::DoNotOptimize(solve_with_qr(readings)); });
  print_row({"with answer / all anew with Eigen's QR", show_time(qr.ours_s), show_time(qr.other_s),
             show_ratio(qr.ratio), show(difference(x, by_qr)), "", Aim::none});
  Givens givens(readings);
  const Times bare = side_by_side(add_and_answer, [&] { givens.add(); });
  print_row({"with answer / bare Givens, without", show_time(bare.ours_s), show_time(bare.other_s),
             show_ratio(bare.ratio), "", "ratio >= 0.5", aim_if(bare.ratio >= 0.5)});
  const Times update = side_by_side([&] { ours.add(); }, [&] { givens.add(); });
  print_row({"without answer / bare Givens", show_time(update.ours_s), show_time(update.other_s),
             show_ratio(update.ratio), "", "", Aim::none});
}

}  // namespace hangtrue::bench

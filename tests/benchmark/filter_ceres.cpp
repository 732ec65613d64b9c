// Ceres alone in its own file: its headers take long to compile.
#include <ceres/ceres.h>
#include <glog/logging.h>

#include "tests/benchmark/filter.hpp"

namespace hangtrue::bench {

namespace {

/// value - row . x, with its derivative written out: no automatic differentiation to pay for.
class ReadingCost : public ceres::SizedCostFunction<1, kUnknowns> {
 public:
  ReadingCost(const Row24& row, double value) : row_(row), value_(value) {}
  bool Evaluate(double const* const* x, double* residual, double** derivative) const override {
    double sum = value_;
    for (int i = 0; i < kUnknowns; ++i) sum -= row_[std::size_t(i)] * x[0][i];
    residual[0] = sum;
    if (derivative != nullptr && derivative[0] != nullptr)
      for (int i = 0; i < kUnknowns; ++i) derivative[0][i] = -row_[std::size_t(i)];
    return true;
  }

 private:
  const Row24& row_;
  double value_;
};

}  // namespace

Row24 solve_with_ceres(const Readings& readings) {
  Row24 x{};
  ceres::Problem problem;
  for (std::size_t i = 0; i < readings.row.size(); ++i)
    problem.AddResidualBlock(new ReadingCost(readings.row[i], readings.value[i]), nullptr, x.data());
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_QR;
  options.initial_trust_region_radius = 1e16;  // the problem is linear: one full step, and done
  options.max_num_iterations = 1;
  options.num_threads = 1;
  options.logging_type = ceres::SILENT;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &problem, &summary);
  return x;
}

}  // namespace hangtrue::bench

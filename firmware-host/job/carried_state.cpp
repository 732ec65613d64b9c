#include "firmware-host/job/carried_state.hpp"

#include <Eigen/Core>
#include <Eigen/QR>
#include <algorithm>
#include <cstdint>
#include <vector>

namespace hangtrue::job {

namespace {

// No list of unknowns holds such an index, so that a fit finds no estimate of it.
constexpr std::int16_t kForgotten = -1;

void forget(fit::Carried<double>& estimates, const auto& which) {
  for (int k = 0; k < estimates.count; ++k)
    if (which(estimates.unknown[k])) estimates.unknown[k].index = kForgotten;
}

}  // namespace

void CarriedState::forget_offsets() {
  forget(estimates, [](const fit::Unknown& unknown) {
    return unknown.kind == fit::UnknownKind::shape && unknown.shape.kind <= beam::ParameterKind::offset_roll;
  });
  temperature_C.reset();
}

// With R x = z of what is known, the zero as it is now is x_k + w: the rows w scale / sigma = 0 and R (x - e_k w) = z in one triangle,
// from which w is left out.
void CarriedState::rise_may_differ(int support, double sigma_m) {
  const fit::Unknown rise{fit::UnknownKind::shape, {beam::ParameterKind::offset_rise, std::int16_t(support)}};
  fit::Unknown* const end = estimates.unknown + estimates.count;
  const auto k = Eigen::Index(std::find(estimates.unknown, end, rise) - estimates.unknown);
  const Eigen::Index n = estimates.count;
  if (k == n || !(sigma_m > 0)) return;
  Eigen::MatrixXd joint = Eigen::MatrixXd::Zero(n + 1, n + 2);
  joint(0, 0) = estimates.scale[k] / sigma_m;
  for (Eigen::Index i = 0; i < n; ++i) {
    const std::span<const double> row = estimates.information.triangle_row(int(i));
    for (Eigen::Index j = i; j < n; ++j) joint(i + 1, j + 1) = row[std::size_t(j)];
    joint(i + 1, 0) = -joint(i + 1, k + 1);
    joint(i + 1, n + 1) = estimates.information.right_side(int(i));
  }
  const Eigen::MatrixXd triangle = Eigen::HouseholderQR<Eigen::MatrixXd>(joint).matrixQR();
  estimates.information.start(int(n));
  std::vector<double> row(static_cast<std::size_t>(n));
  for (Eigen::Index i = 1; i <= n; ++i) {
    for (Eigen::Index j = 1; j <= n; ++j) row[std::size_t(j - 1)] = j < i ? 0 : triangle(i, j);
    estimates.information.add(row, triangle(i, n + 1), 1);
  }
}

void CarriedState::forget_zeros() {
  forget(estimates, [](const fit::Unknown& unknown) { return unknown.kind == fit::UnknownKind::zero; });
  zeros.clear();
}

void CarriedState::forget_zero(int number) {
  forget(estimates, [&](const fit::Unknown& unknown) {
    return unknown.kind == fit::UnknownKind::zero && unknown.index == number;
  });
}

}  // namespace hangtrue::job

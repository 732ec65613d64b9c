// warping.hpp: one stretch of a run that resists twist by warping too.
//
// Model   GJ phi' - E Iw phi''' = T (V. Z. Vlasov, Thin-walled Elastic Beams, 2nd ed. 1961; from memory). With
//         the warp psi = phi' it is of second order, E Iw psi'' - GJ psi = -T, and T is known by statics: a stretch of
//         constant section follows from the warp at its two ends and from T = T0 + T1 xi + T2 xi^2, xi = s / h,
//             psi(xi) = psi0 A(1 - xi) + psi1 A(xi) + h^2 / (E Iw) (T0 P0(xi) + T1 P1(xi) + T2 P2(xi)),
//             A = sinh(kappa xi) / sinh(kappa),  Pn'' - kappa^2 Pn = -xi^n, zero at both ends,  kappa = h sqrt(GJ / E Iw).
//         The roll is the integral of psi, the bimoment B = E Iw psi'.
// Accuracy both limits: short or stiff in warping (kappa -> 0) by power series, long (kappa large) by exponentials that only
//         decay. Nothing is lost by cancellation in either. Where a support holds the warp of a run that would hardly resist
//         without it, a = sqrt(E Iw / GJ) far above the length L, some (a / L)^2 of the last digit are lost.
// Units   m, N m2 (GJ), N m4 (E Iw), N m (T), N m2 (B), rad/m (warp).
#pragma once

#include <cmath>

namespace hangtrue::beam {

/// kappa^2j / (m + 2 j)! summed up: cosh for m = 0, sinh(x) / x for m = 1, and what is left of them without their first terms.
/// For x up to kSeries.
template <class Scalar>
[[nodiscard]] Scalar hyperbolic_rest(int m, Scalar x) {
  Scalar term = 1;
  for (int i = 2; i <= m; ++i) term /= Scalar(i);
  Scalar sum = 0;
  for (int j = 0; j < 14; ++j) {
    sum += term;
    term *= x * x / (Scalar(m + 2 * j + 1) * Scalar(m + 2 * j + 2));
  }
  return sum;
}

/// psi, its slope by xi and its integral from xi = 0, at one xi, for a unit of each of what it follows from.
template <class Scalar>
struct WarpShape {
  struct Of {
    Scalar warp, slope, integral;
  };
  Of begin, end;  // of the warp at either end
  Of torque[3];   // of T0, T1, T2; times h^2 / (E Iw)
};

/// Below this kappa power series, above it exponentials.
template <class Scalar>
inline constexpr Scalar kSeries = 2;

template <class Scalar>
[[nodiscard]] WarpShape<Scalar> warp_shape(Scalar kappa, Scalar xi) {
  using Of = typename WarpShape<Scalar>::Of;
  const Scalar rest = 1 - xi;
  // 1 - exp(-x), without loss for small x.
  const auto decayed = [](Scalar x) { return -std::expm1(-x); };
  const Scalar whole = decayed(2 * kappa);
  const Scalar to_end = std::exp(-kappa * rest), from_begin = std::exp(-kappa * xi);
  WarpShape<Scalar> shape;
  // A(xi) = sinh(kappa xi) / sinh(kappa) and the same from the other end.
  shape.end =
      Of{to_end * decayed(2 * kappa * xi) / whole, kappa * to_end * (1 + std::exp(-2 * kappa * xi)) / whole,
         to_end * decayed(kappa * xi) * decayed(kappa * xi) / (kappa * whole)};
  shape.begin = Of{from_begin * decayed(2 * kappa * rest) / whole,
                   -kappa * from_begin * (1 + std::exp(-2 * kappa * rest)) / whole,
                   decayed(kappa * (2 - xi)) * decayed(kappa * xi) / (kappa * whole)};
  const Scalar square = kappa * kappa;
  Scalar power = 1;  // xi^n
  for (int n = 0; n < 3; ++n) {
    Of& of = shape.torque[n];
    if (kappa < kSeries<Scalar>) {
      const Scalar at_end = hyperbolic_rest(n + 2, kappa), factorial = n == 2 ? Scalar(2) : Scalar(1);
      const Scalar x = kappa * xi;
      of.warp = factorial * (at_end * shape.end.warp - power * xi * xi * hyperbolic_rest(n + 2, x));
      of.slope = factorial * (at_end * shape.end.slope - power * xi * hyperbolic_rest(n + 1, x));
      of.integral =
          factorial * (at_end * shape.end.integral - power * xi * xi * xi * hyperbolic_rest(n + 3, x));
    } else {  // a polynomial less what makes it zero at both ends
      const Scalar at_begin = n == 0 ? 1 : n == 2 ? 2 / square : Scalar(0);
      const Scalar constant = n == 2 ? 2 / square : Scalar(0);
      const Scalar at_end = 1 + constant;
      const Scalar slope = n == 0 ? 0 : n == 1 ? Scalar(1) : 2 * xi;
      of.warp = (power + constant - at_begin * shape.begin.warp - at_end * shape.end.warp) / square;
      of.slope = (slope - at_begin * shape.begin.slope - at_end * shape.end.slope) / square;
      of.integral = (power * xi / Scalar(n + 1) + constant * xi - at_begin * shape.begin.integral -
                     at_end * shape.end.integral) /
                    square;
    }
    power *= xi;
  }
  return shape;
}

}  // namespace hangtrue::beam

// thresholds.hpp: every threshold of shim search, order of moves and chances. Where nothing else is said there is no source:
// the value is a choice, with its reason.
#pragma once

#include <cmath>
#include <cstdint>

namespace hangtrue::adjust {

template <class Scalar>
constexpr bool kIsDouble = sizeof(Scalar) >= 8;

// ---- thicknesses: counted in whole units, so that sums of pieces are exact ----

/// Half a nanometre: 1/128 in is whole.
inline constexpr double kUnit_m = 0.5e-9;
inline constexpr std::int32_t kMetre = 2'000'000'000;
/// Units by which four corners may be out of one plane: 1 nm, what pieces in inches round to.
inline constexpr std::int32_t kOnePlane = 2;
/// Pieces of one stack, at the most: what a byte counts.
inline constexpr int kMostInStack = 255;

// ---- search ----

/// Results of which a person would say that they are as level: 0.02 mm, what a good inclinometer tells over a metre.
inline constexpr double kEqualWithin_m = 0.02e-3;
/// Partial choices looked at before the search gives up: some seconds.
inline constexpr std::int64_t kNodeLimit = 5'000'000;
/// Level errors nearer than this are equal: the nanometre, or what single precision can tell.
template <class Scalar>
constexpr Scalar kNothing_m = kIsDouble<Scalar> ? Scalar(1e-9) : Scalar(2e-7);
/// Travel may be passed by as much.
template <class Scalar>
constexpr Scalar kTravelSlack_m = kNothing_m<Scalar>;
/// A limit of force may be passed by this share of it: rounding.
template <class Scalar>
Scalar force_slack(Scalar limit_N) {
  return (kIsDouble<Scalar> ? Scalar(1e-9) : Scalar(1e-5)) * (1 + std::abs(limit_N));
}

/// A force within this of its limit keeps it, between moves too: far below what any support is rated in.
template <class Scalar>
constexpr Scalar kForceSlack_N = kIsDouble<Scalar> ? Scalar(1e-6) : Scalar(1);

// ---- the bound of the search: a linear programme ----

/// Prices and pivots below this are rounding.
template <class Scalar>
constexpr Scalar kLittle = kIsDouble<Scalar> ? Scalar(1e-10) : Scalar(1e-5);
template <class Scalar>
constexpr Scalar kLeastShare = kIsDouble<Scalar> ? Scalar(1e-9) : Scalar(1e-4);

// ---- what would cure a run that shims cannot ----

/// The scale of the sag is found to this.
inline constexpr double kWithin = 1e-5;

// ---- order of moves ----

/// Orders whose greatest errors differ by less are equal: nobody reads a thousandth of a millimetre on site.
inline constexpr double kSame_m = 1e-6;
template <class Scalar>
constexpr Scalar kRounding_m = kIsDouble<Scalar> ? Scalar(1e-12) : Scalar(1e-7);

// ---- chances ----

/// Draws for the chance to be within tolerance. A chance of 0.95 found by so many independent draws has a sigma of 0.0024.
inline constexpr int kDraws = 8192;

}  // namespace hangtrue::adjust

// thresholds.hpp: every threshold of the fit and of what repeated readings say. Where nothing else is said there is no
// source: the value is a choice, with its reason.
#pragma once

#include <limits>

namespace hangtrue::fit {

// ---- judging readings ----

/// A reading whose normalised residual is beyond this is set aside. Four sigma: of surveys of a hundred good readings one in
/// 160 loses one.
inline constexpr double kGate = 4;
/// A reading that was set aside comes back within this share of the gate, so that none goes out and in without end.
inline constexpr double kBackInside = 0.9;
/// Rounds of settling and judging in turns.
inline constexpr int kMostRounds = 10;

// ---- settling ----

/// Gauss-Newton steps in a row.
inline constexpr int kMostIterations = 30;
/// Halvings of a step before it counts as leading nowhere: the last is 1/2048 of the step.
inline constexpr int kMostHalvings = 12;

template <class Scalar>
constexpr bool kIsSingle = std::numeric_limits<Scalar>::digits < 50;
/// A step this short, in sigmas of the estimate, ends the iteration: what rounding leaves standing.
template <class Scalar>
constexpr Scalar kShortStep = kIsSingle<Scalar> ? Scalar(1e-3) : Scalar(1e-8);
/// Chi-squared may rise by this share from rounding alone.
template <class Scalar>
constexpr Scalar kRoundingOfMisfit = kIsSingle<Scalar> ? Scalar(1e-3) : Scalar(1e-9);
/// Below this share of its variance a residual is rounding, and says nothing.
template <class Scalar>
constexpr Scalar kLeastRedundancy = 1000 * std::numeric_limits<Scalar>::epsilon();
/// Next readings whose gains differ by less than this share are equal, and the first is told.
template <class Scalar>
constexpr Scalar kSameGain = kIsSingle<Scalar> ? Scalar(1e-3) : Scalar(1e-6);

// ---- causes where the fit does not hold ----

/// How much wider than its prior an unknown may be, each as likely as the others.
inline constexpr int kRelaxations[] = {3, 10, 30};
/// How much farther than its sigma a stray may be off. It may be anything: a mistaken face, a unit, a bump.
inline constexpr int kStrayFactors[] = {3, 10, 30, 100, 1000, 10000, 100000};

// ---- which supports bear, and what moved within a walk ----

/// What a reading beyond its gate costs in ln of evidence: one in a hundred is a stray, anywhere within a thousand sigmas.
inline constexpr double kStrayCost = 11.5;
/// Sets of bearing supports that are tried, at the most: all of five one-way supports, and some of former stages.
inline constexpr int kMostBearingSets = 48;
/// A set less likely than this beside the likeliest is not told, and not searched from.
inline constexpr double kLeastSetProbability = 0.01;
/// In a former stage a support may have lifted, or born, where the chance of what is assumed is below this.
inline constexpr double kSureContact = 0.99;
/// A margin of so little, N or m, is rounding.
template <class Scalar>
constexpr Scalar kRoundingOfContact = kIsSingle<Scalar> ? Scalar(1e-5) : Scalar(1e-9);
/// Chance that nothing that moved or was misread is taken for something, over all that is tried; and that what matters is
/// noticed.
inline constexpr double kFalseAlarm = 0.01;
inline constexpr double kNoticed = 0.99;

// ---- repeated readings ----

/// Confidence of the field tests. Source: ISO 17123 (parts 1, 2, 6; from memory).
inline constexpr double kFieldConfidence = 0.95;
/// Chance below the upper end of a two-sided interval of 95 %.
inline constexpr double kTwoSided95 = 0.975;
/// Degrees of freedom with which a stated sigma is believed. Source: JCGM 100:2008, G.4.2, (G.3), for a sigma that is right
/// to about a third of itself.
inline constexpr int kStatedFreedom = 4;

// ---- distributions ----

/// Terms of a series or fraction, beyond which it counts as done.
inline constexpr int kMostTerms = 100000;

}  // namespace hangtrue::fit

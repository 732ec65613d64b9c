// thresholds.hpp: every threshold of this room, with its source, or "no source" and the reason why it is as it is.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>

namespace hangtrue::job {

// ---- fit --------------------------------------------------------------------------------------------------------

/// Readings nearer than this stand at the same place. No source: places are given in whole millimetres, and this is far
/// below one and far above rounding.
inline constexpr double kSamePlace_m = 1e-6;

/// Of the run's own flexibility, what a support called rigid may yield: one sigma. No source: a twentieth begins to matter.
inline constexpr double kRigidClaim = 1.0 / 20;
/// An unknown farther than so many sigmas from its prior is a doubt. No source: 3 of 1,000 lie beyond.
inline constexpr double kPriorSigmas = 3;
/// An unknown of which less than this share of the prior variance was taken away says nothing of its prior. No source.
inline constexpr double kLearnedAtAll = 0.01;
/// No load is so many times what is listed, no stiffness so many times what is predicted, nor so small a part; no spring. A cause
/// that would need more is none. No source.
inline constexpr double kLargestFactor = 3, kLargestSpringFactor = 10;

/// The fit's own test fails below one in a hundred. Between that and this the readings are used, with a remark. No source: one good
/// survey in a thousand scatters more.
inline constexpr double kHoldsOnlyJust = 1e-3;

// ---- walk -------------------------------------------------------------------------------------------------------

/// Movements within one walk that are looked for. No source: a run that moves more often is not read, but held.
inline constexpr int kMostMovements = 4;
/// A movement is named where it explains this share of what chi-squared is too large by. No source: the greater part.
inline constexpr double kExplains = 0.5;
/// Readings nearer than this are at the same marked place: a foot beside its mark. No source.
inline constexpr double kSamePlaceInWalk_m = 0.002;
/// A motion matters that changes the finished level error by this share of the tolerance. No source: four such make it up.
inline constexpr double kMatters = 0.25;
/// Stops that close a walk, at the most: first, middle and last place.
inline constexpr int kClosingStops = 3;
/// A place within this share of the walk's span from either end is a first or last one. No source.
inline constexpr double kEndOfWalk = 0.25;
/// Readings set aside of one instrument and channel that are no strays any more. No source.
inline constexpr int kStraysOfOne = 3;
/// What a unit of a mistake does to the finished run counts from here on, m per m or rad: below is rounding.
inline constexpr double kNoHarm = 1e-9;
/// Two sets of bearing supports lead to different answers where their finished runs differ by this share of the tolerance. No
/// source: a tenth hides in the rounding of shims.
inline constexpr double kSameFinish = 0.1;

// ---- card -------------------------------------------------------------------------------------------------------

/// A one-way support stays engaged as long as it is not pulled on. One that has just engaged carries nothing yet, which is
/// no fault. No source: below 0 only by rounding.
inline constexpr double kLeastForce_N = -1e-6;

/// Moves count as worse than none where the level error grows by more than this. No source: a nanometre is rounding.
inline constexpr double kWorseBy_m = 1e-9;

/// A further reading is advised where it leaves less than this share of the sigma of the finished shape. No source: one
/// hundredth is worth no walk.
inline constexpr double kReadingWorthIt = 0.99;

/// An unknown is named as what leaves most open, or a load as worth weighing, where knowing it would leave less than this
/// share of the sigma of the level error. No source: less than a twentieth is not worth the trouble.
inline constexpr double kKnowingWorthIt = 0.95;

/// Partial choices looked at for one cure. No source: a tenth of a second.
inline constexpr std::int64_t kNodesOfCure = 200'000;
/// Shares of the sag that continuous settings could bear, tried one after the other with the stock as it is.
inline constexpr double kSharesTried[] = {1, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5, 0.35, 0.25};
/// A run that would have to be stiffer than so many times is not cured by stiffness. No source.
inline constexpr double kStiffestCure = 10;
/// A bow counts as found where it is so many sigmas from none. No source.
inline constexpr double kBowFoundSigmas = 2;

// ---- checks of the instruments ---------------------------------------------------------------------------------------

/// A finding that nobody asked for is shown only when chance would bring it in less than 1 - this of the cases. No source:
/// one false alarm in a hundred is borne, one in twenty (the usual level) would soon be passed over.
inline constexpr double kAlarmConfidence = 0.99;
/// An instrument whose zero, or a laser whose tilt, lies beyond so many of the sigmas that its sheet gives ought to be
/// serviced. No source: beyond three sigmas lie 0.3 % of a normal distribution.
inline constexpr double kServiceSigmas = 3;
/// How old a check may be, and how soon a calibration is announced. Common practice, no source: once a month.
inline constexpr int kCheckKeeps_days = 30;
inline constexpr int kCalibrationSoon_days = 30;
/// How far the temperature may be from that of the check. Common practice, no source: morning and noon differ by less.
inline constexpr double kTemperatureFar_C = 10.0;
/// Rounds of a guided check. No source: three show a misplaced reading; more than twenty nobody goes through.
inline constexpr int kRounds = 3, kMostRounds = 20;
/// The two places of a datum check are at least this share of the run's length apart. No source: the nearer they are, the
/// less a tilt shows; on a run of 4 m it is 1 m.
inline constexpr double kLeastApart = 0.25;

/// A scale is right within so many of its sigmas and within this of 1. No source: beyond three sigmas lie 0.3 % of a normal
/// distribution; 2 % of a run's slopes is little beside a tolerance, and no two units are nearer than a factor of 1.7.
inline constexpr double kScaleSigmas = 3, kScaleWithin = 0.02;
/// Rounds of a scale check. No source: the second shows a piece that lay askew in the first.
inline constexpr int kScaleRounds = 2;
/// How well a piece is known (callipers, or the size that is stamped on it), the distance between feet (a steel rule), and that
/// between two places (a tape measure, both ends). Common practice, no source.
inline constexpr double kPieceSigma_m = 0.02e-3, kFeetSigma_m = 0.25e-3, kTapeSigma_m = 0.5e-3;
/// The scale's sigma must be no more than this, and what the feet bring to it no more than half. No source: 19 of 20 right
/// instruments are then within kScaleWithin.
inline constexpr double kScaleSigmaAtMost = kScaleWithin / 2;
inline constexpr double kLeastFeet_m = 2 * kFeetSigma_m / kScaleSigmaAtMost;
/// Thickness over feet at most: the tangent is then half a percent more. And of the channel's range, since the place slopes too.
/// No source.
inline constexpr double kSteepestPiece = 0.1, kMostOfRange = 0.5;
/// A mistake is named where it would bring the scale within this of 1. No source: well below the factor of 1.7 above.
inline constexpr double kNamedWithin = 0.1;

// ---- warmth of rods and posts: warmth.hpp ----------------------------------------------------------------------------

/// How far a rod may be from the temperature that is read beside the run, one sigma. Common practice, no source: under a ceiling it
/// is warmer than at the height of a hand.
inline constexpr double kRodTemperatureSigma_C = 2.0;
/// How well a thermal expansion is known, relative, one sigma. No source: what handbooks give for one steel or another differs so.
inline constexpr double kExpansionSigma = 0.05;
/// Nobody read a temperature: that is worth a word where so many degrees would move one support against another by this share of
/// the tolerance. No source: morning and noon, summer and winter in a heated house differ so.
inline constexpr double kPlausibleWarmth_C = 10.0, kWarmthMatters = 0.25;

// ---- history ---------------------------------------------------------------------------------------------------------

/// Two surveys within this time count as one visit, between which supports stay where they are. No source: a job on site
/// may pause for a fortnight.
inline constexpr std::chrono::days kSameVisit{14};
/// A survey that is so much before the one it follows in the book has a time of another clock: nothing is known of what passed.
/// No source: less than that a clock is mended by within a visit (a time zone, a battery that was changed).
inline constexpr std::chrono::days kClockSetBack{1};
/// Surveys that are fitted one from the other. No source: they take seconds on a phone's daemon, and two years of monthly
/// surveys tell what there is to tell.
inline constexpr std::size_t kMostSurveys = 24;

// ---- recheck ---------------------------------------------------------------------------------------------------------

/// Of the global test, and of each name with the correction for many: 95 %, the usual level of a deformation test (H. Pelzer
/// 1971, from memory). Power of the smallest detectable movement: 80 %, W. Baarda 1968, from memory.
inline constexpr double kRecheckConfidence = 0.95;
inline constexpr double kRecheckPower = 0.80;
/// A change that is not known better than this was not seen. No source: wider than what is looked for. A weight that no stage
/// lists: as a share of all that is on.
inline constexpr double kWide_m = 0.010, kWide_rad = 0.010, kWideLoad = 0.5, kWideStiffness = 0.2,
                        kWideWeight = 0.5;
/// So many times that is the prior of a change in the fit of all of them, so that it hardly holds one back: a load of three times
/// its weight stands at 1.3 sigma. No source.
inline constexpr double kPriorOfWide = 3;

/// What a cause would have to be: sigma of its size where it happened, and how likely it is to happen, beside a support that sinks
/// (1). No source for any: supports settle and turn by millimetres; what stands on a run comes and goes; a member's own weight,
/// stiffness and bow stay, but for what rots or cracks; nobody leaves a tenth of the whole weight on a run unlisted every year.
struct Likely {
  double size;  // m, rad, share (of a stiffness: how much more flexible), ln of a factor
  double odds;
};
inline constexpr Likely kLikelyRise{2e-3, 1}, kLikelyTurn{3e-3, 1}, kLikelyContents{0.7, 1},
    kLikelyLater{1, 0.5}, kLikelyWeight{0.2, 1}, kLikelyOwnWeight{0.03, 0.05}, kLikelyStiffness{0.4, 0.5},
    kLikelyTorsion{0.15, 0.1}, kLikelySpring{1, 0.1}, kLikelyBow{0.5e-3, 0.02}, kLikelyMark{2e-3, 0.1};
/// No load is lighter than nothing, and no run half as flexible; what noise adds to that. No source.
inline constexpr double kLeastLoad = -1.2, kLeastSofter = -0.5;
/// Supports sink rather than rise, and runs become softer rather than stiffer. No source.
inline constexpr double kTheOtherWay = 0.2;
/// A cause stands beside another where it is this share as likely; and one more is named where it makes the whole likelier by one
/// over this. No source: the usual 1 of 20.
inline constexpr double kAsLikely = 1.0 / 20;
/// Sets of changes of one size that are fitted in full. No source: the likeliest is among them wherever that was looked up.
inline constexpr std::size_t kFittedInFull = 6;
/// Places along the run at which a weight that no stage lists is looked for, and unknowns kept free for the rest. No source: spans
/// have few supports, and a weight shows over a good part of its span.
inline constexpr int kPlacesOfWeights = 12;
/// A stable mark is taken to be where it was; that it is not is tested like other changes. No source: small beside what any
/// distance meter tells.
inline constexpr double kStable_m = 1e-6;
/// No run is told to be stiffer than so many times: one over this. No source.
inline constexpr double kLeastFlexibility = 0.1;
/// Likeness beyond which two changes do the same to the readings. No source: cosine of 2.6 degrees.
inline constexpr double kTwins = 0.999;
/// A support's own height, not only its place against the others, is told where its rise is this many sigmas of every mark's
/// height. No source: far beyond chance.
inline constexpr double kHeightToldSigmas = 5;
/// Places along the run that a survey must have been read at. No source: fewer show no shape.
inline constexpr int kLeastPlaces = 3;
/// Places nearer than this are one. No source: nobody sets an instrument down closer.
inline constexpr double kSamePlaceRead_m = 1e-3;

/// A stretch that a later survey did not read is said from this share of the run's length on. No source: a third of a run may sag
/// by itself.
inline constexpr double kLongGap = 1.0 / 3;

/// Relative sigma of the expected creep: core/beam/creep.hpp.
inline constexpr double kCreepSigma = 0.3;
/// Within this time of the history's first survey no creep is expected. No source: the hour at which loads came on, which nobody
/// notes, would decide of it.
inline constexpr std::chrono::hours kCreepTold{24};
/// An expected drift below this is none. No source: a tenth of what instruments tell at best.
inline constexpr double kDrift_m = 2e-6;
/// The measured share of the drift is called less or more than expected beyond 97.5 % of a normal distribution.
inline constexpr double kDriftSigmas = 1.96;

/// Surveys of one stage that a trend needs: a straight line through two leaves nothing to test.
inline constexpr std::size_t kLeastForTrend = 3;

// ---- changes of a run sheet ------------------------------------------------------------------------------------------

/// Relative; and places as the sheet's own reader has it. No source: what is left of a number written in another unit.
inline constexpr double kSameNumber = 1e-9, kSameSheetPlace_m = 1e-9;

// ---- plan ------------------------------------------------------------------------------------------------------------

/// Wanted unless said, of the tolerance. No source: a band of 95 % of the heights then takes about a third of it; a recheck
/// finds a movement before it has used up a third of it.
inline constexpr double kLevellingShare = 1.0 / 6, kRecheckShare = 1.0 / 3;
/// Of more stations a plan chooses among so many, spread evenly. No source: a run is as well known from these.
inline constexpr std::size_t kMostPlannedStations = 40;
/// No source: a day's work for one person, and as often as anybody sets up a laser for one run.
inline constexpr int kMostPlanned = 200;  // readings
inline constexpr int kMostPlannedSetUps = 3;
/// Redundancy of a reading, 1 - h P h' / sigma^2 (W. Baarda 1968, from memory), below which a mistake in it hardly shows.
/// The bound is common practice, no source.
inline constexpr double kLeastRedundancy = 0.2;
/// Correlation from which on two unknowns count as not told apart. No source: four fifths of either's variance is then shared.
inline constexpr double kNotApart = 0.9;
/// Share of the prior variance that must be taken away for an unknown to count as learned. No source.
inline constexpr double kNotLearned = 0.1;
/// Where no number of readings would do: the choice ends within this factor of the best possible. No source: more readings
/// hardly help.
inline constexpr double kEnough = 1.1;
/// A further set-up, or an unknown that is to be named, must bring the certainty below this share. No source: less is not
/// worth the effort.
inline constexpr double kWorth = 0.95;
/// An exchange of places must bring the certainty below this share. No source: it keeps the search from running in circles.
inline constexpr double kBetter = 0.999;
/// "Read without end": sigma of a reading repeated a million times.
inline constexpr double kEndless = 1e-3;
/// No source: what somebody reads before going to site.
inline constexpr std::size_t kMostLeftOpen = 3;
/// Stops and rounds of the exchange. No source: in a longer plan one place matters little; later rounds find hardly anything.
inline constexpr std::size_t kMostExchanged = 40;
inline constexpr int kMostPasses = 3;
/// What the smallest rise of the whole run is, in sigmas of its mean change: quantiles of 97.5 % and of the power, 80 %, of
/// the normal distribution (from its table).
inline constexpr double kFoundSigmas = 1.959964 + 0.841621;
/// Where the two marks of the comparison would stand: so much of the run's length beyond either end. No source.
inline constexpr double kMarkBeyond = 0.1;

// Straight-edge: straightness.hpp.

/// A departure that is so many of its sigmas below what is allowed is in none of the draws. No source: 2 of 10^9 of a normal law.
inline constexpr double kNeverDrawnSigmas = 6;
/// Departures of which the chance is drawn, and which the search looks at. No source: neighbours tell nearly the same.
inline constexpr std::size_t kMostDepartures = 256, kMostDeparturesSearched = 24;

}  // namespace hangtrue::job

// live_target.hpp: while a nut turns, or a load comes on: what instruments that stay where they are must read on the way and at
// the end, worked out beforehand; and whether the run answers as predicted.
//
// Change    what is watched is how much each channel has changed since before anything was touched: its zero error and its datum
//           drop out.
// Corners   What the change is where the work is done in part: corner 0 nothing (no change), the last all of it. A move has those
//           two, and some between them where supports that push or pull only begin or cease to bear on the way. A stage has one
//           for each choice of what is released and what comes on, since nobody says in which order that is done (of more than
//           kMostParts parts the loads together, and then the releases).
// Path      every mean of the corners: what is half done lies between them. Of a move straight on too, for one that goes too far.
// Sigmas    noise of the reading now and of the one before, and what the fit leaves open of the change (stiffness, springs, loads).
// Stop      where chance would bring readings so far off the path in one look of 10 million (kStopChance): over 10,000 looks, half an
//           hour of five a second, it says so of 1 in 1,000 that go as predicted.
// One       channel alone cannot tell a move that goes wrong from one that is not done yet: only too far, or the wrong way.
// Looks     of "stop": which other support would have to rise, pitch or roll for it, and how much: the least, beside its likely size.
// Units     SI, rad; sigma is one standard deviation. Values as the instrument reads them, face and zero error in.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/survey/reading.hpp"
#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::job {

inline constexpr double kStopChance = 1e-7;
/// Beyond so many sigmas of the share it is too far, or done. No source: two sigmas are the band that is shown.
inline constexpr double kTooFarSigmas = 3, kBandSigmas = 2;
/// A share that is known no better does not say when it is done. No source.
inline constexpr double kShareTold = 0.2;
/// Parts of a stage of which every choice is a corner: 16 of them.
inline constexpr int kMostParts = 4;

/// A channel in its place; `value` and `sigma` in it are what it read before anything was touched.
struct WatchedChannel {
  ChannelId channel;
  survey::Reading<double> place;
};

struct Corner {
  std::vector<double> change;            // one a channel
  std::vector<std::vector<double>> row;  // likewise; products of two rows are their covariance
};

/// Another support that would answer so, by a unit of its motion.
struct Suspect {
  UnknownId what;     // move_rise, move_pitch or move_roll
  double likely = 0;  // sigma of its size, where it happens
  std::vector<double> effect;
};

/// What a channel reads now.
struct ReadsNow {
  double value = 0, sigma = 0;
};

enum class TargetVerdict { on_the_way, done, too_far, wrong_way, stop };

struct ChannelNow {
  double now = 0;
  double must_read = 0, band = 0;  // when all is done: must_read +- band
  double off = 0, off_sigma = 0;   // off the path, where it is nearest
};
struct LooksLike {
  UnknownId what;
  Quantity size;
};

struct TargetNow {
  TargetVerdict verdict = TargetVerdict::on_the_way;
  double share = 0, share_sigma = 0;  // of the way; below 0: the other way
  double chance = 1;                  // that the run answers as predicted, and reads so
  std::vector<ChannelNow> channels;
  std::vector<LooksLike>
      looks_like;  // the likeliest first; others beside it where they are as likely. Only of "stop"
};

class LiveTarget {
 public:
  /// At least two corners and one channel; all of the same size.
  LiveTarget(std::vector<WatchedChannel> watched, std::vector<Corner> corners, std::vector<Suspect> suspects);

  [[nodiscard]] const std::vector<WatchedChannel>& watched() const { return watched_; }
  [[nodiscard]] const std::vector<Corner>& corners() const { return corners_; }
  /// `now`: one a channel, in their order.
  [[nodiscard]] TargetNow look(std::span<const ReadsNow> now) const;

 private:
  std::vector<WatchedChannel> watched_;
  std::vector<Corner> corners_;
  std::vector<Suspect> suspects_;
};

/// A move of a support's zero, after others were `made` (one entry a support).
struct MoveToMake {
  std::span<const beam::Motions<double>> made;
  int support = 0;
  beam::Motions<double> move;
};

/// After a fit() without fault. Where the run cannot be solved on the way, that fault.
[[nodiscard]] Result<LiveTarget, Fault> target_of_move(SurveyFit& survey, const MoveToMake& move,
                                                       std::vector<WatchedChannel> watched);
/// From the survey's stage to the next one.
[[nodiscard]] Result<LiveTarget, Fault> target_of_next_stage(SurveyFit& survey,
                                                             std::vector<WatchedChannel> watched);

/// Where a walking instrument sees most of a move, in its own sigmas.
struct PlaceToWatch {
  std::string instrument;
  Channel channel = Channel::slope;
  double at_m = 0;
  survey::Edge edge = survey::Edge::middle;
  double change = 0, sigmas = 0;
};
/// The best one; none: no instrument walks.
[[nodiscard]] Result<std::optional<PlaceToWatch>, Fault> place_to_watch(SurveyFit& survey,
                                                                        const MoveToMake& move,
                                                                        const sheet::KitSheet& kit);

}  // namespace hangtrue::job

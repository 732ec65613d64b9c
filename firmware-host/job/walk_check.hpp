// walk_check.hpp: a survey as a walk: the order of its readings, whether it closes, whether the run stayed as it was, whether its
// readings check one another. What is tested, and what counts as noticed: core/fit/walk.hpp.
//
// Order    by time; readings without a time keep their row; equal times too.
// Stop     readings one after the other at one place.
// Closing  the last stops at which an instrument reads once more what it read at an earlier stop. The walk is closed when first,
//          middle and last of its places are among them; or when every motion of an engaged support that would change the
//          finished level error by kMatters of the tolerance would be noticed, at every instant before the last kClosingStops of
//          them.
// Units    SI, rad.
#pragma once

#include <cmath>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/fit/walk.hpp"
#include "firmware-host/job/fault.hpp"
#include "firmware-host/job/quantity.hpp"
#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/sheet/readings.hpp"

namespace hangtrue::job {

struct WalkOrder {
  std::vector<int> order;            // of readings, by time
  std::vector<int> stop;             // by position in the order
  std::vector<std::uint8_t> begins;  // by position: a stop begins there
  std::vector<int> first_of_stop;    // positions
};
[[nodiscard]] WalkOrder walk_order(const std::vector<sheet::ReadingEntry>& readings);

/// Something that moved while the run was read.
struct FoundMovement {
  UnknownId what;
  Quantity by;
  std::size_t after_row = 0;  // the last reading before it, from 1
  std::string time;           // of that reading; may be empty
  double statistic = 0;
};

/// All that walk_check asks about.
struct WalkSubject {
  const sheet::RunSheet& run;
  fit::Fit<double>& fit;  // after run()
  const fit::Problem<double>& problem;
  const sheet::Survey& survey;
  const std::vector<fit::Judgement<double>>& judgements;
  const WalkOrder& walk;
};

/// The motions that can slip: of supports that bear at the survey's stage, of set-ups and inclinometers that were used.
[[nodiscard]] std::vector<fit::Slip> slips_of(const WalkSubject& subject);

/// The strongest movement within the walk, where one is found. `position`: of the first reading after it.
struct MovementAt {
  fit::Slip slip;
  int position = 0;
  fit::Tested<double> test;
};
[[nodiscard]] Result<std::optional<MovementAt>, Fault> find_movement(const WalkSubject& subject);

/// What is missing for the walk to close: the places to read once more. Nothing: it is closed.
[[nodiscard]] Result<std::vector<double>, Fault> closing_places(const WalkSubject& subject);

/// Readings set aside that come together in time, at one place, of one instrument, or at the end of the walk. Rows from 1.
[[nodiscard]] std::vector<std::size_t> strays_together(const WalkSubject& subject);

/// One place (or stop, or reading) of one channel.
struct ReadingGroup {
  ChannelId channel;
  double at_m = 0;
  std::vector<int> members;  // readings
};

/// The readings of one place and channel that all the others contradict, the worst of them.
struct PlaceOff {
  ReadingGroup group;
  Quantity by;
};
/// The group whose mistake would do most harm before it is noticed.
struct LeastChecked {
  ReadingGroup group;
  double unnoticed_m =
      0;  // that mistake's share of the finished level error; infinite where none would be noticed
};
struct CrossCheck {
  std::optional<PlaceOff> off;
  std::optional<LeastChecked> least;
};
[[nodiscard]] Result<CrossCheck, Fault> cross_check(const WalkSubject& subject);

/// How well the readings that count fit, changed by `change`, linearised where the fit stands: the logarithm of their probability,
/// but for a constant.
[[nodiscard]] Result<double, Fault> evidence_of(
    const WalkSubject& subject,
    const std::function<void(const sheet::ReadingEntry&, survey::Reading<double>&)>& change);

/// Odds of 99 to 1, as a difference of evidence_of().
inline const double kSure = std::log(fit::kNoticed / (1 - fit::kNoticed));

/// What the readings say of the run's being read from its other end (places mirrored and left taken for right; with signs, or
/// places alone) at kSure.
enum class Mirrored { excluded, open, fits_better };
[[nodiscard]] Result<Mirrored, Fault> reads_mirrored(const WalkSubject& subject);

}  // namespace hangtrue::job

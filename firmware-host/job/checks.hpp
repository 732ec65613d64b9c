// checks.hpp: what checks of the instruments in the level book mean for a survey: priors, and warnings.
//
// Zero check   gives the prior of that channel's zero error: mean = zero found, sigma = sqrt(check's sigma^2 +
//              zero_keeps^2). The latest one counts, per channel.
// Datum check  gives the prior of the datum tilt of the set-ups that its laser made. Model as in
//              core/fit/repeatability.hpp (tilt_by_set_ups): +tilt where the laser stands before the start of the run,
//              -tilt where it stands beyond the end, in both cases with the side towards the run that the check had
//              there; sigma = sqrt(check's sigma^2 + s^2), s how one set-up's tilt scatters when the laser levels
//              anew, pooled from the check's rounds and from what its readings alone would do (as one round of a
//              check, see "Stated" in core/fit/repeatability.hpp). Where nobody says where the laser stands, or it
//              stands within the run's length, the sign is not known: mean 0, sigma = sqrt(run sheet's sigma^2 +
//              tilt^2).
// Scale check  says whether a channel's scale, unit and sign are right; when it counts: scale_check.hpp. Of each channel the last
//              one that went by the channel's lines in the kit sheet as they are now.
// Lasting      a zero error that an earlier stage's survey carries on rests on that survey's readings, and on the check
//              before it. A check later than the last of those readings takes its place; any other check is older
//              news and is not used again. A channel that was never read carries nothing: the check counts. Readings
//              without a time count as later than any check.
// Which        for a survey those count that belong to it, and those up to its last reading or its closing, whichever
//              is later; by number, so that no clock is asked. So an old survey keeps its answer, whatever is checked
//              later.
// Units        SI, rad; sigma is one standard deviation; dates RFC 3339.
#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/quantity/channel.hpp"
#include "firmware-host/book/book.hpp"
#include "firmware-host/job/thresholds.hpp"
#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"

namespace hangtrue::job {

/// Prior of one channel's zero error.
struct CheckedZero {
  ChannelId channel;
  double zero = 0, sigma = 0;
  book::Time time{};  // of the check
};

/// Prior of the datum tilt of set-ups that this laser makes before the start of the run.
struct CheckedTilt {
  std::string instrument;
  double tilt_rad = 0, sigma_rad = 0;
  book::Time time{};
};

/// What a guided check of scale, unit and sign found of a channel; which one counts: scale_check.hpp.
struct CheckedScale {
  ChannelId channel;
  std::string lines_hash;  // of the channel's lines in the kit sheet when it was made (scale_check.hpp)
  bool sound = true;       // false: it found something wrong
  book::Time time{};       // of the check
};

/// Where a set-up's laser stands along the run, off it too.
struct PlacedSetUp {
  std::string name;
  double stands_at_m = 0;
};

// ---- warnings. A check is named by the channel that it is of: distance stands for the datum check of a laser.

struct NoCalibrationStated {};
struct CalibrationOverdue {
  std::string since;  // full-date
};
struct CalibrationDue {
  std::string on;  // full-date
  int in_days = 0;
};
struct NoZeroCheck {
  std::vector<Channel> channels;
};
struct NoDatumCheck {};
struct ZeroTooLarge {  // beyond kServiceSigmas of the zero_sigma
  Channel channel = Channel::slope;
  double zero_rad = 0, zero_sigma_rad = 0;
};
struct HasDrifted {  // between the last two checks
  Channel channel = Channel::slope;
  double by_rad = 0, sigma_rad = 0;
  book::Time from{}, to{};
};
struct CheckIsOld {
  Channel channel = Channel::slope;
  int days = 0;
};
struct TemperatureFar {
  Channel channel = Channel::slope;
  double now_C = 0, at_check_C = 0;
};

/// What is to be known of an instrument before it is used.
struct Warning {
  std::string instrument;
  std::variant<NoCalibrationStated, CalibrationOverdue, CalibrationDue, NoZeroCheck, NoDatumCheck,
               ZeroTooLarge, HasDrifted, CheckIsOld, TemperatureFar>
      what;
};

/// What a survey starts from, beyond its sheets.
struct Checks {
  std::vector<CheckedZero> zeros;
  std::vector<CheckedTilt> tilts;
  std::vector<CheckedScale> scales;
  std::vector<PlacedSetUp> set_ups;
  std::vector<Warning> warnings;  // shown with the fit
};

/// The latest check of each channel and laser that the kit sheet has, out of these (in order of the book; entries of
/// other kinds are passed over). Neither set_ups nor warnings: see checks_for_survey().
[[nodiscard]] Checks gather_checks(const sheet::KitSheet& kit, std::span<const book::NumberedEntry> checks);

/// Instruments as they are used on a day.
struct Occasion {
  struct Instrument {
    std::string name;
    std::optional<double> temperature_C;
  };
  std::string date;                     // full-date, "2026-09-14"
  std::vector<Instrument> instruments;  // empty: all of the kit sheet
};
/// The graver first: calibration overdue, zero too large, zero or datum tilt drifted between the last two checks (at
/// kAlarmConfidence, zero_keeps allowed for); then calibration due within kCalibrationSoon_days, a check older than
/// kCheckKeeps_days, a temperature farther than kTemperatureFar_C from that of the check; then no calibration stated and
/// no check. Within these by instrument, as the kit sheet has them.
[[nodiscard]] std::vector<Warning> check_warnings(const sheet::KitSheet& kit,
                                                  std::span<const book::NumberedEntry> checks,
                                                  const Occasion& occasion);

/// All that checks mean for one survey, warnings of the day of its last reading included. `checks`: of the whole book
/// (Book::checks()). `of_survey`: the survey's set-ups, readings and closing (Book::entries()), the last word of a
/// set-up's name counting; other entries are passed over.
[[nodiscard]] Checks checks_for_survey(const sheet::KitSheet& kit,
                                       std::span<const book::NumberedEntry> checks, book::Number survey,
                                       std::span<const book::NumberedEntry> of_survey);

/// Whether two zero checks of a channel differ by more than their sigmas and zero_keeps (each once) explain.
struct Drift {
  double by = 0, sigma = 0;
  double p_value = 1;  // two-sided
  bool significant = false;
};
[[nodiscard]] Drift drift(double former, double former_sigma, double now, double now_sigma, double keeps);

/// The instant of an RFC 3339 date-time; nothing for any other text.
[[nodiscard]] std::optional<book::Time> time_of(const std::string& text);

}  // namespace hangtrue::job

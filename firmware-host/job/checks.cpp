#include "firmware-host/job/checks.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <numeric>
#include <variant>

#include "core/fit/repeatability.hpp"
#include "firmware-host/job/scale_check.hpp"

namespace hangtrue::job {
namespace {

using Days = std::chrono::sys_days;

std::optional<Days> day_of(const std::string& date) {
  int year = 0, month = 0, day = 0, end = 0;
  if (std::sscanf(date.c_str(), "%4d-%2d-%2d%n", &year, &month, &day, &end) != 3 || end != 10)
    return std::nullopt;
  const std::chrono::year_month_day found{std::chrono::year(year),
                                          std::chrono::month(static_cast<unsigned>(month)),
                                          std::chrono::day(static_cast<unsigned>(day))};
  if (!found.ok()) return std::nullopt;
  return Days(found);
}

struct DatedZero {
  const book::ZeroCheck* check;
  book::Time time;
};
struct DatedTilt {
  const book::DatumCheck* check;
  book::Time time;
};

std::vector<DatedZero> zero_checks(std::span<const book::NumberedEntry> entries,
                                   const std::string& instrument, std::string_view channel) {
  std::vector<DatedZero> found;
  for (const book::NumberedEntry& each : entries)
    if (const auto* const check = std::get_if<book::ZeroCheck>(&each.entry.content))
      if (check->instrument == instrument && check->channel == channel)
        found.push_back({check, each.entry.time});
  return found;
}

std::vector<DatedTilt> datum_checks(std::span<const book::NumberedEntry> entries,
                                    const std::string& instrument) {
  std::vector<DatedTilt> found;
  for (const book::NumberedEntry& each : entries)
    if (const auto* const check = std::get_if<book::DatumCheck>(&each.entry.content))
      if (check->instrument == instrument) found.push_back({check, each.entry.time});
  return found;
}

// How one set-up's tilt scatters when the laser levels itself anew: of the rounds of a check, never below what the
// readings alone would do.
double set_up_sigma(const book::DatumCheck& check, double reading_sigma) {
  const double apart = check.far_m - check.near_m;
  if (!(apart > 0)) return 0;
  fit::PooledScatter pooled;
  const auto add = [&](const std::vector<double>& near, const std::vector<double>& far) {
    std::vector<double> tilts;
    for (std::size_t i = 0; i < std::min(near.size(), far.size()); ++i)
      tilts.push_back((far[i] - near[i]) / apart);
    pooled.add(tilts);
  };
  add(check.near_1, check.far_1);
  add(check.near_2, check.far_2);
  const double stated = std::sqrt(2.0) * reading_sigma / apart;
  const bool refuted =
      fit::test_scatter(pooled.scatter(), stated).verdict == fit::ScatterVerdict::larger_than_stated;
  return fit::sigma_of_mean(pooled.scatter(), 1, stated, refuted);
}

/// The lower the graver: nothing read with it can be trusted; it ought to be looked at; it is known less well.
int grade(const Warning& warning) {
  struct Grade {
    int operator()(const CalibrationOverdue&) const { return 0; }
    int operator()(const ZeroTooLarge&) const { return 0; }
    int operator()(const HasDrifted&) const { return 0; }
    int operator()(const CalibrationDue&) const { return 1; }
    int operator()(const CheckIsOld&) const { return 1; }
    int operator()(const TemperatureFar&) const { return 1; }
    int operator()(const NoCalibrationStated&) const { return 2; }
    int operator()(const NoZeroCheck&) const { return 2; }
    int operator()(const NoDatumCheck&) const { return 2; }
  };
  return std::visit(Grade{}, warning.what);
}

/// Finds the warnings of one instrument.
class Warnings {
 public:
  Warnings(const sheet::KitInstrument& instrument, std::span<const book::NumberedEntry> checks,
           std::optional<Days> day, std::optional<double> temperature_C)
      : instrument_(instrument), checks_(checks), day_(day), temperature_C_(temperature_C) {}

  std::vector<Warning> take() {
    calibration();
    std::vector<Channel> unchecked;
    for (const sheet::KitChannel& channel : instrument_.channels) {
      if (channel.gives == Channel::distance)
        datum(channel);
      else if (is_measured_of_run(channel.gives) && channel.zero_sigma > 0 && !zero(channel))
        unchecked.push_back(channel.gives);
    }
    if (!unchecked.empty()) add(NoZeroCheck{std::move(unchecked)});
    return std::move(found_);
  }

 private:
  template <class What>
  void add(What what) {
    found_.push_back({instrument_.name, std::move(what)});
  }

  void calibration() {
    if (!instrument_.calibration) return add(NoCalibrationStated{});
    const std::optional<Days> due = day_of(instrument_.calibration->due);
    if (!due || !day_) return;
    const auto left = (*due - *day_).count();
    if (left < 0)
      add(CalibrationOverdue{instrument_.calibration->due});
    else if (left <= kCalibrationSoon_days)
      add(CalibrationDue{instrument_.calibration->due, static_cast<int>(left)});
  }

  void age_and_temperature(Channel channel, book::Time time, std::optional<double> temperature_C) {
    if (day_) {
      const auto age = (*day_ - std::chrono::floor<std::chrono::days>(time)).count();
      if (age > kCheckKeeps_days) add(CheckIsOld{channel, static_cast<int>(age)});
    }
    if (temperature_C && temperature_C_ && std::abs(*temperature_C_ - *temperature_C) > kTemperatureFar_C)
      add(TemperatureFar{channel, *temperature_C_, *temperature_C});
  }

  // False: never checked.
  bool zero(const sheet::KitChannel& channel) {
    const std::vector<DatedZero> all = zero_checks(checks_, instrument_.name, word(channel.gives));
    if (all.empty()) return false;
    const book::ZeroCheck& last = *all.back().check;
    if (std::abs(last.zero) > kServiceSigmas * channel.zero_sigma)
      add(ZeroTooLarge{channel.gives, last.zero, channel.zero_sigma});
    if (all.size() > 1) {
      const book::ZeroCheck& former = *all[all.size() - 2].check;
      const Drift moved = drift(former.zero, former.sigma, last.zero, last.sigma, channel.zero_keeps);
      if (moved.significant)
        add(HasDrifted{channel.gives, moved.by, moved.sigma, all[all.size() - 2].time, all.back().time});
    }
    age_and_temperature(channel.gives, all.back().time, last.temperature_C);
    return true;
  }

  void datum(const sheet::KitChannel& channel) {
    const std::vector<DatedTilt> all = datum_checks(checks_, instrument_.name);
    if (all.empty()) return add(NoDatumCheck{});
    const book::DatumCheck& last = *all.back().check;
    if (all.size() > 1) {
      const book::DatumCheck& former = *all[all.size() - 2].check;
      const double apart = last.far_m - last.near_m;
      const double keeps = apart > 0 ? channel.sigma / apart : 0;
      const Drift moved = drift(former.tilt_rad, former.sigma_rad, last.tilt_rad, last.sigma_rad, keeps);
      if (moved.significant)
        add(HasDrifted{channel.gives, moved.by, moved.sigma, all[all.size() - 2].time, all.back().time});
    }
    age_and_temperature(channel.gives, all.back().time, last.temperature_C);
  }

  const sheet::KitInstrument& instrument_;
  std::span<const book::NumberedEntry> checks_;
  std::optional<Days> day_;
  std::optional<double> temperature_C_;
  std::vector<Warning> found_;
};

/// The last scale check of that channel that went by its lines as they are now; else the last of any.
std::optional<CheckedScale> scale_of(std::span<const book::NumberedEntry> entries,
                                     const std::string& instrument, const sheet::KitChannel& channel) {
  const std::string now = lines_hash(channel);
  std::optional<CheckedScale> last;
  for (const book::NumberedEntry& each : entries) {
    const auto* const check = std::get_if<book::ScaleCheck>(&each.entry.content);
    if (check == nullptr || check->instrument != instrument || check->channel != word(channel.gives))
      continue;
    if (last && last->lines_hash == now && check->lines_hash != now) continue;
    last = CheckedScale{{instrument, channel.gives}, check->lines_hash, check->sound, each.entry.time};
  }
  return last;
}

}  // namespace

Checks gather_checks(const sheet::KitSheet& kit, std::span<const book::NumberedEntry> entries) {
  Checks checks;
  for (const sheet::KitInstrument& instrument : kit.instruments)
    for (const sheet::KitChannel& channel : instrument.channels) {
      if (auto scale = scale_of(entries, instrument.name, channel))
        checks.scales.push_back(std::move(*scale));
      if (channel.gives == Channel::distance) {
        const std::vector<DatedTilt> all = datum_checks(entries, instrument.name);
        if (all.empty()) continue;
        const book::DatumCheck& last = *all.back().check;
        checks.tilts.push_back({instrument.name, last.tilt_rad,
                                std::hypot(last.sigma_rad, set_up_sigma(last, channel.sigma)),
                                all.back().time});
      } else if (is_measured_of_run(channel.gives) && channel.zero_sigma > 0) {
        const std::vector<DatedZero> all = zero_checks(entries, instrument.name, word(channel.gives));
        if (all.empty()) continue;
        const book::ZeroCheck& last = *all.back().check;
        checks.zeros.push_back({{instrument.name, channel.gives},
                                last.zero,
                                std::hypot(last.sigma, channel.zero_keeps),
                                all.back().time});
      }
    }
  return checks;
}

std::vector<Warning> check_warnings(const sheet::KitSheet& kit, std::span<const book::NumberedEntry> checks,
                                    const Occasion& occasion) {
  std::vector<Warning> warnings;
  for (const sheet::KitInstrument& instrument : kit.instruments) {
    const auto used = std::find_if(occasion.instruments.begin(), occasion.instruments.end(),
                                   [&](const auto& each) { return each.name == instrument.name; });
    if (!occasion.instruments.empty() && used == occasion.instruments.end()) continue;
    const std::optional<double> temperature_C =
        used == occasion.instruments.end() ? std::nullopt : used->temperature_C;
    for (Warning& each : Warnings(instrument, checks, day_of(occasion.date), temperature_C).take())
      warnings.push_back(std::move(each));
  }
  std::stable_sort(warnings.begin(), warnings.end(),
                   [](const Warning& a, const Warning& b) { return grade(a) < grade(b); });
  return warnings;
}

Checks checks_for_survey(const sheet::KitSheet& kit, std::span<const book::NumberedEntry> checks,
                         book::Number survey, std::span<const book::NumberedEntry> of_survey) {
  book::Number end = survey;
  Occasion occasion;
  std::map<std::string, std::optional<double>> stands_at_m;
  std::map<std::string, std::vector<double>> temperatures_C;
  for (const book::NumberedEntry& each : of_survey) {
    if (const auto* const set_up = std::get_if<book::SetUp>(&each.entry.content)) {
      stands_at_m[set_up->name] = set_up->stands_at_m;
    } else if (const auto* const taken = std::get_if<book::Taken>(&each.entry.content)) {
      end = std::max(end, each.number);
      occasion.date = std::max(occasion.date, taken->reading.time.substr(0, 10));
      std::vector<double>& of_instrument = temperatures_C[taken->reading.instrument];
      if (taken->temperature_C) of_instrument.push_back(*taken->temperature_C);
    } else if (std::holds_alternative<book::SurveyClosed>(each.entry.content)) {
      end = std::max(end, each.number);
    }
  }
  for (const auto& [name, values] : temperatures_C) {
    occasion.instruments.push_back({name, std::nullopt});
    if (!values.empty())
      occasion.instruments.back().temperature_C =
          std::accumulate(values.begin(), values.end(), 0.0) / double(values.size());
  }

  std::vector<book::NumberedEntry> counting;
  for (const book::NumberedEntry& each : checks)
    if (each.number <= end || each.entry.survey == survey) counting.push_back(each);
  Checks result = gather_checks(kit, counting);
  for (const auto& [name, place_m] : stands_at_m)
    if (place_m) result.set_ups.push_back({name, *place_m});
  if (!temperatures_C.empty()) result.warnings = check_warnings(kit, counting, occasion);
  return result;
}

Drift drift(double former, double former_sigma, double now, double now_sigma, double keeps) {
  Drift result;
  result.by = now - former;
  result.sigma = std::hypot(former_sigma, now_sigma, keeps);
  const fit::OffsetTest test =
      fit::test_offset(result.by, result.sigma, std::numeric_limits<double>::infinity(), kAlarmConfidence);
  result.p_value = test.p_value;
  result.significant = test.verdict == fit::OffsetVerdict::significant;
  return result;
}

std::optional<book::Time> time_of(const std::string& text) {
  const std::optional<Days> day = day_of(text.substr(0, 10));
  int hour = 0, minute = 0, second = 0, end = 0;
  if (!day || std::sscanf(text.c_str() + std::min<std::size_t>(10, text.size()), "T%2d:%2d:%2d%n", &hour,
                          &minute, &second, &end) != 3)
    return std::nullopt;
  std::size_t at = 10 + std::size_t(end);
  using namespace std::chrono;
  auto time = sys_time<microseconds>(*day) + hours(hour) + minutes(minute) + seconds(second);
  if (at < text.size() && text[at] == '.') {
    microseconds place(100000);
    for (++at; at < text.size() && text[at] >= '0' && text[at] <= '9'; ++at, place /= 10)
      time += place * (text[at] - '0');
  }
  int off_hour = 0, off_minute = 0;
  if (at < text.size() && text[at] == 'Z') return time_point_cast<book::Time::duration>(time);
  if (at >= text.size() || (text[at] != '+' && text[at] != '-') ||
      std::sscanf(text.c_str() + at + 1, "%2d:%2d", &off_hour, &off_minute) != 2)
    return std::nullopt;
  const auto off = hours(off_hour) + minutes(off_minute);
  return time_point_cast<book::Time::duration>(text[at] == '+' ? time - off : time + off);
}

}  // namespace hangtrue::job

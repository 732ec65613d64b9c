#include "firmware-host/daemon/instrument_line.hpp"

#include <cstdio>
#include <tuple>
#include <utility>

#include "core/quantity/units.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {

namespace {

/// As the kit sheet has it, or what no run and no room goes beyond: 45 degrees, 100 m.
std::pair<double, double> range_of(const sheet::KitChannel& channel) {
  const double most = channel.gives == Channel::distance ? 100 : channel.gives == Channel::roll ? kPi / 4 : 1;
  return {channel.range_from.value_or(-most), channel.range_to.value_or(most)};
}

survey::SettleLimits<double> limits(const sheet::KitChannel& channel) {
  survey::SettleLimits<double> result;
  result.window_us = std::uint64_t(channel.settle_window_s * 1e6);
  result.spread = channel.settle_spread;
  result.sigma = channel.sigma;
  std::tie(result.range_from, result.range_to) = range_of(channel);
  return result;
}

constexpr std::int64_t kTemperatureIsNews_us = 60'000'000;

std::string in_kit(const sheet::KitChannel& channel) {
  return "does it call it \"" + channel.transducer + "\"";
}

/// What is worse comes first.
int badness(survey::Verdict verdict) {
  switch (verdict) {
    case survey::Verdict::not_finite:
      return 5;
    case survey::Verdict::out_of_range:
      return 4;
    case survey::Verdict::stuck:
      return 3;
    case survey::Verdict::never_seen:
    case survey::Verdict::stale:
      return 2;
    case survey::Verdict::noisy:
      return 1;
    case survey::Verdict::settled:
    case survey::Verdict::moving:
      break;
  }
  return 0;
}

}  // namespace

std::string_view word(survey::Verdict verdict) {
  switch (verdict) {
    case survey::Verdict::never_seen:
      return "never seen";
    case survey::Verdict::stale:
      return "nothing comes any more";
    case survey::Verdict::not_finite:
      return "not a number";
    case survey::Verdict::out_of_range:
      return "out of its range";
    case survey::Verdict::stuck:
      return "stuck at one value";
    case survey::Verdict::settled:
      return "settled";
    case survey::Verdict::noisy:
      return "does not come to rest";
    case survey::Verdict::moving:
      return "still moving";
  }
  return "";
}

std::string show_value(Channel gives, double value, sheet::Show show) {
  if (gives == Channel::distance) return sheet::show_fine(value, show);
  if (gives == Channel::slope || gives == Channel::roll) return sheet::show_slope(value, show);
  char text[32];
  std::snprintf(text, sizeof text, gives == Channel::temperature ? "%.1f C" : "%.0f", value);
  return text;
}

InstrumentLine::InstrumentLine(const sheet::KitInstrument& kit) : kit_(kit) {
  for (const sheet::KitChannel& channel : kit.channels)
    channels_.push_back({&channel, survey::Settling<double>(limits(channel)), false, {}, {}});
}

void InstrumentLine::sample(const wire::Sample& sample, std::int64_t now_us, std::optional<double> ambient_C,
                            const OnStation& on_station, const OnSettled& on_settled) {
  if (sample.gives == Channel::station) {
    const auto station = std::size_t(sample.value);
    if (station_ != station) on_station(station);
    station_ = station;
    return;
  }
  LiveChannel& channel = channels_[sample.channel];
  if (sample.gives == Channel::temperature) {
    temperature_C_ = sample.value;
    temperature_at_us_ = now_us;
  }
  channel.raw_at_us.push_back(now_us);
  channel.raw_values.push_back(sample.value);
  if (!channel.is_reading()) return;
  const auto own_C = temperature_C(now_us);
  channel.settling.add(std::uint64_t(now_us), sample.value, own_C ? own_C : ambient_C);
  if (channel.announced || channel.settling.verdict(std::uint64_t(now_us)) != survey::Verdict::settled)
    return;
  channel.announced = true;
  on_settled(channel);
}

std::optional<double> InstrumentLine::temperature_C(std::int64_t now_us) const {
  return now_us - temperature_at_us_ <= kTemperatureIsNews_us ? temperature_C_ : std::nullopt;
}

void InstrumentLine::lost(std::int64_t now_us) {
  station_.reset();  // it may be carried elsewhere before it speaks again
  for (LiveChannel& channel : channels_) {
    channel.settling.restart(std::uint64_t(now_us));
    channel.announced = false;
  }
}

void InstrumentLine::restart(std::int64_t now_us, bool fixed) {
  for (LiveChannel& channel : channels_) {
    if (!channel.is_reading() || channel.walks() == fixed) continue;
    channel.settling.restart(std::uint64_t(now_us));
    channel.announced = false;
  }
}

std::vector<book::Samples> InstrumentLine::raw(std::chrono::system_clock::duration offset) {
  std::vector<book::Samples> all;
  for (LiveChannel& channel : channels_) {
    if (channel.raw_values.empty()) continue;
    book::Samples samples;
    samples.instrument = kit_.name;
    samples.channel = word(channel.kit->gives);
    const std::int64_t from_us = channel.raw_at_us.front();
    samples.from = book::Time(
        std::chrono::duration_cast<book::Time::duration>(std::chrono::microseconds(from_us)) + offset);
    for (const std::int64_t at_us : channel.raw_at_us) samples.after_us.push_back(at_us - from_us);
    samples.values = std::move(channel.raw_values);
    channel.raw_at_us.clear();
    channel.raw_values.clear();
    all.push_back(std::move(samples));
  }
  return all;
}

std::string InstrumentLine::words(const LiveChannel& channel, std::int64_t now_us, sheet::Show show) const {
  const Channel gives = channel.kit->gives;
  const survey::Verdict verdict = channel.settling.verdict(std::uint64_t(now_us));
  std::string text = std::string(word(gives)) + ' ' + std::string(word(verdict));
  const auto newest = channel.settling.newest();
  if (!newest || verdict == survey::Verdict::stale) return text;
  if (verdict == survey::Verdict::moving || verdict == survey::Verdict::noisy)
    return text + ", spread " + show_value(gives, channel.settling.spread(), show) + ", may be " +
           show_value(gives, channel.kit->settle_spread, show);
  return text + ", " + show_value(gives, *newest, show);
}

std::vector<std::string> InstrumentLine::status(std::int64_t now_us, sheet::Show show) const {
  std::vector<std::string> lines;
  for (const LiveChannel& channel : channels_)
    if (channel.is_reading()) lines.push_back(kit_.name + ' ' + words(channel, now_us, show));
  return lines;
}

InstrumentState InstrumentLine::state(std::int64_t now_us, sheet::Show show) const {
  const LiveChannel* worst = nullptr;
  survey::Verdict verdict = survey::Verdict::moving;
  bool any_comes = false;
  for (const LiveChannel& channel : channels_) {
    if (!channel.is_reading()) continue;
    const survey::Verdict here = channel.settling.verdict(std::uint64_t(now_us));
    any_comes = any_comes || (here != survey::Verdict::never_seen && here != survey::Verdict::stale);
    if (worst != nullptr && badness(here) <= badness(verdict)) continue;
    worst = &channel;
    verdict = here;
  }
  if (worst == nullptr) return {"well", "gives no readings, and is listened to for what it gives", true};
  const Channel gives = worst->kit->gives;
  const std::string name(word(gives));
  switch (verdict) {
    case survey::Verdict::never_seen:
      return {"silent", "no " + name + " has come yet; is it switched on, and " + in_kit(*worst->kit) + "?",
              any_comes};
    case survey::Verdict::stale:
      return {"silent", "no " + name + " comes any more; is it switched on, and its battery good?",
              any_comes};
    case survey::Verdict::not_finite:
      return {"not a number", name + " comes as no number", true};
    case survey::Verdict::out_of_range: {
      const double newest = worst->settling.newest().value_or(0);
      return {"out of range",
              name + " is " + show_value(gives, newest, show) + ", beyond the " +
                  show_value(gives, range_of(*worst->kit).first, show) + " to " +
                  show_value(gives, range_of(*worst->kit).second, show) + " that " +
                  (worst->kit->range_from ? "the kit sheet gives it" : "it can be") +
                  "; does it stand where it should, and in the unit it should?",
              true};
    }
    case survey::Verdict::stuck:
      return {"stuck",
              name + " has been the very same " +
                  show_value(gives, worst->settling.newest().value_or(0), show) +
                  " for over a minute, though it varied before; switch it off and on",
              true};
    case survey::Verdict::noisy:
      return {"noisy",
              name + " does not come to rest: it spreads over " +
                  show_value(gives, worst->settling.spread(), show) + ", and may over " +
                  show_value(gives, worst->kit->settle_spread, show) +
                  "; is somebody on the run, or the instrument loose?",
              true};
    case survey::Verdict::settled:
    case survey::Verdict::moving:
      break;
  }
  return {"well", "speaks", true};
}

}  // namespace hangtrue::daemon

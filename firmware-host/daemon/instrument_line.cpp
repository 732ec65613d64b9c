#include "firmware-host/daemon/instrument_line.hpp"

#include <cmath>
#include <tuple>
#include <utility>

#include "firmware-host/daemon/thresholds.hpp"

namespace hangtrue::daemon {

namespace {

/// As the kit sheet has it, or what no run and no room goes beyond: 45 degrees, 100 m.
std::pair<double, double> range_of(const sheet::KitChannel& channel) {
  const double most = channel.gives == Channel::distance ? kFarthest_m
                      : channel.gives == Channel::roll   ? std::atan(kSteepest)
                                                         : kSteepest;
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

InstrumentLine::InstrumentLine(const sheet::KitInstrument& kit) : kit_(kit) {
  for (const sheet::KitChannel& channel : kit.channels)
    channels_.push_back({&channel, survey::Settling<double>(limits(channel)), false, {}, {}, {}, 0});
}

void InstrumentLine::sample(const wire::Sample& sample, std::int64_t now_us, bool is_of_now,
                            std::optional<double> ambient_C, const OnStation& on_station,
                            const OnSettled& on_settled) {
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
  if (channel.raw_values.size() < kMostRaw) {
    channel.raw_at_us.push_back(now_us);
    channel.raw_values.push_back(sample.value);
  } else {
    ++channel.raw_passed_over;
  }
  if (channel.is_reading() && std::isfinite(sample.value)) {
    if (!channel.recent.empty())
      channel.gap_us = std::min(now_us - channel.recent.back().first, kLongestGap_us);
    channel.recent.emplace_back(now_us, sample.value);
    while (channel.recent.size() > kMostRaw || channel.recent.front().first < now_us - kWatchWindow_us)
      channel.recent.pop_front();
  }
  if (!channel.is_reading() || !is_of_now) return;
  const auto own_C = temperature_C(now_us);
  channel.settling.add(std::uint64_t(now_us), sample.value, own_C ? own_C : ambient_C);
  if (channel.announced || channel.settling.verdict(std::uint64_t(now_us)) != survey::Verdict::settled)
    return;
  channel.announced = true;
  on_settled(channel);
}

std::optional<InstrumentLine::Recent> InstrumentLine::recent(const LiveChannel& channel,
                                                             std::int64_t now_us) {
  double sum = 0, squares = 0;
  int count = 0;
  const std::int64_t oldest_us = now_us - std::max(2 * kWatchWindow_us, channel.gap_us + channel.gap_us / 2);
  for (const auto& [at_us, value] : channel.recent) {
    if (at_us < oldest_us) continue;
    const double less = value - channel.recent.front().second;
    sum += less;
    squares += less * less;
    ++count;
  }
  if (count == 0) return std::nullopt;
  const double mean = sum / count;
  return Recent{channel.recent.front().second + mean,
                std::sqrt(std::max(0.0, squares / count - mean * mean))};
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
    samples.from = book::Time(std::chrono::microseconds(from_us) +
                              std::chrono::duration_cast<book::Time::duration>(offset));
    for (const std::int64_t at_us : channel.raw_at_us) samples.after_us.push_back(at_us - from_us);
    samples.values = std::move(channel.raw_values);
    channel.raw_at_us.clear();
    channel.raw_values.clear();
    all.push_back(std::move(samples));
  }
  return all;
}

job::ChannelState InstrumentLine::state(const LiveChannel& channel, std::int64_t now_us) const {
  return {channel.kit->gives, channel.settling.verdict(std::uint64_t(now_us)), channel.settling.newest(),
          channel.settling.spread(), channel.kit->settle_spread};
}

job::InstrumentState InstrumentLine::state(std::int64_t now_us) const {
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
  if (worst == nullptr) return {job::GivesNoReadings{}, true};
  const Channel gives = worst->kit->gives;
  const double newest = worst->settling.newest().value_or(0);
  switch (verdict) {
    case survey::Verdict::never_seen:
      return {job::NeverCame{gives, worst->kit->transducer}, any_comes};
    case survey::Verdict::stale:
      return {job::ComesNoMore{gives}, any_comes};
    case survey::Verdict::not_finite:
      return {job::NotANumber{gives}, true};
    case survey::Verdict::out_of_range: {
      const auto [from, to] = range_of(*worst->kit);
      return {job::OutOfRange{gives, newest, from, to, worst->kit->range_from.has_value()}, true};
    }
    case survey::Verdict::stuck:
      return {job::StuckAt{gives, newest}, true};
    case survey::Verdict::noisy:
      return {job::NotAtRest{gives, worst->settling.spread(), worst->kit->settle_spread}, true};
    case survey::Verdict::settled:
    case survey::Verdict::moving:
      break;
  }
  return {job::Speaks{}, true};
}

}  // namespace hangtrue::daemon

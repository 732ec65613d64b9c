#include "firmware-host/daemon/instrument_line.hpp"

#include <cstdio>

#include "firmware-host/session/words.hpp"

namespace hangtrue::daemon {

namespace {

survey::SettleLimits<double> limits(const sheet::KitChannel& channel) {
  survey::SettleLimits<double> result;
  result.window_us = std::uint64_t(channel.settle_window_s * 1e6);
  result.spread = channel.settle_spread;
  result.sigma = channel.sigma;
  if (channel.range_from) result.range_from = *channel.range_from;
  if (channel.range_to) result.range_to = *channel.range_to;
  return result;
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

std::string show_value(sheet::Gives gives, double value, sheet::Show show) {
  if (gives == sheet::Gives::distance) return sheet::show_fine(value, show);
  if (gives == sheet::Gives::slope || gives == sheet::Gives::roll) return sheet::show_slope(value, show);
  char text[32];
  std::snprintf(text, sizeof text, gives == sheet::Gives::temperature ? "%.1f C" : "%.0f", value);
  return text;
}

InstrumentLine::InstrumentLine(const sheet::KitInstrument& kit, std::size_t stations)
    : kit_(kit), map_(kit, stations) {
  for (const sheet::KitChannel& channel : kit.channels)
    channels_.push_back({&channel, survey::Settling<double>(limits(channel)), false, {}, {}});
}

void InstrumentLine::bytes(std::string_view chunk, std::int64_t now_us, const OnStation& on_station,
                           const OnSettled& on_settled) {
  reader_.push(chunk, [&](std::span<const wire::XdrQuad> quads) {
    map_.read(quads, [&](const wire::Sample& sample) {
      if (sample.gives == sheet::Gives::station) {
        const auto station = std::size_t(sample.value);
        if (station_ != station) on_station(station);
        station_ = station;
        return;
      }
      Channel& channel = channels_[sample.channel];
      if (sample.gives == sheet::Gives::temperature) temperature_C_ = sample.value;
      channel.raw_at_us.push_back(now_us);
      channel.raw_values.push_back(sample.value);
      if (!channel.is_reading()) return;
      channel.settling.add(std::uint64_t(now_us), sample.value, temperature_C_);
      const bool settled = channel.settling.verdict(std::uint64_t(now_us)) == survey::Verdict::settled;
      if (settled && !channel.announced) {
        channel.announced = true;
        on_settled(channel);
      }
    });
  });
}

void InstrumentLine::lost(std::int64_t now_us) {
  reader_.finish();
  station_.reset();  // it may be carried elsewhere before it speaks again
  for (Channel& channel : channels_) {
    channel.settling.restart(std::uint64_t(now_us));
    channel.announced = false;
  }
}

void InstrumentLine::restart(std::int64_t now_us, bool fixed) {
  for (Channel& channel : channels_) {
    if (!channel.is_reading() || channel.walks() == fixed) continue;
    channel.settling.restart(std::uint64_t(now_us));
    channel.announced = false;
  }
}

std::vector<book::Samples> InstrumentLine::raw(std::chrono::system_clock::duration offset) {
  std::vector<book::Samples> all;
  for (Channel& channel : channels_) {
    if (channel.raw_values.empty()) continue;
    book::Samples samples;
    samples.instrument = kit_.name;
    samples.channel = session::word(channel.kit->gives);
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

std::string InstrumentLine::words(const Channel& channel, std::int64_t now_us, sheet::Show show) const {
  const sheet::Gives gives = channel.kit->gives;
  const survey::Verdict verdict = channel.settling.verdict(std::uint64_t(now_us));
  std::string text = std::string(session::word(gives)) + ' ' + std::string(word(verdict));
  const auto newest = channel.settling.newest();
  if (!newest || verdict == survey::Verdict::stale) return text;
  if (verdict == survey::Verdict::moving || verdict == survey::Verdict::noisy)
    return text + ", spread " + show_value(gives, channel.settling.spread(), show) + ", may be " +
           show_value(gives, channel.kit->settle_spread, show);
  return text + ", " + show_value(gives, *newest, show);
}

std::vector<std::string> InstrumentLine::status(std::int64_t now_us, sheet::Show show) const {
  std::vector<std::string> lines;
  std::string bytes = kit_.name + ": " + std::to_string(reader_.bytes_in()) + " bytes in, " +
                      std::to_string(reader_.bytes_used()) + " used, " +
                      std::to_string(reader_.bytes_pending()) + " pending";
  for (int i = 0; i < int(wire::Dropped::count); ++i)
    if (const auto count = reader_.bytes_dropped(wire::Dropped(i)); count > 0)
      bytes += ", " + std::to_string(count) + " dropped: " + std::string(wire::name(wire::Dropped(i)));
  for (int i = 0; i < int(wire::XdrFault::count); ++i)
    if (const auto count = reader_.bytes_refused(wire::XdrFault(i)); count > 0)
      bytes += ", " + std::to_string(count) + " refused: " + std::string(wire::name(wire::XdrFault(i)));
  lines.push_back(std::move(bytes));
  for (const auto& [name, count] : map_.unknown())
    lines.push_back(kit_.name + ": " + std::to_string(count) + " values of " + name +
                    ", which none of its channels reads");
  if (map_.not_usable() > 0)
    lines.push_back(kit_.name + ": " + std::to_string(map_.not_usable()) +
                    " values that cannot be: an angle that is no slope, a station that the run has not");
  for (const Channel& channel : channels_)
    if (channel.is_reading()) lines.push_back(kit_.name + ' ' + words(channel, now_us, show));
  return lines;
}

}  // namespace hangtrue::daemon

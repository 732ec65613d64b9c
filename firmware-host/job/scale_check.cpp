#include "firmware-host/job/scale_check.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "firmware-host/book/sha256.hpp"

namespace hangtrue::job {
namespace {

std::string or_none(const std::optional<double>& value) { return value ? fmt::format("{}", *value) : "none"; }

const sheet::KitInstrument* instrument_named(const sheet::KitSheet& kit, const std::string& name) {
  const auto found = std::find_if(kit.instruments.begin(), kit.instruments.end(),
                                  [&](const sheet::KitInstrument& each) { return each.name == name; });
  return found == kit.instruments.end() ? nullptr : &*found;
}

/// The day of the last reading, as it is written; empty where none has a time.
std::string last_day(std::span<const sheet::ReadingEntry> readings) {
  std::string last;
  for (const sheet::ReadingEntry& each : readings) last = std::max(last, each.time.substr(0, 10));
  return last;
}

/// Days are RFC 3339 full-dates, which are in order where their texts are.
std::optional<ScaleGap> gap_of(const sheet::KitInstrument& instrument, const sheet::KitChannel& channel,
                               const CheckedScale* booked, const std::string& last_reading) {
  const std::string calibrated = instrument.calibration ? instrument.calibration->date : "";
  const std::string due = instrument.calibration ? instrument.calibration->due : "";
  if (booked == nullptr && !channel.scale_checked) return ScaleGap::never_checked;

  const std::string booked_day = booked != nullptr ? book::rfc3339(booked->time).substr(0, 10) : "";
  const bool same_lines = booked != nullptr && booked->lines_hash == lines_hash(channel);
  const bool failed = same_lines && !booked->sound;
  // The later word of the two.
  std::optional<std::string> day;
  if (same_lines && booked->sound) day = booked_day;
  if (channel.scale_checked && !(failed && *channel.scale_checked <= booked_day))
    day = std::max(day.value_or(""), *channel.scale_checked);
  if (!day) return failed ? ScaleGap::failed : ScaleGap::lines_changed;
  if (*day < calibrated) return ScaleGap::calibrated_since;
  if (!due.empty() && last_reading > due) return ScaleGap::calibration_past_due;
  return std::nullopt;
}

}  // namespace

std::string lines_hash(const sheet::KitChannel& channel) {
  std::string text = fmt::format("transducer {}\nwithin {}\ngives {}\nunit {}\nsign {}\n", channel.transducer,
                                 channel.within, word(channel.gives), channel.unit, channel.sign);
  if (channel.modbus)
    text += fmt::format("register {} {} {} {} scale {}\n", channel.modbus->holding, channel.modbus->number,
                        int(channel.modbus->type), channel.modbus->high_word_first, channel.modbus->scale);
  text += fmt::format("base {}\nrange {} {}\nsigma {}\nzero {} {}\nsettle {} {}\nstation {}\nedge {}\n",
                      channel.base_m, or_none(channel.range_from), or_none(channel.range_to), channel.sigma,
                      channel.zero_sigma, channel.zero_keeps, channel.settle_window_s, channel.settle_spread,
                      or_none(channel.station_m), int(channel.edge));
  return book::sha256(text);
}

std::vector<UncheckedScale> unchecked_scales(const sheet::KitSheet* kit, const Checks& checks,
                                             std::span<const sheet::ReadingEntry> readings) {
  const std::string last_reading = last_day(readings);
  std::vector<ChannelId> seen;
  std::vector<UncheckedScale> unchecked;
  for (const sheet::ReadingEntry& reading : readings) {
    const ChannelId id{reading.instrument, reading.channel};
    if (std::find(seen.begin(), seen.end(), id) != seen.end()) continue;
    seen.push_back(id);
    const sheet::KitInstrument* const instrument =
        kit != nullptr ? instrument_named(*kit, id.instrument) : nullptr;
    const sheet::KitChannel* const channel =
        instrument != nullptr ? kit->find(id.instrument, id.channel) : nullptr;
    if (channel == nullptr) {
      unchecked.push_back({id, ScaleGap::no_kit_sheet});
      continue;
    }
    const auto booked = std::find_if(checks.scales.begin(), checks.scales.end(),
                                     [&](const CheckedScale& each) { return each.channel == id; });
    if (const auto gap =
            gap_of(*instrument, *channel, booked == checks.scales.end() ? nullptr : &*booked, last_reading))
      unchecked.push_back({id, *gap});
  }
  return unchecked;
}

std::vector<ChannelId> channels_without_scale_check(const sheet::KitSheet* kit, const Checks& checks,
                                                    std::span<const sheet::ReadingEntry> readings) {
  std::vector<ChannelId> channels;
  for (UncheckedScale& each : unchecked_scales(kit, checks, readings))
    channels.push_back(std::move(each.channel));
  return channels;
}

}  // namespace hangtrue::job

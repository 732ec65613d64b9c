#include "firmware-host/daemon/kept_readings.hpp"

#include <algorithm>
#include <set>
#include <utility>

#include "firmware-host/daemon/reading_words.hpp"
#include "firmware-host/wire/xdr.hpp"

namespace hangtrue::daemon {
namespace {

using Json = nlohmann::ordered_json;

/// The fields between '$' and '*'.
std::vector<std::string_view> fields_of(std::string_view sentence) {
  std::string_view rest = sentence.substr(1, sentence.rfind('*') - 1);
  std::vector<std::string_view> fields;
  for (;;) {
    const std::size_t comma = rest.find(',');
    fields.push_back(rest.substr(0, comma));
    if (comma == std::string_view::npos) return fields;
    rest.remove_prefix(comma + 1);
  }
}

/// The beginning of the note of each entry.
std::string note_of(const std::string& instrument, const KeptEntry& entry) {
  return "kept by " + instrument + ": " + entry.sentence;
}

}  // namespace

std::optional<KeptEntry> kept_entry(std::string_view sentence) {
  const std::vector<std::string_view> fields = fields_of(sentence);
  if (fields.size() != 8 || fields.front() != "HTLOG") return std::nullopt;
  double value[7];
  for (std::size_t k = 0; k < 7; ++k) {
    const auto number = wire::parse_decimal(fields[k + 1]);
    if (!number) return std::nullopt;
    value[k] = *number;
  }
  if (!(value[0] >= 1 && value[0] <= 4294967295.0) || !(value[1] >= 0 && value[1] <= 65535) ||
      !(value[3] >= 0) || !(value[5] >= 0))
    return std::nullopt;
  return KeptEntry{std::string(sentence),
                   std::uint32_t(value[0]),
                   int(value[1]),
                   value[2],
                   value[3],
                   value[4],
                   value[5],
                   value[6]};
}

std::optional<Answer> KeptReadings::begin() {
  asked_.clear();
  for (std::size_t i = 0; i < instruments_.size(); ++i)
    if (instruments_.is_node(i)) asked_.push_back({i, {}});
  if (asked_.empty())
    return refused(
        "take kept",
        sheets_.told("no node speaks; only a node keeps readings while this program is not there"));
  for (const HandOver& each : asked_) instruments_.say_to_node(each.instrument, "log");
  return std::nullopt;
}

void KeptReadings::heard(std::size_t instrument, std::string_view sentence) {
  const auto of = std::find_if(asked_.begin(), asked_.end(),
                               [&](const HandOver& each) { return each.instrument == instrument; });
  if (of == asked_.end() || of->whole) return;
  if (auto entry = kept_entry(sentence)) {
    of->entries.push_back(*std::move(entry));
    return;
  }
  const std::vector<std::string_view> fields = fields_of(sentence);
  if (fields.size() != 6 || fields[0] != "HTNOD" || fields[1] != "log" || fields[2] != "handed over") return;
  const auto count = wire::parse_decimal(fields[3]), lost = wire::parse_decimal(fields[5]);
  if (count && lost && std::size_t(*count) == of->entries.size()) {
    of->whole = true;
    of->lost = std::int64_t(*lost);
    return;
  }
  of->entries.clear();
  instruments_.say_to_node(instrument, "log");
}

Looked KeptReadings::look(bool late) {
  for (const HandOver& each : asked_) {
    if (each.whole) continue;
    const std::string& name = instruments_.kit(each.instrument).name;
    if (late)
      return refused(
          "take kept",
          sheets_.told("{} did not hand over all that it keeps; nothing was taken, and it keeps it", name));
    return sheets_.told("{} hands over what it keeps", name);
  }
  return take();
}

std::vector<sheet::ReadingEntry> KeptReadings::readings_of(const sheet::KitInstrument& kit,
                                                           const KeptEntry& entry) const {
  std::vector<sheet::ReadingEntry> readings;
  if (entry.station < 1 || entry.station > int(sheets_.run.stations_m.size())) return {};
  for (const sheet::KitChannel& channel : kit.channels) {
    if (channel.gives != Channel::slope && channel.gives != Channel::roll) continue;
    const bool slope = channel.gives == Channel::slope;
    sheet::ReadingEntry reading;
    reading.time = book::rfc3339(log_.now());
    reading.instrument = kit.name;
    reading.channel = channel.gives;
    reading.at_m = sheets_.run.stations_m[std::size_t(entry.station) - 1];
    reading.edge = channel.edge;
    reading.value = channel.sign * (slope ? entry.slope : entry.roll_rad);
    reading.sigma = std::max(channel.sigma, slope ? entry.slope_sigma : entry.roll_sigma_rad);
    reading.base_m = channel.base_m;
    reading.temperature_C = entry.temperature_C;
    if (reading.value < channel.range_from.value_or(reading.value) ||
        reading.value > channel.range_to.value_or(reading.value))
      return {};
    readings.push_back(std::move(reading));
  }
  return readings;
}

Answer KeptReadings::take() {
  const std::vector<HandOver> handed = std::exchange(asked_, {});
  const auto notes = log_.notes();
  if (!notes.ok()) return refused("take kept", sheets_.told(notes.fault()));
  const std::set<std::string> known(notes.value().begin(), notes.value().end());

  std::vector<book::Content> contents;
  std::vector<std::vector<sheet::ReadingEntry>> takes;
  int known_before = 0;
  std::vector<std::string> not_taken;
  for (const HandOver& node : handed) {
    const sheet::KitInstrument& kit = instruments_.kit(node.instrument);
    for (const KeptEntry& entry : node.entries) {
      const std::string note = note_of(kit.name, entry);
      if (known.count(note) > 0) {
        ++known_before;
        continue;
      }
      std::vector<sheet::ReadingEntry> readings = readings_of(kit, entry);
      for (const sheet::ReadingEntry& reading : readings)
        contents.push_back(book::Taken{reading, 1, 0, entry.temperature_C});
      contents.push_back(book::Note{note});
      if (readings.empty())
        not_taken.push_back(kit.name + " kept a reading that cannot be one of this run: entry " +
                            std::to_string(entry.number) + ", station " + std::to_string(entry.station));
      else
        takes.push_back(std::move(readings));
    }
    if (node.lost > 0)
      not_taken.push_back(kit.name + " has lost " + std::to_string(node.lost) +
                          " readings: its memory was full");
  }
  if (!contents.empty())
    if (const auto written = log_.append(contents); !written.ok())
      return refused("take kept", sheets_.told(written.fault()));
  std::size_t count = 0;
  for (std::vector<sheet::ReadingEntry>& readings : takes) {
    count += readings.size();
    survey_.add_take(std::move(readings));
  }
  for (const HandOver& node : handed)
    if (!node.entries.empty())
      instruments_.say_to_node(node.instrument, "taken " + std::to_string(node.entries.back().number));
  Answer answer = answered(
      Event::taken,
      sheets_.told("{} readings that were kept, at {} stops", count, takes.size()) +
          (known_before > 0 ? sheets_.told("; {} stops were in the book already", known_before) : Told()));
  answer.warnings = std::move(not_taken);
  answer.other_readings = count > 0;
  answer.changes = count > 0;
  return answer;
}

}  // namespace hangtrue::daemon

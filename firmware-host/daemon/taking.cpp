#include "firmware-host/daemon/taking.hpp"

#include <algorithm>
#include <utility>

#include "firmware-host/daemon/reading_words.hpp"
#include "firmware-host/say/instrument.hpp"

namespace hangtrue::daemon {
namespace {

using Json = nlohmann::ordered_json;
using LiveChannel = InstrumentLine::LiveChannel;

Told joined(const Told& some, const Told& more) {
  return some + (some.empty() || more.empty() ? "" : "; ") + more;
}

}  // namespace

bool Taking::is_meant(const LiveChannel& channel, const Take& command) const {
  return channel.is_reading() && channel.walks() != command.fixed &&
         (command.fixed || stand_.now().mark.empty() || channel.kit->gives == Channel::distance);
}

template <class Each>
void Taking::for_wanted(const Take& command, const Each& each) const {
  for (std::size_t i = 0; i < instruments_.size(); ++i)
    for (const LiveChannel& channel : instruments_.line(i).channels())
      if (is_meant(channel, command) && instruments_.state(i).speaks) each(i, channel);
}

Told Taking::not_speaking(const Take& command) const {
  Told words;
  for (std::size_t i = 0; i < instruments_.size(); ++i) {
    const auto& channels = instruments_.line(i).channels();
    if (std::none_of(channels.begin(), channels.end(),
                     [&](const LiveChannel& channel) { return is_meant(channel, command); }))
      continue;
    const job::InstrumentState now = instruments_.state(i);
    if (!now.speaks)
      words = joined(words, sheets_.both([&](const sheet::RunSheet& run) {
        return instruments_.kit(i).name + " (" + say::sentence(now, run.show) + ')';
      }));
  }
  return words;
}

Looked Taking::look(const Take& command, bool late) {
  int wanted = 0;
  Told unsettled;
  for_wanted(command, [&](std::size_t i, const LiveChannel& channel) {
    ++wanted;
    if (channel.settling.verdict(std::uint64_t(now_us())) != survey::Verdict::settled)
      unsettled = joined(unsettled, sheets_.both([&](const sheet::RunSheet& run) {
        return instruments_.kit(i).name + ' ' +
               say::words(instruments_.line(i).state(channel, now_us()), run.show);
      }));
  });
  const Told silent = not_speaking(command);
  if (wanted == 0)
    return refused("take", (command.fixed ? sheets_.told("no instrument that stays where it is speaks")
                            : stand_.now().mark.empty()
                                ? sheets_.told("no walking instrument speaks")
                                : sheets_.told("only a distance is read at a mark, and no walking "
                                               "instrument gives one now")) +
                               (silent.empty() ? Told() : ": " + silent));
  if (!unsettled.empty() && !late) return unsettled;
  return take(command, joined(unsettled, silent));
}

Answer Taking::take(const Take& command, const Told& missing) {
  std::vector<book::Content> contents;
  std::vector<sheet::ReadingEntry> readings;
  bool distance = false;
  for_wanted(command, [&](std::size_t i, const LiveChannel& channel) {
    const auto settled = channel.settling.value(std::uint64_t(now_us()));
    if (!settled.ok()) return;
    readings.push_back(entry(instruments_.kit(i), channel, settled.value()));
    distance = distance || channel.kit->gives == Channel::distance;
    contents.push_back(book::Taken{readings.back(), int(settled.value().count), settled.value().spread,
                                   settled.value().temperature_C});
  });
  if (readings.empty())
    return refused("take", missing.empty() ? sheets_.told("nothing has settled") : missing);
  const bool note_set_up = distance && !stand_.now().set_up_noted;
  if (note_set_up)
    contents.insert(contents.begin(), book::SetUp{stand_.now().set_up, stand_.now().laser_at_m});
  raw_.write();
  const auto written = log_.append(contents);
  if (!written.ok()) return refused("take", sheets_.told(written.fault()));

  if (note_set_up) stand_.set_up_is_noted();
  std::vector<book::Number> numbers;
  Json more{{"readings", Json::array()}};
  if (!missing.empty()) more["missing"] = missing.text;
  for (std::size_t k = 0; k < readings.size(); ++k) {
    numbers.push_back(written.value() + book::Number(k) + (note_set_up ? 1 : 0));
    more["readings"].push_back(reading_json(readings[k], numbers[k]));
  }
  Answer answer = answered(Event::taken,
                           sheets_.told("{} readings at ", numbers.size()) +
                               (command.fixed ? sheets_.told("their stations") : stand_.words()) +
                               (missing.empty() ? Told() : sheets_.told("; not: ") + missing),
                           std::move(more));
  answer.other_readings = true;
  survey_.add_take(std::move(readings));
  if (const auto walk = survey_.walk(); walk && walk->next && !stand_.is_at(*walk->next))
    answer.add(sheets_.both([&](const sheet::RunSheet& run) {
      return say::text(run.show, "; go on: {}", spot_words(walk->next->at_m, walk->next->mark, run.show));
    }));
  instruments_.restart(command.fixed);
  return answer;
}

sheet::ReadingEntry Taking::entry(const sheet::KitInstrument& kit, const LiveChannel& channel,
                                  const survey::Settled<double>& settled) const {
  const Place& place = stand_.now();
  sheet::ReadingEntry reading;
  const auto ago = std::chrono::microseconds(now_us() - std::int64_t(settled.to_us));
  reading.time = book::rfc3339(log_.now() - std::chrono::duration_cast<book::Time::duration>(ago));
  reading.instrument = kit.name;
  reading.channel = channel.kit->gives;
  const bool distance = reading.channel == Channel::distance;
  if (distance) reading.set_up = place.set_up;
  const bool stays = channel.kit->station_m.has_value();
  reading.at_m = stays ? *channel.kit->station_m : place.at_m.value_or(0);
  reading.face = distance || stays ? 1 : place.face;
  reading.edge = stays ? channel.kit->edge : place.edge.value_or(channel.kit->edge);
  if (!stays && !place.mark.empty()) {
    reading.mark = place.mark;
    reading.edge = survey::Edge::middle;  // it has none
  }
  reading.value = settled.mean;
  reading.sigma = settled.sigma;
  reading.base_m = channel.kit->base_m;
  reading.temperature_C = settled.temperature_C;
  return reading;
}

}  // namespace hangtrue::daemon

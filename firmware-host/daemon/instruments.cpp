#include "firmware-host/daemon/instruments.hpp"

#include <algorithm>
#include <utility>

#include <spdlog/spdlog.h>

#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/say/instrument.hpp"

namespace hangtrue::daemon {

Instruments::Instruments(const Sheets& sheets, const Announcer& announcer, Heard heard)
    : sheets_(sheets), announcer_(announcer), heard_(std::move(heard)) {
  for (const sheet::KitInstrument& kit : sheets.kit.instruments) slots_.push_back({InstrumentLine(kit)});
}

void Instruments::open(const boost::asio::any_io_executor& executor) {
  std::vector<std::vector<Port::Member>> groups;  // by port, in the order of the kit sheet
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    const auto shared = std::find_if(groups.begin(), groups.end(), [&](const auto& group) {
      return group.front().kit->port == kit(i).port;
    });
    if (shared == groups.end())
      groups.push_back({{i, &kit(i)}});
    else
      shared->push_back({i, &kit(i)});
  }
  for (const auto& group : groups) {
    Port::Heard heard{
        [this](std::size_t instrument, const wire::Sample& sample, bool is_of_now) {
          sample_came(instrument, sample, is_of_now);
        },
        [this](std::size_t instrument, std::string_view sentence) { heard_.node(instrument, sentence); },
        [this, port = ports_.size()](const serial::Event& event) { line_changed(port, event); },
        [this] { tell_states(); }};
    ports_.push_back(Port::make(executor, group, sheets_.run.stations_m.size(), std::move(heard)));
    for (std::size_t member = 0; member < group.size(); ++member) {
      slots_[group[member].instrument].port = ports_.back().get();
      slots_[group[member].instrument].member = member;
    }
  }
  for (const auto& port : ports_) port->start();
}

void Instruments::stop() {
  for (const auto& port : ports_) port->stop();
}

bool Instruments::look_for_a_hold() {
  const std::int64_t now = now_us();
  const bool was_held = alive_us_ > 0 && now - alive_us_ > kHeld_us;
  alive_us_ = now;
  if (was_held) {
    counts_from_us_ = now + kAfterHold_us;
    for (Slot& slot : slots_)
      for (const bool fixed : {false, true}) slot.line.restart(now, fixed);
  }
  return now < counts_from_us_;
}

void Instruments::sample_came(std::size_t instrument, const wire::Sample& sample, bool is_of_now) {
  is_of_now = !look_for_a_hold() && is_of_now;
  std::optional<double> ambient_C;
  for (const Slot& slot : slots_)
    if (const auto temperature_C = slot.line.temperature_C(now_us())) ambient_C = temperature_C;
  slots_[instrument].line.sample(
      sample, now_us(), is_of_now, ambient_C,
      [&](std::size_t station) {
        slots_[instrument].tells = station;
        heard_.station(instrument, station);
      },
      [&](const InstrumentLine::LiveChannel& channel) { tell_settled(instrument, channel); });
  heard_.news();
}

void Instruments::tell_settled(std::size_t instrument, const InstrumentLine::LiveChannel& channel) const {
  const auto settled = channel.settling.value(std::uint64_t(now_us()));
  if (!settled.ok()) return;
  const Channel gives = channel.kit->gives;
  announcer_.say(Event::settled, kit(instrument).name + ' ' + std::string(word(gives)) + ' ' +
                                     say::channel_value(gives, settled.value().mean, sheets_.run.show));
}

void Instruments::line_changed(std::size_t port, const serial::Event& event) {
  for (const Port::Member& member : ports_[port]->members()) {
    Slot& slot = slots_[member.instrument];
    if (event.state == serial::State::open)
      slot.open_since_us = now_us();
    else
      slot.line.lost(now_us());
  }
  tell_states();
}

bool Instruments::is_node(std::size_t instrument) const {
  const Port* const port = slots_[instrument].port;
  return port != nullptr && slots_[instrument].member == 0 && port->is_node() &&
         port->line().state() == serial::State::open;
}

job::InstrumentState Instruments::state(std::size_t instrument) const {
  const Slot& slot = slots_[instrument];
  if (slot.port == nullptr || slot.port->line().state() == serial::State::not_started)
    return {job::AboutToOpen{}, true};
  if (const auto trouble = slot.port->trouble(slot.member)) return *trouble;
  job::InstrumentState state = slot.line.state(now_us());
  if (!state.speaks && now_us() - slot.open_since_us < kFirstWords_us)
    return {job::ListenedTo{slot.port->line().sentence()}, true};
  const bool is_silent = std::holds_alternative<job::NeverCame>(state.condition) ||
                         std::holds_alternative<job::ComesNoMore>(state.condition);
  if (is_silent && slot.port->brings_bytes())
    state.condition = job::OtherBytes{slot.port->line().settings().path, kit(instrument).name};
  return state;
}

void Instruments::tell_states() {
  look_for_a_hold();
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    Slot& slot = slots_[i];
    if (slot.port == nullptr || slot.port->line().state() == serial::State::not_started) continue;
    const job::InstrumentState now = state(i);
    const std::string word = say::word(now);
    if (word == slot.told && now.speaks != slot.told_lost) continue;
    const std::string& name = kit(i).name;
    const std::string sentence = say::sentence(now, sheets_.run.show);
    announcer_.say(Event::state, name + ": " + word + ", " + sentence,
                   {{"instrument", name}, {"state", word}, {"says", sentence}, {"speaks", now.speaks}});
    if (!now.speaks && !slot.told_lost) announcer_.say(Event::lost, name + ": " + sentence);
    if (now.speaks && slot.told_lost) announcer_.say(Event::back, name);
    slot.told = word;
    slot.told_lost = !now.speaks;
    if (!job::is_quiet(now)) spdlog::warn("{}: {}, {}", name, word, sentence);
    heard_.news();
  }
}

void Instruments::tell_status() const {
  for (const auto& port : ports_)
    for (const std::string& text : port->accounts()) announcer_.say(Event::status, text);
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    const job::InstrumentState now = state(i);
    const std::string& name = kit(i).name;
    announcer_.say(Event::status, name + ": " + say::word(now) + ", " + say::sentence(now, sheets_.run.show));
    for (const InstrumentLine::LiveChannel& channel : line(i).channels())
      if (channel.is_reading())
        announcer_.say(Event::status,
                       name + ' ' + say::words(line(i).state(channel, now_us()), sheets_.run.show));
  }
}

void Instruments::restart(bool fixed) {
  for (const auto& port : ports_) port->begin_anew();
  for (Slot& slot : slots_) slot.line.restart(now_us(), fixed);
}

void Instruments::restart_all_of(std::size_t instrument) {
  if (Port* const port = slots_[instrument].port) port->begin_anew();
  slots_[instrument].line.restart(now_us(), /*fixed=*/false);
  slots_[instrument].line.restart(now_us(), /*fixed=*/true);
}

std::uint64_t Instruments::raw_passed_over() const {
  std::uint64_t all = 0;
  for (const Slot& slot : slots_)
    for (const InstrumentLine::LiveChannel& channel : slot.line.channels()) all += channel.raw_passed_over;
  return all;
}

std::vector<book::Samples> Instruments::take_raw(std::chrono::system_clock::duration offset) {
  std::vector<book::Samples> all;
  for (Slot& slot : slots_)
    for (book::Samples& raw : slot.line.raw(offset)) all.push_back(std::move(raw));
  return all;
}

}  // namespace hangtrue::daemon

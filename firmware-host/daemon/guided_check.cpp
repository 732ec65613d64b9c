#include "firmware-host/daemon/guided_check.hpp"

#include <algorithm>
#include <type_traits>
#include <utility>

#include "firmware-host/json/check_step.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/instrument.hpp"

namespace hangtrue::daemon {
std::optional<Answer> GuidedCheck::stands_against(const char* command) const {
  if (!check_) return std::nullopt;
  return refused(command, sheets_.told("a check is under way; next goes on with it, give up ends it"));
}

Result<std::size_t, Told> GuidedCheck::instrument_for(const std::string& name, Channel gives,
                                                      const char* what) const {
  std::vector<std::size_t> fitting;
  std::string names;
  for (std::size_t i = 0; i < instruments_.size(); ++i) {
    const sheet::KitInstrument& kit = instruments_.kit(i);
    if (lower(kit.name) == lower(name)) return i;
    if (std::none_of(kit.channels.begin(), kit.channels.end(), [&](const sheet::KitChannel& channel) {
          return channel.gives == gives || (gives == Channel::slope && channel.gives == Channel::roll);
        }))
      continue;
    fitting.push_back(i);
    names += (names.empty() ? "" : ", ") + kit.name;
  }
  if (name.empty() && fitting.size() == 1) return fitting.front();
  return sheets_.both([&](const sheet::RunSheet& run) {
    return (name.empty() ? say::said(run.show, "say which instrument")
                         : say::text(run.show, "there is no instrument \"{}\"", name)) +
           (names.empty()
                ? say::text(run.show, "; the kit sheet has none that gives {}", say::said(run.show, what))
                : ": " + names);
  });
}

Told GuidedCheck::refusal(const job::CheckRefusal& refusal, const std::string& instrument) const {
  return sheets_.both(
      [&](const sheet::RunSheet& run) { return say::refusal(refusal, instrument, run.show); });
}

Answer GuidedCheck::begin(const CheckZero& command) {
  if (const auto no = stands_against("check")) return *no;
  const auto instrument = instrument_for(command.instrument, Channel::slope, "slope or roll");
  if (!instrument.ok()) return refused("check", instrument.fault());
  const sheet::KitInstrument& kit = instruments_.kit(instrument.value());
  if (const auto objection = job::ZeroCheckGuide::objection(kit))
    return refused("check", refusal(*objection, kit.name));
  return begin({instrument.value(), job::ZeroCheckGuide(kit)});
}

Answer GuidedCheck::begin(const CheckDatum& command) {
  if (const auto no = stands_against("check")) return *no;
  const auto instrument = instrument_for(command.instrument, Channel::distance, "a distance");
  if (!instrument.ok()) return refused("check", instrument.fault());
  const sheet::KitInstrument& kit = instruments_.kit(instrument.value());
  if (const auto objection = job::DatumCheckGuide::objection(kit, sheets_.run, command.near_m, command.far_m))
    return refused("check", refusal(*objection, kit.name));
  return begin({instrument.value(), job::DatumCheckGuide(kit, sheets_.run, command.near_m, command.far_m)});
}

Answer GuidedCheck::begin(const CheckScale& command) {
  if (const auto no = stands_against("check")) return *no;
  const auto instrument = command.by_places
                              ? instrument_for(command.instrument, Channel::distance, "a distance")
                              : instrument_for(command.instrument, Channel::slope, "slope or roll");
  if (!instrument.ok()) return refused("check", instrument.fault());
  const sheet::KitInstrument& kit = instruments_.kit(instrument.value());
  const job::ScaleSetting setting{command.by_places, command.length_m, command.feet_across_m};
  if (const auto objection = job::ScaleCheckGuide::objection(kit, setting))
    return refused("check", refusal(*objection, kit.name));
  return begin({instrument.value(), job::ScaleCheckGuide(kit, setting)});
}

Answer GuidedCheck::begin(Check check) {
  check_.emplace(std::move(check));
  found_.clear();
  return step();
}

/// What stood in the settling windows belongs to the step before.
Answer GuidedCheck::step() {
  instruments_.restart_all_of(check_->instrument);
  return std::visit(
      [&](const auto& guide) {
        nlohmann::ordered_json more = json::check_step(guide);
        more["instruction"] = say::instruction(guide, sheets_.run.show);
        return answered(Event::check, sheets_.both([&](const sheet::RunSheet& run) {
          return say::text(run.show, "step {} of {}: {}", guide.step() + 1, guide.steps(),
                           say::instruction(guide, run.show));
        }),
                        std::move(more));
      },
      check_->guide);
}

std::optional<Answer> GuidedCheck::no_step() const {
  if (!check_)
    return refused("next",
                   sheets_.told("no check is under way; check zero, check datum or check scale begins one"));
  if (!check_->found.empty())
    return refused("next",
                   sheets_.told("the check is done; keep puts it in the book, give up leaves it out"));
  return std::nullopt;
}

Looked GuidedCheck::look(bool late) {
  const InstrumentLine& line = instruments_.line(check_->instrument);
  if (const job::InstrumentState now = instruments_.state(check_->instrument); !now.speaks)
    return refused("next", sheets_.both([&](const sheet::RunSheet& run) {
      return line.kit().name + ": " + say::sentence(now, run.show);
    }));
  Told missing;
  for (const InstrumentLine::LiveChannel& channel : line.channels())
    if (channel.is_reading() && channel.settling.verdict(std::uint64_t(now_us())) != survey::Verdict::settled)
      missing += (missing.empty() ? "" : "; ") + sheets_.both([&](const sheet::RunSheet& run) {
        return say::words(line.state(channel, now_us()), run.show);
      });
  if (missing.empty()) return take_step();
  if (!late) return missing;
  // A number in another unit than the sheet says moves too much, or lies beyond the range.
  const bool of_scale = std::holds_alternative<job::ScaleCheckGuide>(check_->guide);
  return refused(
      "next", line.kit().name + ' ' + missing +
                  (of_scale ? sheets_.told(". If it stands still all the same, its unit in the kit sheet is "
                                           "wrong: compare what is read with what the instrument shows")
                            : Told()));
}

Answer GuidedCheck::take_step() {
  std::vector<job::CheckReading> values;
  for (const InstrumentLine::LiveChannel& channel : instruments_.line(check_->instrument).channels()) {
    if (!channel.is_reading()) continue;
    const auto settled = channel.settling.value(std::uint64_t(now_us()));
    if (settled.ok())
      values.push_back(
          {channel.kit->gives, settled.value().mean, settled.value().sigma, settled.value().temperature_C});
  }
  return std::visit(
      [&](auto& guide) {
        if (const auto objection = guide.take(values))
          return refused("next", refusal(*objection, guide.instrument()));
        if (!guide.done()) return step();
        const auto earlier = log_.checks();
        if (!earlier.ok()) return refused("next", sheets_.told(earlier.fault()));
        return end(guide.result(earlier.value()));
      },
      check_->guide);
}

template <class Result>
Answer GuidedCheck::end(const job::CheckOutcome<Result>& outcome) {
  const std::string& name = instruments_.kit(check_->instrument).name;
  found_ = say::findings(outcome.findings, name, sheets_.shown.show);
  const std::vector<std::string> found = say::findings(outcome.findings, name, sheets_.run.show);
  for (const std::string& sentence : found) announcer_.say(Event::check, sentence);
  check_->found.assign(outcome.checks.begin(), outcome.checks.end());
  Answer answer = outcome.sound || std::is_same_v<Result, book::ScaleCheck>
                      ? keep()
                      : answered(Event::check,
                                 sheets_.told("not in the book: see above. keep puts it in and lets it count "
                                              "all the same; give up leaves it out"));
  if (answer.event == Event::checked) answer.more["sound"] = outcome.sound;
  // A phone is told what was found.
  if (answer.done && !found_.empty())
    answer.words = found == found_ ? std::string(word(Event::check)) + ' ' + found_.front() : found_.front();
  return answer;
}

Answer GuidedCheck::keep() {
  if (!check_ || check_->found.empty()) return refused("keep", sheets_.told("no check waits to be kept"));
  const std::string name = instruments_.kit(check_->instrument).name;
  raw_.write();
  if (const auto written = log_.append(check_->found); !written.ok())
    return refused("keep", sheets_.told(written.fault()) + sheets_.told("; keep tries again"));
  const bool counts =
      std::all_of(check_->found.begin(), check_->found.end(), [](const book::Content& content) {
        const auto* const scale = std::get_if<book::ScaleCheck>(&content);
        return scale == nullptr || scale->sound;
      });
  check_.reset();
  Answer answer = answered(Event::checked,
                           counts ? sheets_.told("{}: in the book, and counts from now on", name)
                                  : sheets_.told("{}: in the book; what it found wrong does not count, see "
                                                 "above",
                                                 name),
                           {{"instrument", name}});
  answer.other_checks = answer.other_readings = true;
  return answer;
}

void GuidedCheck::give_up() {
  check_.reset();
  found_.clear();
}

std::optional<page::Guide> GuidedCheck::guide() const {
  if (!check_) return std::nullopt;
  page::Guide shown;
  shown.instrument = instruments_.kit(check_->instrument).name;
  shown.what = std::holds_alternative<job::ZeroCheckGuide>(check_->guide)    ? "zero"
               : std::holds_alternative<job::DatumCheckGuide>(check_->guide) ? "datum"
                                                                             : "scale";
  std::visit(
      [&](const auto& of) {
        shown.steps = of.steps();
        shown.step = std::min(of.step() + 1, of.steps());
        if (!of.done()) shown.instruction = say::instruction(of, sheets_.shown.show);
      },
      check_->guide);
  shown.in_doubt = !check_->found.empty();
  shown.found = found_;
  return shown;
}

}  // namespace hangtrue::daemon

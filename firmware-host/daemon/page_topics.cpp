#include "firmware-host/daemon/page_topics.hpp"

#include <algorithm>
#include <cmath>

#include "core/quantity/units.hpp"
#include "firmware-host/job/commissioning.hpp"
#include "firmware-host/job/thresholds.hpp"
#include "firmware-host/say/cautions.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/instrument.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {

std::optional<int> station_number(const sheet::RunSheet& run, double at_m) {
  for (std::size_t i = 0; i < run.stations_m.size(); ++i)
    if (std::abs(run.stations_m[i] - at_m) < job::kSamePlace_m) return int(i) + 1;
  return std::nullopt;
}

page::Job job_topic(const sheet::RunSheet& run, std::string_view build) {
  page::Job job;
  job.build = build;
  job.title = run.title;
  job.length_m = run.length_m;
  int number = 0;
  for (const double at_m : run.stations_m)
    job.stations.push_back({++number, at_m, sheet::show_place(at_m, run.show)});
  for (const sheet::Mark& mark : run.marks)
    job.marks.push_back({mark.name, mark.at_m, sheet::show_place(mark.at_m, run.show)});
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    const beam::Support<double>& support = run.beam_supports[i];
    job.supports.push_back(
        {run.supports[i].name, support.at_m, run.width_m > 0 ? 2 * support.across_m / run.width_m : 0,
         sheet::show_place(support.at_m, run.show), support.holds, run.supports[i].adjust.by});
  }
  job.stages = run.stages;
  job.finished_stage = run.stages[std::size_t(run.tolerance.stage)];
  job.tolerance_m = run.tolerance.level_m;
  job.tolerance = sheet::show_fine(run.tolerance.level_m, run.show);
  job.confidence = say::percent(run.tolerance.confidence);
  job.units = run.show == sheet::Show::metric
                  ? page::Units{"mm", "mm", "mm/m", 1e3, 1e3, 1e3}
                  : page::Units{"in", "in", "in/ft", 1 / kInch_m, 1 / kInch_m, 12};
  job.cautions = say::caution_sentences();
  return job;
}

std::optional<page::Advice> advice(const sheet::RunSheet& run, const job::FitReport& report) {
  if (!report.next) return std::nullopt;
  const auto station = station_number(run, report.next->at_m);
  if (!station) return std::nullopt;
  page::Advice advice;
  advice.station = *station;
  advice.at = sheet::show_place(report.next->at_m, run.show);
  advice.instrument = report.next->instrument;
  advice.channel = word(report.next->channel);
  advice.edge = say::word(report.next->edge);
  advice.face = report.next->face;
  advice.words = say::next_words(run, *report.next);
  return advice;
}

page::LiveInstrument live_instrument(const InstrumentLine& instrument, const job::InstrumentState& state,
                                     std::int64_t now_us, sheet::Show show) {
  page::LiveInstrument live{
      instrument.kit().name, say::word(state), say::sentence(state, show), state.speaks, {}};
  for (const InstrumentLine::LiveChannel& channel : instrument.channels()) {
    const Channel gives = channel.kit->gives;
    if (!channel.is_reading()) continue;
    page::LiveChannel shown;
    shown.gives = word(gives);
    const survey::Verdict verdict = channel.settling.verdict(std::uint64_t(now_us));
    const auto newest = channel.settling.newest();
    if (newest && state.speaks && verdict != survey::Verdict::stale) {
      shown.value = *newest;
      const sheet::Shown now = say::live_value(gives, *newest, show);
      shown.number = now.number;
      shown.unit = now.unit;
      shown.number_turned = say::live_value(gives, -*newest, show).number;
      const bool shows_nothing =
          say::live_value(gives, std::abs(*newest), show).number == say::live_value(gives, 0, show).number;
      shown.leans = shows_nothing ? 0 : *newest > 0 ? 1 : -1;
    }
    shown.settled = state.speaks && verdict == survey::Verdict::settled;
    shown.verdict = say::word(verdict);
    shown.says = say::words(instrument.state(channel, now_us), show);
    shown.edge = say::word(channel.kit->edge);
    shown.stays_at_m = channel.kit->station_m;
    live.channels.push_back(std::move(shown));
  }
  if (const auto temperature_C = instrument.temperature_C(now_us)) {
    const sheet::Shown now = say::live_value(Channel::temperature, *temperature_C, show);
    page::LiveChannel shown;
    shown.gives = word(Channel::temperature);
    shown.value = *temperature_C;
    shown.number = now.number;
    shown.unit = now.unit;
    live.channels.push_back(std::move(shown));
  }
  return live;
}

page::KitInstrument kit_instrument(const sheet::KitInstrument& kit,
                                   std::span<const book::NumberedEntry> checks, const sheet::RunSheet& run) {
  page::KitInstrument shown;
  shown.name = kit.name;
  shown.port = kit.port;
  shown.speaks = word(kit.speaks);
  for (const sheet::KitChannel& channel : kit.channels)
    shown.gives += (shown.gives.empty() ? "" : ", ") + std::string(word(channel.gives));
  shown.calibration = !kit.calibration
                          ? "No calibration is stated in the kit sheet."
                          : "Calibrated " + kit.calibration->date +
                                (kit.calibration->due.empty() ? "" : ", due " + kit.calibration->due) +
                                (kit.calibration->certificate.empty()
                                     ? "."
                                     : ", certificate " + kit.calibration->certificate + '.');
  shown.can_zero = !job::ZeroCheckGuide::objection(kit);
  for (const sheet::KitChannel& channel : kit.channels)
    shown.can_datum = shown.can_datum || channel.gives == Channel::distance;
  shown.can_scale_piece = shown.can_zero;
  shown.can_scale_places = shown.can_datum;
  shown.has_roll = std::any_of(kit.channels.begin(), kit.channels.end(),
                               [](const auto& channel) { return channel.gives == Channel::roll; });
  const auto at = [&](const std::optional<double>& temperature_C) {
    return temperature_C ? ", at " + say::temperature_words(*temperature_C, run.show) : std::string();
  };
  std::vector<std::string> seen;  // channels whose last check was shown
  for (auto each = checks.rbegin(); each != checks.rend(); ++each) {
    std::string channel, words;
    if (const auto* const zero = std::get_if<book::ZeroCheck>(&each->entry.content)) {
      if (zero->instrument != kit.name) continue;
      channel = zero->channel;
      words = zero->channel + " reads " + say::fine_slope_words(zero->zero, run.show) + " +- " +
              say::fine_slope_words(zero->sigma, run.show) + " too much" + at(zero->temperature_C);
    }
    if (const auto* const datum = std::get_if<book::DatumCheck>(&each->entry.content)) {
      if (datum->instrument != kit.name) continue;
      channel = "datum";
      words = "datum tilts " + say::fine_slope_words(datum->tilt_rad, run.show) + " +- " +
              say::fine_slope_words(datum->sigma_rad, run.show) + at(datum->temperature_C);
    }
    if (const auto* const scale = std::get_if<book::ScaleCheck>(&each->entry.content)) {
      if (scale->instrument != kit.name) continue;
      channel = "scale of " + scale->channel;
      words = say::scale_found(*scale);
    }
    if (channel.empty() || std::find(seen.begin(), seen.end(), channel) != seen.end()) continue;
    seen.push_back(channel);
    shown.checks.push_back("Checked " + say::date_of(each->entry.time) + ": " + words + '.');
  }
  return shown;
}

}  // namespace hangtrue::daemon

#include "firmware-host/daemon/page_topics.hpp"

#include <algorithm>
#include <cmath>

#include "core/quantity/units.hpp"
#include "firmware-host/daemon/reading_words.hpp"
#include "firmware-host/job/commissioning.hpp"
#include "firmware-host/job/live_value.hpp"
#include "firmware-host/job/thresholds.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/cautions.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/instrument.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/live_target.hpp"
#include "firmware-host/say/unknown.hpp"
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
  job.confidence = say::percent(run.tolerance.confidence, run.show);
  job.units = run.show.is_metric() ? page::Units{"mm", "mm", "mm/m", 1e3, 1e3, 1e3}
                                   : page::Units{"in", "in", "in/ft", 1 / kInch_m, 1 / kInch_m, 12};
  job.cautions = say::caution_sentences(run.show);
  job.language = run.language == sheet::Language::german ? "de" : "en";
  return job;
}

page::Watch watch_topic(const Sheets& sheets, const std::optional<WatchedChange::Watching>& watching,
                        const job::FitReport* fitted) {
  page::Watch topic;
  if (!watching) return topic;
  const sheet::Show show = sheets.shown.show;
  topic.what = watching->what.words;
  topic.order = watching->order;
  topic.silent = watching->silent.words;
  topic.stop_said = watching->stop_said;
  if (!watching->now) return topic;
  const job::TargetNow& now = *watching->now;
  topic.verdict = say::word(now.verdict);
  topic.says = say::target_words(sheets.shown, watching->target, now);
  topic.share = std::clamp(now.share, 0.0, 1.0);
  if (watching->turns != 0) topic.turns_to_go = say::turns_words(watching->turns * (1 - now.share), show);
  for (std::size_t i = 0; i < now.channels.size(); ++i) {
    const job::WatchedChannel& watched = watching->target.watched()[i];
    const sheet::KitChannel* const kit = sheets.kit.find(watched.channel.instrument, watched.channel.channel);
    if (kit == nullptr) continue;
    const auto words = [&](double reads) {
      const job::ZeroError zero = job::zero_error(fitted, watched.channel.instrument, *kit);
      return say::live_value(kit->gives, job::live_value(*kit, reads, watched.place.face, zero).value, show)
          .text();
    };
    page::Watched each;
    each.name = say::name_words(watched.channel, show);
    each.at = sheet::show_place(watched.place.at_m, show);
    each.now = words(now.channels[i].now);
    each.must_read = words(now.channels[i].must_read);
    each.band = say::live_value(kit->gives, now.channels[i].band, show).text();
    topic.channels.push_back(std::move(each));
  }
  return topic;
}

page::Walk walk_topic(const sheet::RunSheet& run, const job::WalkProgress& progress) {
  page::Walk walk;
  walk.read = progress.read;
  walk.places = progress.stops;
  if (!progress.next) return walk;
  walk.mark = progress.next->mark;
  walk.at = spot_words(progress.next->at_m, walk.mark, run.show);
  if (!walk.mark.empty()) return walk;
  walk.edge = say::word(progress.next->edge);
  walk.station = station_number(run, progress.next->at_m);
  return walk;
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

namespace {

/// What a channel reads now, as of the run.
void show_value(page::LiveChannel& shown, const InstrumentLine::LiveChannel& channel, double reads, int face,
                const job::ZeroError& zero, sheet::Show show) {
  const Channel gives = channel.kit->gives;
  const job::LiveValue live = job::live_value(*channel.kit, reads, face, zero);
  const sheet::Shown now = say::live_value(gives, live.value, show);
  shown.value = live.value;
  shown.number = now.number;
  shown.unit = now.unit;
  if (gives == Channel::distance) return;
  const bool shows_nothing =
      say::live_value(gives, std::abs(live.value), show).number == say::live_value(gives, 0, show).number;
  if (live.value > 0 && !shows_nothing) shown.number = '+' + now.number;
  shown.leans = shows_nothing || !live.leans() ? 0 : live.value > 0 ? 1 : -1;
  shown.corrected = live.corrected;
  shown.sigma = say::live_value(gives, live.sigma, show).text();
  if (const std::string own = say::live_value(gives, reads, show).text(); own != now.text())
    shown.reads = own;
}

/// What people on site call a line: the last part of its path.
std::string line_name(const std::string& port) { return port.substr(port.rfind('/') + 1); }

}  // namespace

std::string with_line_name(std::string says, const std::string& port) {
  const std::string name = line_name(port);
  for (std::size_t at = 0; !port.empty() && (at = says.find(port, at)) != says.npos; at += name.size())
    says.replace(at, port.size(), name);
  return says;
}

page::LiveInstrument live_instrument(const InstrumentLine& instrument, const job::InstrumentState& state,
                                     std::int64_t now_us, int face, const job::FitReport* fitted,
                                     sheet::Show show) {
  page::LiveInstrument live{instrument.kit().name,
                            say::word(state),
                            with_line_name(say::sentence(state, show), instrument.kit().port),
                            state.speaks,
                            {}};
  for (const InstrumentLine::LiveChannel& channel : instrument.channels()) {
    const Channel gives = channel.kit->gives;
    if (!channel.is_reading()) continue;
    page::LiveChannel shown;
    shown.gives = word(gives);
    const survey::Verdict verdict = channel.settling.verdict(std::uint64_t(now_us));
    const auto newest = channel.settling.newest();
    if (newest && state.speaks && verdict != survey::Verdict::stale)
      show_value(shown, channel, *newest, channel.walks() ? face : 1,
                 job::zero_error(fitted, instrument.kit().name, *channel.kit), show);
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
  shown.port = line_name(kit.port);
  const sheet::Show show = run.show;
  shown.speaks = word(kit.speaks);
  for (const sheet::KitChannel& channel : kit.channels)
    shown.gives += (shown.gives.empty() ? "" : ", ") + say::channel_words(channel.gives, show);
  shown.calibration =
      !kit.calibration
          ? say::said(show, "No calibration is stated in the kit sheet.")
          : say::text(show, "Calibrated {}", kit.calibration->date) +
                (kit.calibration->due.empty() ? std::string()
                                              : say::text(show, ", due {}", kit.calibration->due)) +
                (kit.calibration->certificate.empty()
                     ? std::string()
                     : say::text(show, ", certificate {}", kit.calibration->certificate)) +
                '.';
  shown.can_zero = !job::ZeroCheckGuide::objection(kit);
  for (const sheet::KitChannel& channel : kit.channels)
    shown.can_datum = shown.can_datum || channel.gives == Channel::distance;
  shown.can_scale_piece = shown.can_zero;
  shown.can_scale_places = shown.can_datum;
  shown.has_roll = std::any_of(kit.channels.begin(), kit.channels.end(),
                               [](const auto& channel) { return channel.gives == Channel::roll; });
  const auto at = [&](const std::optional<double>& temperature_C) {
    return temperature_C ? say::text(show, ", at {}", say::temperature_words(*temperature_C, show))
                         : std::string();
  };
  std::vector<std::string> seen;  // channels whose last check was shown
  for (auto each = checks.rbegin(); each != checks.rend(); ++each) {
    std::string channel, words;
    if (const auto* const zero = std::get_if<book::ZeroCheck>(&each->entry.content)) {
      if (zero->instrument != kit.name) continue;
      channel = zero->channel;
      words = say::text(show, "{} reads {} +- {} too much{}", say::said(show, zero->channel),
                        say::fine_slope_words(zero->zero, show), say::fine_slope_words(zero->sigma, show),
                        at(zero->temperature_C));
    }
    if (const auto* const datum = std::get_if<book::DatumCheck>(&each->entry.content)) {
      if (datum->instrument != kit.name) continue;
      channel = "datum";
      words = say::text(show, "datum tilts {} +- {}{}", say::fine_slope_words(datum->tilt_rad, show),
                        say::fine_slope_words(datum->sigma_rad, show), at(datum->temperature_C));
    }
    if (const auto* const scale = std::get_if<book::ScaleCheck>(&each->entry.content)) {
      if (scale->instrument != kit.name) continue;
      channel = "scale of " + scale->channel;
      words = say::scale_found(*scale, show);
    }
    if (channel.empty() || std::find(seen.begin(), seen.end(), channel) != seen.end()) continue;
    seen.push_back(channel);
    shown.checks.push_back(say::text(show, "Checked {}: {}.", say::date_of(each->entry.time), words));
  }
  return shown;
}

}  // namespace hangtrue::daemon

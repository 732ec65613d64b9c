#include "firmware-host/daemon/page_topics.hpp"

#include <algorithm>
#include <cmath>

#include "core/quantity/units.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/job/commissioning.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/cautions.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/instrument.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/recheck.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {
namespace {

page::Holds holds_of(beam::Holds holds) {
  switch (holds) {
    case beam::Holds::both:
      return page::Holds::both;
    case beam::Holds::push:
      return page::Holds::push;
    case beam::Holds::pull:
      return page::Holds::pull;
  }
  return page::Holds::both;
}

page::AdjustBy adjust_by(sheet::AdjustBy by) {
  switch (by) {
    case sheet::AdjustBy::nothing:
      return page::AdjustBy::nothing;
    case sheet::AdjustBy::shims:
      return page::AdjustBy::shims;
    case sheet::AdjustBy::rod:
      return page::AdjustBy::rod;
    case sheet::AdjustBy::lift:
      return page::AdjustBy::lift;
  }
  return page::AdjustBy::nothing;
}

std::string_view word(sheet::Speaks speaks) {
  switch (speaks) {
    case sheet::Speaks::xdr:
      return "xdr";
    case sheet::Speaks::modbus:
      return "modbus";
    case sheet::Speaks::line:
      return "line";
  }
  return "";
}

// A distance as people look at it live: to what a laser can tell.
std::string live_value(Channel gives, double value, sheet::Show show) {
  return gives == Channel::distance ? sheet::show_length(value, show)
                                    : say::channel_value(gives, value, show);
}

std::string value_of(const sheet::ReadingEntry& reading, double value, sheet::Show show) {
  return say::channel_value(reading.channel, value, show);
}

double mean_of(const std::vector<double>& left, const std::vector<double>& right) {
  double sum = 0;
  for (const double height : left) sum += height;
  for (const double height : right) sum += height;
  return left.empty() ? 0 : sum / double(left.size() + right.size());
}

double mean_of(const job::FitReport& report) {
  double sum = 0;
  for (const auto& station : report.stations) sum += station.height_m;
  return report.stations.empty() ? 0 : sum / double(report.stations.size());
}

std::string fine_or_dash(double length_m, sheet::Show show) {
  return std::isfinite(length_m) ? sheet::show_fine(length_m, show) : "-";
}

std::optional<double> if_finite(double value) {
  return std::isfinite(value) ? std::optional(value) : std::nullopt;
}

page::LevelError level_error(const job::LevelForecast& forecast, sheet::Show show) {
  return {if_finite(forecast.level_error_m), if_finite(forecast.sigma_m),
          fine_or_dash(forecast.level_error_m, show), fine_or_dash(forecast.sigma_m, show),
          std::isfinite(forecast.chance) ? say::percent(forecast.chance) : "-"};
}

page::Where where_of(adjust::Where where) {
  switch (where) {
    case adjust::Where::whole:
      return page::Where::whole;
    case adjust::Where::near:
      return page::Where::near;
    case adjust::Where::far:
      return page::Where::far;
    case adjust::Where::left:
      return page::Where::left;
    case adjust::Where::right:
      return page::Where::right;
    case adjust::Where::near_left:
      return page::Where::near_left;
    case adjust::Where::near_right:
      return page::Where::near_right;
    case adjust::Where::far_left:
      return page::Where::far_left;
    case adjust::Where::far_right:
      return page::Where::far_right;
  }
  return page::Where::whole;
}

// As the sheet wrote it, where the stock still has it.
std::string piece_name(const sheet::RunSheet& run, const sheet::Adjust& adjust, double thickness_m) {
  if (adjust.stock >= 0)
    for (const sheet::PieceOfStock& kind : run.stocks[std::size_t(adjust.stock)].pieces)
      if (std::abs(kind.thickness_m - thickness_m) < kSameThickness_m) return kind.label;
  return sheet::show_length(thickness_m, run.show);
}

page::Move move_of(const sheet::RunSheet& run, const job::StoredMove& stored, std::span<const int> made) {
  page::Move move;
  move.order = stored.order;
  move.support = stored.support;
  const int support = run.support(move.support);
  const sheet::Adjust none;
  const sheet::Adjust& adjust = support < 0 ? none : run.supports[std::size_t(support)].adjust;
  move.by = adjust_by(adjust.by);
  move.rise_m = stored.rise_m;
  move.pitch_rad = stored.pitch_rad;
  move.roll_rad = stored.roll_rad;
  move.does = say::motion_words(stored.rise_m, stored.pitch_rad, stored.roll_rad, run.show);
  for (const job::StoredPiece& piece : stored.pieces) {
    move.pieces.push_back(
        {where_of(piece.where), piece.thickness_m, piece_name(run, adjust, piece.thickness_m), piece.count});
  }
  if (adjust.by == sheet::AdjustBy::rod) {
    move.turns = stored.turns;
    move.turns_words = say::turns_words(stored.turns);
  }
  move.slacken = say::slacken_words(adjust.by, move.support);
  move.keep = say::keep_words(stored.limits_known_to_hold(), move.support);
  for (const job::Effect& effect : stored.effects)
    if (const std::string then = say::effect_words(effect, run.show); !then.empty())
      move.then.push_back(then);
  move.when_stage = stored.when_stage.value_or("");
  move.level_after = stored.level_error_m ? fine_or_dash(*stored.level_error_m, run.show) : "-";
  move.made = std::find(made.begin(), made.end(), move.order) != made.end();
  return move;
}

}  // namespace

std::optional<int> station_number(const sheet::RunSheet& run, double at_m) {
  for (std::size_t i = 0; i < run.stations_m.size(); ++i)
    if (std::abs(run.stations_m[i] - at_m) < kSamePlace_m) return int(i) + 1;
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
    job.supports.push_back({run.supports[i].name, support.at_m, sheet::show_place(support.at_m, run.show),
                            holds_of(support.holds), adjust_by(run.supports[i].adjust.by)});
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
      const std::string words = live_value(gives, *newest, show);
      const std::size_t unit = words.rfind(' ');
      shown.number = words.substr(0, unit);
      if (unit != std::string::npos) shown.unit = words.substr(unit + 1);
      const std::string turned = live_value(gives, -*newest, show);
      shown.number_turned = turned.substr(0, turned.rfind(' '));
      const bool shows_nothing = live_value(gives, std::abs(*newest), show) == live_value(gives, 0, show);
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
    const std::string words = say::temperature_words(*temperature_C, show);
    const std::size_t unit = words.rfind(' ');
    page::LiveChannel shown;
    shown.gives = word(Channel::temperature);
    shown.value = *temperature_C;
    shown.number = words.substr(0, unit);
    shown.unit = words.substr(unit + 1);
    live.channels.push_back(std::move(shown));
  }
  return live;
}

page::Readings readings_topic(const sheet::RunSheet& run, std::span<const book::BookedReading> booked,
                              const job::FitReport* fitted) {
  page::Readings topic;
  book::Number last = 0;
  int take = 0;
  std::size_t kept = 0;
  for (const book::BookedReading& each : booked) {
    const sheet::ReadingEntry& reading = each.reading;
    if (each.number != last + 1 || take == 0) ++take;
    last = each.number;
    page::BookedReading shown;
    shown.entry = each.number;
    shown.take = take;
    shown.time = reading.time;
    shown.instrument = reading.instrument;
    shown.channel = word(reading.channel);
    if (reading.mark.empty()) shown.station = station_number(run, reading.at_m);
    shown.mark = reading.mark;
    shown.at_m = reading.at_m;
    shown.at = reading.mark.empty() ? sheet::show_place(reading.at_m, run.show) : "mark " + reading.mark;
    shown.face = reading.face;
    shown.edge = say::word(reading.edge);
    shown.set_up = reading.set_up;
    shown.value = value_of(reading, reading.value, run.show);
    shown.sigma = value_of(reading, reading.sigma, run.show);
    shown.kept = each.kept;
    shown.reason = each.reason;
    if (each.kept && fitted != nullptr && kept < fitted->judgements.size()) {
      const fit::Judgement<double>& judgement = fitted->judgements[kept];
      shown.residual = value_of(reading, judgement.residual, run.show);
      shown.fits = judgement.verdict == fit::Verdict::kept;
      if (!shown.fits) shown.reason = say::aside_words(judgement);
    }
    if (each.kept) ++kept;
    topic.readings.push_back(std::move(shown));
  }
  for (auto each = topic.readings.rbegin(); each != topic.readings.rend(); ++each) {
    if (!each->kept) continue;
    const int of_take = each->take;
    std::string values;
    for (const page::BookedReading& reading : topic.readings)
      if (reading.take == of_take && reading.kept)
        values += (values.empty() ? "" : ", ") + reading.channel + ' ' + reading.value;
    topic.last = each->at +
                 (each->channel == "distance" ? std::string(", set-up ") + each->set_up
                                              : std::string(each->face == 1 ? ", face 1" : ", face 2")) +
                 ": " + values;
    break;
  }
  return topic;
}

page::Run run_topic(const sheet::RunSheet& run, const job::FitReport& predicted, const job::FitReport& report,
                    const job::Card& card, std::span<const KeptReading> kept,
                    const std::vector<std::string>& warnings) {
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  page::Run topic;
  topic.measured = report.self_test.degrees_of_freedom > 0;
  topic.holds = report.self_test.outcome == fit::TestOutcome::holds;
  topic.test = report.self_test.outcome == fit::TestOutcome::nothing_to_test
                   ? "Nothing has been measured: all this is assumed."
                   : std::to_string(report.self_test.degrees_of_freedom) + " readings kept, " +
                         std::to_string(report.self_test.beyond_gate) + " set aside by the fit.";
  topic.has_moves = !card.moves.empty();

  const double mean = mean_of(report), predicted_mean = mean_of(predicted);
  const double before = mean_of(card.left_before_m, card.right_before_m);
  const double after = mean_of(card.left_m, card.right_m);
  const std::size_t finished = std::min(
      {card.left_before_m.size(), card.right_before_m.size(), card.left_m.size(), card.right_m.size()});
  double largest_sag = 0, largest_to_come = 0;
  for (std::size_t i = 0; i < report.stations.size(); ++i) {
    const fit::StationShape<double>& station = report.stations[i];
    page::ShapeAt at;
    at.number = int(i) + 1;
    at.at_m = station.at_m;
    at.at = sheet::show_place(station.at_m, run.show);
    if (i < predicted.stations.size()) {
      at.predicted_m = predicted.stations[i].height_m - predicted_mean;
      at.predicted_roll = predicted.stations[i].roll_rad;
    }
    at.height_m = station.height_m - mean;
    at.sigma_m = station.height_less_mean_sigma_m;
    at.roll = station.roll_rad;
    at.roll_sigma = station.roll_sigma_rad;
    at.predicted = fine(at.predicted_m);
    at.height = fine(at.height_m);
    at.sigma = fine(at.sigma_m);
    at.roll_words = sheet::show_slope(at.roll, run.show);
    at.roll_sigma_words = sheet::show_slope(at.roll_sigma, run.show);
    if (i < finished) {
      at.left_before_m = card.left_before_m[i] - before;
      at.right_before_m = card.right_before_m[i] - before;
      at.left_after_m = card.left_m[i] - after;
      at.right_after_m = card.right_m[i] - after;
      at.left_before = fine(at.left_before_m);
      at.right_before = fine(at.right_before_m);
      at.left_after = fine(at.left_after_m);
      at.right_after = fine(at.right_after_m);
    }
    if (std::abs(station.sag_m) > std::abs(largest_sag)) largest_sag = station.sag_m;
    if (std::abs(station.sag_to_come_m) > std::abs(largest_to_come)) largest_to_come = station.sag_to_come_m;
    topic.stations.push_back(std::move(at));
  }
  if (!report.stations.empty())
    topic.tilt = fine(report.stations.back().tilt_and_height_m - report.stations.front().tilt_and_height_m);
  topic.sag = fine(largest_sag);
  topic.sag_to_come = fine(largest_to_come);

  for (std::size_t k = 0; k < kept.size() && k < report.judgements.size(); ++k) {
    const sheet::ReadingEntry& reading = *kept[k].reading;
    if (!reading.mark.empty()) continue;  // not of the run
    const auto station = station_number(run, reading.at_m);
    if (!station || std::size_t(*station) > report.stations.size()) continue;
    const fit::StationShape<double>& shape = report.stations[std::size_t(*station) - 1];
    const fit::Judgement<double>& judgement = report.judgements[k];
    page::Mark mark;
    mark.entry = kept[k].entry;
    mark.at_m = reading.at_m;
    mark.channel = word(reading.channel);
    mark.edge = say::word(reading.edge);
    mark.height_m = shape.height_m - mean;
    mark.slope = shape.slope_rad;
    mark.roll = shape.roll_rad;
    // What is fitted, zero errors and datum among it, is taken off: what is left is this reading's own.
    const double own = judgement.residual * (reading.channel == Channel::distance ? 1 : reading.face);
    (reading.channel == Channel::distance ? mark.height_m
     : reading.channel == Channel::slope  ? mark.slope
                                          : mark.roll) += own;
    mark.sigma = reading.sigma;
    mark.fits = judgement.verdict == fit::Verdict::kept;
    mark.words = value_of(reading, reading.value, run.show) + ", " +
                 value_of(reading, judgement.residual, run.show) + " off the fit";
    topic.marks.push_back(std::move(mark));
  }
  for (const job::LikelierCause& cause : report.causes)
    if (topic.causes.size() < 3)
      topic.causes.push_back({say::percent(cause.weight), say::cause_words(cause, run.show)});
  for (const job::UnknownEstimate& each : report.parameters)
    topic.learned.push_back({name_of(each.id), say::value(each.found(), run.show),
                             say::sigma(each.found(), run.show), say::learned_words(each.estimate)});
  for (const job::Repeats& repeats : report.repeats)
    if (repeats.verdict == fit::ScatterVerdict::larger_than_stated)
      topic.warnings.push_back(say::repeats_words(run, repeats));
  topic.warnings.insert(topic.warnings.end(), warnings.begin(), warnings.end());
  return topic;
}

page::Card card_topic(const sheet::RunSheet& run, const job::StoredCard& stored, std::int64_t entry,
                      std::span<const int> made) {
  page::Card card;
  card.entry = entry;
  card.hold_point = adjust::short_name(stored.hold_point);
  card.reason = stored.reason;
  const bool holds = stored.fit_known_to_hold();
  card.says = say::to_do_words(stored.hold_point);
  card.moves_are = say::moves_heading(holds, stored.hold_point);
  card.trusted = holds && stored.hold_point != adjust::HoldPoint::read_again;
  for (const job::StoredMove& move : stored.moves) card.moves.push_back(move_of(run, move, made));
  if (card.moves.empty()) card.moves_are.clear();
  const auto later = [](const page::Move& move) { return !move.when_stage.empty(); };
  if (!card.moves.empty() && card.trusted && std::all_of(card.moves.begin(), card.moves.end(), later))
    card.says = "Nothing more can be set in this stage. What is left is made when stage \"" +
                card.moves.front().when_stage + "\" begins. Tighten no final bolt before.";
  card.before = level_error(stored.before, run.show);
  card.after = level_error(stored.after, run.show);
  for (const std::string& advice : stored.advice)
    if (!advice.empty()) card.advice.push_back(advice);
  return card;
}

page::Card unusable_card(std::int64_t entry, const std::string& why) {
  page::Card card;
  card.entry = entry;
  card.reason = say::unusable_card(why);
  return card;
}

std::optional<page::Compared> compared(const sheet::RunSheet& run, const std::string& survey,
                                       const job::StoredCard& promised, const job::Card& found) {
  const double promised_m = promised.after.level_error_m, promised_sigma_m = promised.after.sigma_m;
  // The promise counts on moves of later stages too, where the card has such; then what is found counts on those as well.
  const bool later = std::any_of(promised.moves.begin(), promised.moves.end(),
                                 [](const job::StoredMove& move) { return move.when_stage.has_value(); });
  const adjust::Prospect<double>& prospect = later ? found.after : found.before;
  const double found_m = prospect.level_error_m, found_sigma_m = prospect.drawn_sigma_m;
  const double sigma_m = std::hypot(promised_sigma_m, found_sigma_m);
  if (!std::isfinite(promised_m) || !std::isfinite(sigma_m) || !std::isfinite(found_m)) return std::nullopt;
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  page::Compared result;
  result.survey = survey;
  result.promised = fine(promised_m);
  result.promised_sigma = fine(promised_sigma_m);
  result.found = fine(found_m);
  result.found_sigma = fine(found_sigma_m);
  result.agrees = std::abs(found_m - promised_m) <= kPromiseKept_sigmas * sigma_m;
  const std::string which = later ? "Counting those that later stages bring, the moves " : "The moves ";
  result.words =
      which + (result.agrees
                   ? "did what the card promised, as far as the readings can tell."
                   : "did not do what the card promised: look whether each was made as it says, at its own "
                     "support and the right way, and whether anything else was touched.");
  return result;
}

page::Recheck recheck_topic(const sheet::RunSheet& run, const job::Recheck& recheck) {
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  page::Recheck topic;
  topic.from = recheck.from;
  topic.to = recheck.to;
  topic.from_time = book::rfc3339(recheck.from_time);
  topic.to_time = book::rfc3339(recheck.to_time);
  topic.answer = say::word(recheck.answer);
  topic.says = say::reason(run, recheck);
  topic.heights_compared = recheck.heights_compared;
  topic.marks = recheck.marks;
  for (const job::Cause& cause : recheck.causes) {
    std::string or_else;
    for (const std::string& other : say::change_names(cause.or_else))
      or_else += (or_else.empty() ? "" : ", ") + other;
    topic.causes.push_back({say::moved(cause, run.show), std::move(or_else)});
  }
  if (recheck.drift.verdict != job::DriftVerdict::none_expected)
    topic.drift_verdict = say::word(recheck.drift.verdict);
  topic.drift = say::drift(recheck.drift, run.show);
  topic.drift_reasons = say::drift_reasons(recheck.drift);
  topic.level_from = fine(recheck.level.from_m);
  topic.level_to = fine(recheck.level.to_m);
  topic.level_sigma = fine(recheck.level.to_sigma_m);
  for (const job::StationChange& at : recheck.stations)
    topic.stations.push_back({at.at_m, sheet::show_place(at.at_m, run.show), at.from_m, at.to_m, at.change_m,
                              at.sigma_m, fine(at.from_m), fine(at.to_m), fine(at.change_m),
                              fine(at.sigma_m)});
  for (const job::ChangeSeen& seen : recheck.seen) {
    page::ChangeSeen& shown = topic.seen.emplace_back();
    shown.name = say::change_name(seen.id);
    if (!seen.can_be_seen) continue;
    shown.value = say::value(seen.change, run.show);
    shown.sigma = say::sigma(seen.change, run.show);
    shown.smallest = say::value({seen.change.kind, seen.smallest_detectable, 0}, run.show);
    shown.chance = say::percent(seen.p_corrected);
  }
  for (const job::Trend& trend : recheck.trends) topic.trends.push_back(say::trend(trend, run.show));
  for (const auto& pair : recheck.cannot_be_told_apart)
    topic.cannot_be_told_apart.push_back(say::twins(pair));
  topic.remarks = say::remarks(recheck, run.show);
  return topic;
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
    if (channel.empty() || std::find(seen.begin(), seen.end(), channel) != seen.end()) continue;
    seen.push_back(channel);
    shown.checks.push_back("Checked " + say::date_of(each->entry.time) + ": " + words + '.');
  }
  return shown;
}

}  // namespace hangtrue::daemon

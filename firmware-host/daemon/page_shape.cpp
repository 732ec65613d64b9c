#include "firmware-host/daemon/page_topics.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/job/takes.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/instrument.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/unknown.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {
namespace {

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

// What was read last and counts, by one command: of a take with both faces, the second.
void tell_last_take(page::Readings& topic, sheet::Show show) {
  const auto& readings = topic.readings;
  const auto last =
      std::find_if(readings.rbegin(), readings.rend(), [](const auto& each) { return each.kept; });
  if (last == readings.rend()) return;
  auto first = last.base() - 1;
  while (first != readings.begin() && (first - 1)->entry == first->entry - 1) --first;
  std::string values, instrument, face;
  for (auto each = first; each != last.base(); ++each) {
    if (!each->kept) continue;
    const bool distance = each->channel == word(Channel::distance);
    if (!distance) face = say::said(show, each->face == 1 ? ", face 1" : ", face 2");
    values += each->instrument == instrument ? "," : (values.empty() ? "" : "; ") + each->instrument;
    instrument = each->instrument;
    values += ' ' + (distance ? "" : say::said(show, each->channel) + ' ') + each->value;
  }
  topic.last_place = last->at + (face.empty() ? say::text(show, ", set-up {}", last->set_up) : face);
  topic.last = topic.last_place + ": " + values;
}

/// With its sign, also where that is plus.
std::string signed_value(const sheet::ReadingEntry& reading, sheet::Show show) {
  const std::string value = say::reading_value(reading.channel, reading.value, show);
  const bool shows_nothing = value == value_of(reading, 0, show);
  return reading.channel == Channel::distance || reading.value < 0 || shows_nothing ? value : '+' + value;
}

std::vector<page::ShapeAt> shape_of(const sheet::RunSheet& run, const job::FitReport& predicted,
                                    const job::FitReport& report, const job::Card& card) {
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  const double mean = mean_of(report), predicted_mean = mean_of(predicted);
  const double before = mean_of(card.left_before_m, card.right_before_m);
  const double after = mean_of(card.left_m, card.right_m);
  const std::size_t finished = std::min(
      {card.left_before_m.size(), card.right_before_m.size(), card.left_m.size(), card.right_m.size()});
  std::vector<page::ShapeAt> shape;
  for (std::size_t i = 0; i < report.stations.size(); ++i) {
    const fit::StationShape<double>& station = report.stations[i];
    page::ShapeAt& at = shape.emplace_back();
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
  }
  return shape;
}

// The readings of the run beside its shape.
std::vector<page::Mark> marks_of(const sheet::RunSheet& run, const job::FitReport& report,
                                 std::span<const KeptReading> kept) {
  const double mean = mean_of(report);
  std::vector<page::Mark> marks;
  for (std::size_t k = 0; k < kept.size() && k < report.judgements.size(); ++k) {
    const sheet::ReadingEntry& reading = *kept[k].reading;
    if (!reading.mark.empty()) continue;  // not of the run
    const auto station = station_number(run, reading.at_m);
    if (!station || std::size_t(*station) > report.stations.size()) continue;
    const fit::StationShape<double>& shape = report.stations[std::size_t(*station) - 1];
    const fit::Judgement<double>& judgement = report.judgements[k];
    page::Mark& mark = marks.emplace_back();
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
    mark.words = say::text(run.show, "{}, {} off the fit", signed_value(reading, run.show),
                           value_of(reading, judgement.residual, run.show));
  }
  return marks;
}

}  // namespace

page::Readings readings_topic(const sheet::RunSheet& run, std::span<const book::BookedReading> booked,
                              const job::FitReport* fitted) {
  page::Readings topic;
  std::vector<int> take(booked.size());
  int number = 0;
  for (const std::vector<std::size_t>& each : job::takes_of(booked)) {
    ++number;
    for (const std::size_t i : each) take[i] = number;
  }
  std::size_t kept = 0;
  for (std::size_t i = 0; i < booked.size(); ++i) {
    const book::BookedReading& each = booked[i];
    const sheet::ReadingEntry& reading = each.reading;
    page::BookedReading shown;
    shown.entry = each.number;
    shown.take = take[i];
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
    shown.value = signed_value(reading, run.show);
    shown.sigma = value_of(reading, reading.sigma, run.show);
    shown.kept = each.kept;
    shown.reason = each.reason;
    if (each.kept && fitted != nullptr && kept < fitted->judgements.size()) {
      const fit::Judgement<double>& judgement = fitted->judgements[kept];
      shown.residual = value_of(reading, judgement.residual, run.show);
      shown.fits = judgement.verdict == fit::Verdict::kept;
      if (!shown.fits) shown.reason = say::aside_words(judgement, run.show);
    }
    if (each.kept) ++kept;
    topic.readings.push_back(std::move(shown));
  }
  tell_last_take(topic, run.show);
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
                   ? say::said(run.show, "Nothing has been measured: all this is assumed.")
                   : say::text(run.show, "{} readings kept, {} set aside by the fit.",
                               report.self_test.degrees_of_freedom, report.self_test.beyond_gate);
  topic.has_moves = !card.moves.empty();

  topic.stations = shape_of(run, predicted, report, card);
  double largest_sag = 0, largest_to_come = 0;
  for (const fit::StationShape<double>& station : report.stations) {
    if (std::abs(station.sag_m) > std::abs(largest_sag)) largest_sag = station.sag_m;
    if (std::abs(station.sag_to_come_m) > std::abs(largest_to_come)) largest_to_come = station.sag_to_come_m;
  }
  if (!report.stations.empty())
    topic.tilt = fine(report.stations.back().tilt_and_height_m - report.stations.front().tilt_and_height_m);
  topic.sag = fine(largest_sag);
  topic.sag_to_come = fine(largest_to_come);
  topic.marks = marks_of(run, report, kept);
  for (const job::LikelierCause& cause : report.causes)
    if (topic.causes.size() < 3)
      topic.causes.push_back({say::percent(cause.weight, run.show), say::cause_words(cause, run.show)});
  for (const job::UnknownEstimate& each : report.parameters)
    topic.learned.push_back({say::name_words(each.id, run.show), say::value(each.found(), run.show),
                             say::sigma(each.found(), run.show), say::learned_words(each.estimate)});
  for (const job::Repeats& repeats : report.repeats)
    if (repeats.verdict == fit::ScatterVerdict::larger_than_stated)
      topic.warnings.push_back(say::repeats_words(run, repeats));
  if (std::string warmth = say::warmth_note(run, report); !warmth.empty())
    topic.warnings.push_back(std::move(warmth));
  topic.warnings.insert(topic.warnings.end(), warnings.begin(), warnings.end());
  return topic;
}

}  // namespace hangtrue::daemon

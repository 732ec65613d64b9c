#include "firmware-host/say/fit.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include <fmt/format.h>

#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/doubts.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/table.hpp"
#include "firmware-host/say/unknown.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

using job::UnknownOf;

// Readings agree too well where chance alone would make chi-squared as small in less than this share of surveys. No source.
constexpr double kTooWell = 0.001;

std::string times(double factor, sheet::Show show) {
  return text(show, "{} times", sheet::with_decimal_sign(fmt::format("{:.2f}", factor), show.language));
}

std::string unknown_off_words(const job::UnknownId& id, const job::Quantity& off, sheet::Show show) {
  const std::string size = value_and_sigma(off, show);
  const std::string larger = text(show, "{} is larger than assumed: {}", name_words(id, show), size);
  if (id.change) return larger;
  switch (id.of) {
    case UnknownOf::datum_tilt:
      return text(show, "set-up {}: the datum is tilted, {}", id.name, size);
    case UnknownOf::datum_height:
      return text(show, "set-up {}: the datum stands elsewhere, {}", id.name, size);
    case UnknownOf::zero:
      return text(show, "{} has drifted: {}", name_words(id, show), value(off, show));
    case UnknownOf::support_rise:
      return off.value < 0 ? text(show, "{} stands lower than assumed: {}", id.name, size)
                           : text(show, "{} stands higher than assumed: {}", id.name, size);
    case UnknownOf::support_pitch:
      return text(show, "{} is turned: pitch {}", id.name, size);
    case UnknownOf::support_roll:
      return text(show, "{} is turned: roll {}", id.name, size);
    case UnknownOf::spring_rise:
    case UnknownOf::spring_pitch:
    case UnknownOf::spring_roll:
      return off.value < 0
                 ? text(show, "{} is softer than listed: {}", id.name, times(std::exp(off.value), show))
                 : text(show, "{} is stiffer than listed: {}", id.name, times(std::exp(off.value), show));
    case UnknownOf::give_rise:
    case UnknownOf::give_pitch:
    case UnknownOf::give_roll:
      return text(show, "{} is not rigid: it gives {}", id.name, size);
    case UnknownOf::bending:
    case UnknownOf::torsion:
      return off.value < 1 ? text(show, "the run is softer than predicted: {} {}", name_words(id, show),
                                  times(off.value, show))
                           : text(show, "the run is stiffer than predicted: {} {}", name_words(id, show),
                                  times(off.value, show));
    case UnknownOf::load:
    case UnknownOf::unlisted_load:
      return off.value > 1
                 ? text(show, "{} is heavier than listed: {}", name_words(id, show), times(off.value, show))
                 : text(show, "{} is lighter than listed: {}", name_words(id, show), times(off.value, show));
    case UnknownOf::move_rise:
    case UnknownOf::move_pitch:
    case UnknownOf::move_roll:
    case UnknownOf::bow:
    case UnknownOf::mark_height:
    case UnknownOf::drift_share:
      return larger;
  }
  std::abort();  // every enumerator stands above
}

}  // namespace

std::string cause_words(const job::LikelierCause& cause, sheet::Show show) {
  switch (cause.kind) {
    case fit::CauseKind::none_of_these:
      return said(show, "chance, or something that the sheet does not describe");
    case fit::CauseKind::stray_readings:
      return said(show, "stray readings: those set aside");
    case fit::CauseKind::rough_channel:
      return cause.channel ? text(show, "{} scatters more than stated", name_words(*cause.channel, show))
                           : said(show, "the distance readings scatters more than stated");
    case fit::CauseKind::unknown_off:
      return unknown_off_words(cause.unknown.value(), cause.off, show);
  }
  std::abort();  // every enumerator stands above
}

std::string aside_words(const fit::Judgement<double>& judgement, sheet::Show show) {
  switch (judgement.verdict) {
    case fit::Verdict::beyond_gate:
      return text(
          show, "beyond the gate: {} sigmas from what the other readings say",
          sheet::with_decimal_sign(fmt::format("{:.1f}", std::abs(judgement.normalised)), show.language));
    case fit::Verdict::by_hand:
      return said(show, "set aside by hand");
    case fit::Verdict::before_movement:
      return said(show, "read before something moved");
    case fit::Verdict::not_judged:
      return said(show, "not judged");
    case fit::Verdict::kept:
      return "";
  }
  return "";
}

std::string next_words(const sheet::RunSheet& run, const job::NextReading& next) {
  const sheet::Show show = run.show;
  std::string words = text(show, "Next best reading: {} with {} at {}", channel_words(next.channel, show),
                           next.instrument, sheet::show_place(next.at_m, show));
  if (next.channel != Channel::distance)
    words += said(show, next.face == 1 ? ", face 1" : ", face 2 (turned round)");
  if (next.edge != survey::Edge::middle) words += text(show, ", {} edge", edge_words(next.edge, show));
  return words + text(show, ": sigma of the finished shape from {} to {}.",
                      sheet::show_fine(next.sigma_now_m, show), sheet::show_fine(next.sigma_after_m, show));
}

std::string repeats_words(const sheet::RunSheet& run, const job::Repeats& repeats) {
  const sheet::Show show = run.show;
  const auto shown = [&](double sigma) {
    return repeats.channel.channel == Channel::distance ? sheet::show_fine(sigma, show)
                                                        : fine_slope_words(sigma, show);
  };
  const std::string found = shown(repeats.pooled_sigma);
  const std::string of =
      (repeats.groups == 1 ? text(show, "{} place", repeats.groups)
                           : text(show, "{} places", repeats.groups)) +
      ", " +
      (repeats.degrees_of_freedom == 1 ? text(show, "{} degree of freedom", repeats.degrees_of_freedom)
                                       : text(show, "{} degrees of freedom", repeats.degrees_of_freedom));
  std::string words =
      text(show, "Repeats with {} ({}): one reading scatters by {}, {} is stated: {} (p {}).",
           name_words(repeats.channel, show), of, found, shown(repeats.stated_sigma),
           said(show, word(repeats.verdict)),
           repeats.p_value < 0.001 ? "< " + digits(0.001, 3, show) : "= " + digits(repeats.p_value, 3, show));
  if (repeats.verdict == fit::ScatterVerdict::larger_than_stated)
    words +=
        text(show,
             " Find out why (a loose place, hands on the run, feet not on their marks), or have {} stated as "
             "this channel's sigma in the kit sheet; until then the sigmas shown are too small.",
             found);
  return words;
}

std::string learned_words(const fit::Estimate<double>& estimate) {
  return fmt::format("{:.0f} %", 100 * std::max(0.0, estimate.learned));
}

std::string likelier_causes(const job::FitReport& report, sheet::Show show, std::size_t most) {
  if (report.causes.empty()) return {};
  std::string text = "Likelier causes:\n";
  for (std::size_t i = 0; i < std::min(report.causes.size(), most); ++i)
    text += folded(
        "  " + right_set(percent(report.causes[i].weight), 12) + "  " + cause_words(report.causes[i], show),
        16);
  return text;
}

std::string too_well_words(const job::FitReport& report) {
  const fit::SelfTest<double>& test = report.self_test;
  if (test.degrees_of_freedom == 0 || !(1 - test.p_value < kTooWell)) return {};
  return fmt::format(
      "The readings agree better than their sigmas let them (chi-squared {:.1f} with {} readings): a unit is "
      "wrong, or the "
      "sigmas of the kit sheet are too wide.",
      test.chi_squared, test.degrees_of_freedom);
}

std::string warmth_words(const job::Warmth& warmth, sheet::Show show) {
  const auto degrees = [&](double C) { return temperature_words(C, show); };
  const bool since = std::any_of(warmth.supports.begin(), warmth.supports.end(),
                                 [](const job::Grown& each) { return each.sigma_m > 0; });
  if (!since)
    return text(show,
                "The readings were taken at {} to {}; what rods and posts grow by is taken off, so that the "
                "shape is that at {}.",
                degrees(warmth.coolest_C), degrees(warmth.warmest_C), degrees(*warmth.stood_C));
  std::vector<std::string> all;
  for (const job::Grown& each : warmth.supports) {
    const std::string by =
        value_and_sigma({job::QuantityKind::height, std::abs(each.rise_m), each.sigma_m}, show);
    all.push_back(each.rise_m < 0 ? text(show, "{}: {} lower", each.support, by)
                                  : text(show, "{}: {} higher", each.support, by));
  }
  return text(show,
              "It was {} then and is {} now. What rods and posts grow by between the two is warmth, no "
              "movement, and was taken off first: {}.",
              degrees(*warmth.stood_C), degrees(*warmth.mean_C), fmt::format("{}", fmt::join(all, "; ")));
}

std::string temperature_not_read(const job::WarmthToCome& by, sheet::Show show) {
  const std::string ten = show.is_metric() ? "10 C" : "18 F";
  return text(show,
              "No temperature was read at both times, so nothing is taken off for warmth: {} warmer or "
              "colder move {} by {}. Read the air beside the rods: a channel that gives temperature, or a "
              "column temperature in the readings.",
              ten, by.support, sheet::show_fine(by.by_m, show));
}

std::string warmth_note(const sheet::RunSheet& run, const job::FitReport& report) {
  const job::Warmth& warmth = report.warmth;
  if (warmth.should_be_read) return temperature_not_read(job::warmth_to_come(run, report.stage), run.show);
  const bool alike =
      warmth.mean_C && warmth.coolest_C == warmth.warmest_C && *warmth.mean_C == *warmth.stood_C;
  return warmth.supports.empty() || !warmth.mean_C || alike ? std::string() : warmth_words(warmth, run.show);
}

std::string warning_lines(const sheet::RunSheet& run, const job::FitReport& report) {
  const sheet::Show show = run.show;
  std::string text;
  if (const std::string warmth = warmth_note(run, report); !warmth.empty())
    text += folded("Note: " + warmth, 6);
  if (const std::string too_well = too_well_words(report); !too_well.empty())
    text += folded("Note: " + too_well, 6);
  for (const job::Warning& each : report.warnings) text += folded("Note: " + warning(each, show), 6);
  return text;
}

std::string_view outcome_words(fit::TestOutcome outcome) {
  switch (outcome) {
    case fit::TestOutcome::holds:
      return "the fit holds";
    case fit::TestOutcome::fails:
      return "the fit DOES NOT HOLD";
    default:
      return "the fit has nothing to test";
  }
}

namespace {

double mean_height_m(const job::FitReport& report) {
  double mean = 0;
  for (const auto& station : report.stations) mean += station.height_m / double(report.stations.size());
  return mean;
}

std::string stations_view(const sheet::RunSheet& run, const job::FitReport& report) {
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  std::string text = right_set("at", 14) + right_set("height", 13) + right_set("+-", 11) +
                     right_set("tilt", 13) + right_set("sag", 12) + right_set("to come", 14) + '\n';
  const double mean = mean_height_m(report);
  for (const auto& station : report.stations)
    text += right_set(sheet::show_place(station.at_m, run.show), 14) +
            right_set(fine(station.height_m - mean), 13) +
            right_set(fine(station.height_less_mean_sigma_m), 11) +
            right_set(fine(station.tilt_and_height_m + station.bent_by_supports_m - mean), 13) +
            right_set(fine(station.sag_m), 12) + right_set(fine(station.sag_to_come_m), 14) + '\n';
  return text + folded(
                    "Heights are less their mean; +- is one sigma of that. Tilt is what shims cure; sag they "
                    "do not. To "
                    "come: what "
                    "the later stages add.");
}

std::string shape_view(const sheet::RunSheet& run, const job::FitReport& report) {
  const double mean = mean_height_m(report);
  Curve shape{'#', "now, as fitted", {}, {}}, finished{'o', "finished, as things are", {}, {}};
  for (const auto& station : report.stations) {
    shape.at_m.push_back(station.at_m);
    shape.height_m.push_back(station.height_m - mean);
    finished.at_m.push_back(station.at_m);
    finished.height_m.push_back(station.height_m + station.sag_to_come_m - mean);
  }
  return profile(run, {finished, shape}, report.stage,
                 report.bearing.empty() ? std::vector<std::string>{} : report.bearing.front().lifted);
}

std::string unknowns_view(const job::FitReport& report, sheet::Show show) {
  std::string text =
      column("what", 36) + right_set("value", 16) + right_set("sigma", 14) + right_set("learned", 10) + '\n';
  for (const job::UnknownEstimate& each : report.parameters)
    text += column(name_of(each.id), 36) + right_set(value(each.found(), show), 16) +
            right_set(sigma(each.found(), show), 14) + right_set(learned_words(each.estimate), 10) + '\n';
  return text + folded(
                    "Learned: the share of the prior variance that the readings took away. 0 % is an "
                    "assumption, not a measurement.");
}

std::string test_view(const sheet::RunSheet& run, const job::FitReport& report) {
  const fit::SelfTest<double>& test = report.self_test;
  std::string text =
      fmt::format("Chi-squared {:.1f} with {} readings kept, p = {:.3f}: {}.\n", test.chi_squared,
                  test.degrees_of_freedom, test.p_value, outcome_words(test.outcome));
  for (const job::FoundMovement& each : report.movements)
    text += folded("While the run was read, " + movement_words(run, each) + ".", 4);
  if (report.bearing.size() > 1 || (!report.bearing.empty() && !report.bearing[0].lifted.empty()))
    for (const job::BearingOption& option : report.bearing) {
      std::string free;
      for (const std::string& name : option.lifted) free += (free.empty() ? "" : ", ") + name;
      text += folded(
          "Hangs free: " + (free.empty() ? "nothing" : free) + " (" + percent(option.probability) + ").", 4);
    }
  for (std::size_t i = 0; i < report.judgements.size(); ++i)
    if (report.judgements[i].verdict != fit::Verdict::kept)
      text += folded(
          "Reading " + std::to_string(i + 1) + " set aside: " + aside_words(report.judgements[i]) + '.', 4);
  return text;
}

}  // namespace

std::string fit_view(const sheet::RunSheet& run, const job::FitReport& report) {
  std::string text =
      heading(run.title + ": survey at stage \"" + run.stages[std::size_t(report.stage)] + "\"");
  if (report.status == fit::Status::prior_only)
    text += "Nothing has been measured: all that follows is assumed.\n";
  if (report.status == fit::Status::not_settled)
    text += "The fit did not settle: do not rely on what follows.\n";
  text += stations_view(run, report) + '\n' + shape_view(run, report) + '\n' +
          unknowns_view(report, run.show) + test_view(run, report) + likelier_causes(report, run.show, 5);
  for (const job::Repeats& repeats : report.repeats) text += folded(repeats_words(run, repeats), 4);
  text += warning_lines(run, report);
  if (report.next) text += folded(next_words(run, *report.next), 4);
  return text;
}

}  // namespace hangtrue::say

#include "firmware-host/say/views.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "core/quantity/units.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

std::string padded(std::string text, std::size_t width) {
  if (text.size() < width) text.append(width - text.size(), ' ');
  return text;
}
Curve edge_curve(char mark, std::string label, const sheet::RunSheet& run, const std::vector<double>& left,
                 const std::vector<double>& right) {
  Curve curve{mark, std::move(label), run.stations_m, {}};
  for (std::size_t i = 0; i < left.size(); ++i) curve.height_m.push_back((left[i] + right[i]) / 2);
  return curve;
}

std::string warning_lines(const job::FitReport& report, sheet::Show show) {
  std::string text;
  for (const job::Warning& each : report.warnings) text += folded("Note: " + warning(each, show), 6);
  return text;
}

double interpolated(const Curve& curve, double x) {
  if (curve.at_m.empty()) return 0;
  const auto after = std::lower_bound(curve.at_m.begin(), curve.at_m.end(), x);
  if (after == curve.at_m.begin()) return curve.height_m.front();
  if (after == curve.at_m.end()) return curve.height_m.back();
  const auto i = std::size_t(after - curve.at_m.begin());
  const double span = curve.at_m[i] - curve.at_m[i - 1];
  const double part = span > 0 ? (x - curve.at_m[i - 1]) / span : 0;
  return curve.height_m[i - 1] + part * (curve.height_m[i] - curve.height_m[i - 1]);
}

}  // namespace

std::string right_set(std::string text, std::size_t width) {
  if (text.size() < width) text.insert(0, width - text.size(), ' ');
  return text;
}

std::string column(const std::string& text, std::size_t width) {
  return padded(text.size() < width ? text : text.substr(0, width - 2) + "~", width);
}

std::string heading(const std::string& text) {
  return text + '\n' + std::string(std::min(text.size(), kColumns), '-') + '\n';
}

std::string folded(const std::string& text, std::size_t indent) {
  std::size_t start = std::min(text.find_first_not_of(' '), text.size());
  std::string result, line(start, ' ');
  bool first = true;
  while (start < text.size()) {
    const std::size_t end = std::min(text.find(' ', start), text.size());
    const std::string word = text.substr(start, end - start);
    if (!first && line.size() + 1 + word.size() > kColumns) {
      result += line + '\n';
      line = std::string(indent, ' ') + word;
    } else {
      line += (first ? "" : " ") + word;
    }
    first = false;
    start = end + 1;
  }
  return result + line + '\n';
}

std::string profile(const sheet::RunSheet& run, const std::vector<Curve>& curves) {
  constexpr int kWide = 62, kHigh = 11;
  double low = 0, high = 0;
  bool first = true;
  for (const Curve& curve : curves)
    for (const double z : curve.height_m) {
      low = first ? z : std::min(low, z);
      high = first ? z : std::max(high, z);
      first = false;
    }
  if (first) return "";
  if (high - low < 1e-6) high = low + 1e-6;
  std::vector<std::string> rows(kHigh, std::string(kWide, ' '));
  for (const Curve& curve : curves)
    for (int c = 0; c < kWide; ++c) {
      const double z = interpolated(curve, run.length_m * c / (kWide - 1));
      const int r = int(std::lround((high - z) / (high - low) * (kHigh - 1)));
      rows[std::size_t(std::clamp(r, 0, kHigh - 1))][std::size_t(c)] = curve.mark;
    }

  std::string text;
  for (int r = 0; r < kHigh; ++r) {
    std::string scale;
    if (r == 0) scale = sheet::show_fine(high, run.show);
    if (r == kHigh - 1) scale = sheet::show_fine(low, run.show);
    text += right_set(scale, 14) + " |" + rows[std::size_t(r)] + '\n';
  }
  std::string axis(kWide, '-');
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    const int c = int(std::lround(run.beam_supports[i].at_m / run.length_m * (kWide - 1)));
    axis[std::size_t(std::clamp(c, 0, kWide - 1))] = char('A' + int(i));
  }
  text += std::string(15, ' ') + '+' + axis + '\n';
  // A row of text is about twice as high as a column is wide.
  const double factor = (run.length_m / kWide) / ((high - low) / (kHigh - 1)) * 2;
  std::string legend =
      "Heights drawn " + std::to_string(std::max(1L, std::lround(factor))) + " times too tall.";
  for (const Curve& curve : curves) legend += std::string("  ") + curve.mark + ' ' + curve.label + '.';
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    legend += std::string("  ") + char('A' + int(i)) + ' ' + run.supports[i].name + '.';
  return text + folded(legend, 2);
}

std::string prediction_view(const sheet::RunSheet& run, const beam::Solver<double>& solver) {
  std::string text = heading(run.title);
  text += "Predicted shape, as the sheet has it: " + std::to_string(run.stages.size()) + " stages, " +
          sheet::show_place(run.length_m, run.show) + " long.\n\n";
  const double largest_ratio = run.tolerance.span_ratio.value_or(0);
  for (int stage = 0; stage < int(run.stages.size()); ++stage) {
    text += heading("Stage \"" + run.stages[std::size_t(stage)] + "\"");
    text +=
        right_set("at", 16) + right_set("height", 14) + right_set("slope", 16) + right_set("roll", 16) + '\n';
    for (const double x : run.stations_m) {
      const beam::Section<double> here = solver.at(stage, x);
      text += right_set(sheet::show_place(x, run.show), 16) +
              right_set(sheet::show_fine(here.height_m, run.show), 14) +
              right_set(sheet::show_slope(here.slope_rad, run.show), 16) +
              right_set(sheet::show_slope(here.roll_rad, run.show), 16) + '\n';
    }
    const auto lowest = solver.lowest(stage);
    text += "Lowest: " + sheet::show_fine(lowest.height_m, run.show) + " at " +
            sheet::show_place(lowest.at_m, run.show) + ".\n";
    for (const job::Span& span : job::spans(run, solver, stage)) {
      text += folded(
          (span.overhang ? "Beyond the support, " : "Span ") + sheet::show_place(span.from_m, run.show) +
              " to " + sheet::show_place(span.to_m, run.show) + ": " +
              (span.sag_m < 0 ? "rises " + sheet::show_fine(-span.sag_m, run.show)
                              : "sag " + sheet::show_fine(span.sag_m, run.show)) +
              (span.sag_m > 0 && std::isfinite(span.ratio())
                   ? ", span / " + std::to_string(std::lround(std::min(span.ratio(), 1e6)))
                   : std::string()) +
              (largest_ratio > 0 && !span.overhang
                   ? " (limit of the sheet: span / " + std::to_string(std::lround(largest_ratio)) +
                         (run.tolerance.span_ratio_source.empty() ? ""
                                                                  : ", " + run.tolerance.span_ratio_source) +
                         ")"
                   : std::string()),
          4);
    }
    text += column("support", 24) + right_set("force", 14) + right_set("couple", 16) +
            right_set("torque", 16) + '\n';
    for (int i = 0; i < int(run.supports.size()); ++i) {
      if (!run.beam_stages[std::size_t(stage)].lists_support(i)) continue;
      const beam::SupportAction<double> action = solver.support(stage, i);
      text += column(run.supports[std::size_t(i)].name, 24);
      if (!action.engaged)
        text += right_set("lifted: carries nothing", 30);
      else
        text += right_set(sheet::show_force(action.force_N, run.show), 14) +
                right_set(sheet::show_couple(action.moment_Nm, run.show), 16) +
                right_set(sheet::show_couple(action.torque_Nm, run.show), 16);
      const std::optional<double> rating = run.supports[std::size_t(i)].rating_N;
      if (rating && std::abs(action.force_N) > *rating) text += "  over rating";
      text += '\n';
      // The couple that the bolts of a bracket take as a pair of forces.
      const std::optional<double> along = run.supports[std::size_t(i)].bolt_rows_along_m;
      if (action.engaged && along && action.moment_Nm != 0)
        text += "    bolt rows " + sheet::show_length(*along, run.show) +
                " apart: " + sheet::show_force(std::abs(action.moment_Nm) / *along, run.show) +
                " each way from the couple\n";
    }
    const std::vector<double> stress = job::bending_stress_Pa(run, solver, stage);
    for (std::size_t m = 0; m < run.members.size(); ++m)
      if (stress[m] > 0)
        text += "Bending stress in \"" + run.members[m].name + "\": at most " +
                sheet::show_stress(stress[m], run.show) + ".\n";
    text += '\n';
  }

  std::vector<Curve> curves;
  const auto add = [&](char mark, int stage) {
    Curve curve{mark, run.stages[std::size_t(stage)], {}, {}};
    for (const job::Place& place : job::places(run, solver)) {
      curve.at_m.push_back(place.at_m);
      curve.height_m.push_back(solver.height(stage, place.at_m));
    }
    curves.push_back(std::move(curve));
  };
  add('.', 0);
  if (run.tolerance.stage != 0) add('#', run.tolerance.stage);
  text += profile(run, curves);
  text += folded(
      "Shape, not strength: forces and stresses are shown to help, they are no design verification. Anchors, "
      "welds, bolts and framing are designed and checked by those licensed for it, under the local code.");
  return text;
}

std::string fit_view(const sheet::RunSheet& run, const job::FitReport& report) {
  std::string text =
      heading(run.title + ": survey at stage \"" + run.stages[std::size_t(report.stage)] + "\"");
  if (report.status == fit::Status::prior_only)
    text += "Nothing has been measured: all that follows is assumed.\n";
  if (report.status == fit::Status::not_settled)
    text += "The fit did not settle: do not rely on what follows.\n";

  text += right_set("at", 14) + right_set("height", 13) + right_set("+-", 11) + right_set("tilt", 13) +
          right_set("sag", 12) + right_set("to come", 14) + '\n';
  double mean = 0;
  for (const auto& station : report.stations) mean += station.height_m / double(report.stations.size());
  for (const auto& station : report.stations)
    text +=
        right_set(sheet::show_place(station.at_m, run.show), 14) +
        right_set(sheet::show_fine(station.height_m - mean, run.show), 13) +
        right_set(sheet::show_fine(station.height_less_mean_sigma_m, run.show), 11) +
        right_set(sheet::show_fine(station.tilt_and_height_m + station.bent_by_supports_m - mean, run.show),
                  13) +
        right_set(sheet::show_fine(station.sag_m, run.show), 12) +
        right_set(sheet::show_fine(station.sag_to_come_m, run.show), 14) + '\n';
  text += folded(
      "Heights are less their mean; +- is one sigma of that. Tilt is what shims cure; sag they do not. To "
      "come: what "
      "the later stages add.");
  text += '\n';
  Curve shape{'#', "now, as fitted", {}, {}}, finished{'o', "finished, as things are", {}, {}};
  for (const auto& station : report.stations) {
    shape.at_m.push_back(station.at_m);
    shape.height_m.push_back(station.height_m - mean);
    finished.at_m.push_back(station.at_m);
    finished.height_m.push_back(station.height_m + station.sag_to_come_m - mean);
  }
  text += profile(run, {finished, shape}) + '\n';

  text +=
      column("what", 36) + right_set("value", 16) + right_set("sigma", 14) + right_set("learned", 10) + '\n';
  for (const job::NamedEstimate& named : report.parameters) {
    char learned[16];
    std::snprintf(learned, sizeof learned, "%.0f %%", 100 * std::max(0.0, named.estimate.learned));
    text += column(named.name, 36) + right_set(parameter_value(run, named.name, named.estimate.value), 16) +
            right_set(parameter_sigma(run, named), 14) + right_set(learned, 10) + '\n';
  }
  text += folded(
      "Learned: the share of the prior variance that the readings took away. 0 % is an assumption, not a "
      "measurement.");
  char test[160];
  std::snprintf(test, sizeof test, "Chi-squared %.1f with %d readings kept, p = %.3f: the fit %s.\n",
                report.self_test.chi_squared, report.self_test.degrees_of_freedom, report.self_test.p_value,
                report.self_test.outcome == fit::TestOutcome::holds   ? "holds"
                : report.self_test.outcome == fit::TestOutcome::fails ? "DOES NOT HOLD"
                                                                      : "has nothing to test");
  text += test;
  for (std::size_t i = 0; i < report.judgements.size(); ++i)
    if (report.judgements[i].verdict != fit::Verdict::kept)
      text += folded(
          "Reading " + std::to_string(i + 1) + " set aside: " + aside_words(report.judgements[i]) + '.', 4);
  if (!report.causes.empty()) {
    text += "Likelier causes:\n";
    for (std::size_t i = 0; i < std::min<std::size_t>(report.causes.size(), 5); ++i)
      text +=
          folded("  " + right_set(percent(report.causes[i].weight), 12) + "  " + report.causes[i].words, 16);
  }
  for (const job::Repeats& repeats : report.repeats) text += folded(repeats_words(run, repeats), 4);
  text += warning_lines(report, run.show);
  if (report.next) text += folded(next_words(run, *report.next), 4);
  return text;
}

const std::vector<std::string>& caution_sentences() {
  static const std::vector<std::string> sentences{
      "Keep lifts or props under the run until every final bolt is tight and checked by a second person.",
      "Nobody under a run that hangs on one support.", "Moving one support moves load to the others.",
      "This speaks of level alone, not of strength: anchors, welds, bolts and framing are for those licensed "
      "for it, "
      "under the local code.",
      "Never look into a laser."};
  return sentences;
}

std::string cautions() {
  std::string text = "CAUTION ";
  for (const std::string& sentence : caution_sentences()) text += ' ' + sentence;
  return folded(text, 9);
}

std::string card_view(const sheet::RunSheet& run, const job::FitReport& report, const job::Card& card) {
  std::string answer(adjust::short_name(card.hold_point.answer));
  for (char& letter : answer) letter = char(std::toupper(static_cast<unsigned char>(letter)));
  std::string text =
      heading("SHIM CARD  " + run.title + ", stage \"" + run.stages[std::size_t(report.stage)] + "\"");
  text += "May the final bolts be tightened?  " + answer +
          (card.hold_point.answer == adjust::HoldPoint::ready_to_bolt ? " (level alone)" : "") + "\n\n";
  text += folded(card.reason) + '\n';

  if (card.moves.empty()) {
    text += report.status == fit::Status::settled ? "No move would make it better.\n"
                                                  : "No move can be advised from this.\n";
  } else {
    text += moves_heading(report.self_test.outcome == fit::TestOutcome::holds, card.hold_point.answer) + '\n';
    int order = 0;
    for (const job::CardMove& entry : card.moves) {
      const sheet::Adjust& adjust = run.supports[std::size_t(entry.move.support)].adjust;
      std::string line = ' ' + std::to_string(++order) + "  " + entry.support + ": ";
      if (adjust.by == sheet::AdjustBy::rod) {
        line += sheet::show_turns(std::abs(entry.move.turns)) + (entry.move.turns > 0 ? " up" : " down") +
                " (" + sheet::show_length(entry.move.rise_m, run.show) + ')';
      } else if (adjust.by == sheet::AdjustBy::lift) {
        line += (entry.move.rise_m > 0 ? "up " : "down ") +
                sheet::show_length(std::abs(entry.move.rise_m), run.show);
      } else {
        bool first = true;
        const sheet::Stock& stock = run.stocks[std::size_t(adjust.stock)];
        for (int k = 0; k < entry.move.stacks; ++k) {
          const adjust::Stack<double>& stack = entry.move.stack[std::size_t(k)];
          std::string pieces;
          for (std::size_t kind = 0; kind < stock.pieces.size(); ++kind)
            if (stack.count[kind] > 0)
              pieces += (pieces.empty() ? "" : " + ") + std::to_string(int(stack.count[kind])) + " x " +
                        stock.pieces[kind].label;
          if (pieces.empty()) pieces = "none";
          line += std::string(first ? "" : "; ") +
                  (entry.move.stacks > 1 ? std::string(word(stack.where)) + " " : std::string()) + pieces;
          first = false;
        }
        line +=
            " (" + motion_words(entry.move.rise_m, entry.move.pitch_rad, entry.move.roll_rad, run.show) + ')';
      }
      if (entry.stage) line += ", when stage \"" + run.stages[std::size_t(*entry.stage)] + "\" begins";
      text += folded(line, 4);
      for (const job::Effect& effect : entry.effects) {
        const std::string then = effect_words(effect, run.show);
        if (!then.empty()) text += folded("    then " + then, 6);
      }
      if (!entry.turn.limits_hold)
        text += folded("    until the next move a support here is unloaded or over its rating: prop it", 4);
    }
  }
  text += '\n';
  const auto fine = [&](double length) { return sheet::show_fine(length, run.show); };
  text += "Finished level error   as things are  " + right_set(fine(card.before.level_error_m), 10) + " +- " +
          fine(card.before.drawn_sigma_m) + ", chance " + percent(card.before.chance) + '\n';
  if (!card.moves.empty())
    text += "                       after the moves" + right_set(fine(card.after.level_error_m), 10) +
            " +- " + fine(card.after.drawn_sigma_m) + ", chance " + percent(card.after.chance) + '\n';
  text += "                       tolerance      " + right_set(fine(run.tolerance.level_m), 10) + '\n';
  if (!card.moves.empty()) {
    text += "What the supports do, finished: " + right_set("force now", 12) + right_set("after", 10) +
            right_set("couple now", 13) + right_set("after", 12) + '\n';
    for (const job::Reaction& reaction : card.reactions)
      text += column(reaction.support, 32) +
              right_set(sheet::show_force(reaction.before.force_N, run.show), 12) +
              right_set(sheet::show_force(reaction.after.force_N, run.show), 10) +
              right_set(sheet::show_couple(reaction.before.moment_Nm, run.show), 13) +
              right_set(sheet::show_couple(reaction.after.moment_Nm, run.show), 12) + '\n';
    text += "Couples go into bolts and wall: ask those licensed for it before a larger one.\n";
  }
  for (const std::string& advice : card.advice)
    if (!advice.empty()) text += folded(advice, 2);
  for (const job::Repeats& repeats : report.repeats)
    if (repeats.verdict == fit::ScatterVerdict::larger_than_stated)
      text += folded(repeats_words(run, repeats), 2);
  text += warning_lines(report, run.show);
  if (!report.causes.empty()) {
    text += "Likelier causes:\n";
    for (std::size_t i = 0; i < std::min<std::size_t>(report.causes.size(), 3); ++i)
      text +=
          folded("  " + right_set(percent(report.causes[i].weight), 12) + "  " + report.causes[i].words, 16);
  }
  text += '\n';
  std::vector<Curve> curves{
      edge_curve('.', "finished, as things are", run, card.left_before_m, card.right_before_m)};
  if (!card.moves.empty())
    curves.push_back(edge_curve('#', "finished, after the moves", run, card.left_m, card.right_m));
  text += profile(run, curves) + '\n';
  return text + cautions();
}

}  // namespace hangtrue::say

#include "firmware-host/say/predict.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "firmware-host/say/card.hpp"
#include "firmware-host/say/table.hpp"
#include "firmware-host/say/words.hpp"
#include "firmware-host/sheet/number.hpp"

namespace hangtrue::say {

namespace {

std::string point_words(const sheet::RunSheet& run, const char* which, const job::EdgePoint& point) {
  return std::string(which) + " point: " + std::string(word(point.edge)) + " edge at " +
         sheet::show_place(point.at_m, run.show) + ", " + sheet::show_fine(point.height_m, run.show) + ". ";
}

std::string setting_words(const sheet::RunSheet& run, const job::BestSetting& best) {
  using Outcome = adjust::Outcome;
  std::string text;
  if (best.outcome == Outcome::none_keeps_limits)
    text = "No setting of what can be adjusted keeps every support loaded and within its rating and travel.";
  else if (best.outcome == Outcome::none_found)
    text = "The search found no setting that keeps every support loaded and within its rating and travel.";
  else
    text = "Set as well as stock, steps and travel allow, when stage \"" +
           run.stages[std::size_t(best.stage)] + "\" stands, it would be " +
           sheet::show_fine(best.level_error_m, run.show) +
           (best.within ? ": within the tolerance. The card says which moves, once the run is read."
            : best.straight && !best.straight->within ? ". " + straight_words(run, *best.straight)
                                                      : ": still over the tolerance.");
  return best.cures ? text + ' ' + cure_words(run, *best.cures) : text;
}

std::string level_view(const sheet::RunSheet& run, const job::FinishedLevel& level,
                       const job::BestSetting* best) {
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  std::string text = "In stage \"" + run.stages[std::size_t(level.stage)] + "\" the level error is " +
                     fine(level.level_error_m);
  if (!level.within)
    text += "; the sheet names no tolerance.";
  else
    text += (level.level_error_m <= run.tolerance.level_m ? ", within the tolerance of "
                                                          : ", over the tolerance of ") +
            fine(run.tolerance.level_m) + '.';
  if (level.straight) text += ' ' + straight_words(run, *level.straight);
  const std::string answer = level.within ? "  " + std::string(as_written_words(*level.within)) : "";
  const job::LevelParts& parts = level.parts;
  std::string share = "Of the level error: ";
  if (run.tolerance.target_height_m) share += "height " + fine(parts.height_m) + ", ";
  share +=
      "sag " + fine(parts.sag_m) + ", tilt " + fine(parts.tilt_m) + ", twist " + fine(parts.twist_m) + '.';
  text = "Will it be level when finished?" + answer + '\n' + folded(text) +
         folded(point_words(run, "Highest", level.highest) + point_words(run, "Lowest", level.lowest) +
                sides_words(run.show)) +
         folded(share);
  if (best != nullptr) text += folded(setting_words(run, *best));
  return text + '\n';
}

std::string stations_view(const sheet::RunSheet& run, const beam::Solver<double>& solver, int stage) {
  std::string text =
      right_set("at", 16) + right_set("height", 14) + right_set("slope", 16) + right_set("roll", 16) + '\n';
  for (const double x : run.stations_m) {
    const beam::Section<double> here = solver.at(stage, x);
    text += right_set(sheet::show_place(x, run.show), 16) +
            right_set(sheet::show_fine(here.height_m, run.show), 14) +
            right_set(sheet::show_slope(here.slope_rad, run.show), 16) +
            right_set(sheet::show_slope(here.roll_rad, run.show), 16) + '\n';
  }
  const auto lowest = solver.lowest(stage);
  return text + "Lowest: " + sheet::show_fine(lowest.height_m, run.show) + " at " +
         sheet::show_place(lowest.at_m, run.show) + ".\n";
}

std::string span_words(const sheet::RunSheet& run, const job::Span& span) {
  std::string text = (span.overhang ? "Beyond the support, " : "Span ") +
                     sheet::show_place(span.from_m, run.show) + " to " +
                     sheet::show_place(span.to_m, run.show) + ": " +
                     (span.sag_m < 0 ? "rises " + sheet::show_fine(-span.sag_m, run.show)
                                     : "sag " + sheet::show_fine(span.sag_m, run.show));
  if (span.sag_m > 0 && std::isfinite(span.ratio()))
    text += ", span / " + std::to_string(std::lround(std::min(span.ratio(), 1e6)));
  const double largest_ratio = run.tolerance.span_ratio.value_or(0);
  if (largest_ratio > 0 && !span.overhang) {
    const std::string& source = run.tolerance.span_ratio_source;
    text += " (limit of the sheet: span / " + std::to_string(std::lround(largest_ratio)) +
            (source.empty() ? "" : ", " + source) + ")";
  }
  return text;
}

std::string support_view(const sheet::RunSheet& run, const sheet::SupportEntry& support,
                         const beam::SupportAction<double>& action) {
  std::string text = column(support.name, 24);
  if (!action.engaged)
    text += right_set("lifted: carries nothing", 30);
  else
    text += right_set(sheet::show_force(action.force_N, run.show), 14) +
            right_set(sheet::show_couple(action.moment_Nm, run.show), 16) +
            right_set(sheet::show_couple(action.torque_Nm, run.show), 16);
  if (support.rating_N && std::abs(action.force_N) > *support.rating_N) text += "  over rating";
  text += '\n';
  // The couple that the bolts of a bracket take as a pair of forces.
  const std::optional<double> along = support.bolt_rows_along_m;
  if (action.engaged && along && action.moment_Nm != 0)
    text += "    bolt rows " + sheet::show_length(*along, run.show) +
            " apart: " + sheet::show_force(std::abs(action.moment_Nm) / *along, run.show) +
            " each way from the couple\n";
  return text;
}

std::string other_words(const std::vector<std::string>& lifted) {
  return "Under these loads the run can stand in another way too: with " +
         (lifted.empty() ? "every support bearing" : listed(lifted) + " hanging free") +
         ". Which it is, only looking tells.";
}

std::string time_words(double days) {
  const bool in_years = days >= 365;
  const double number = in_years ? days / 365.25 : days;
  const bool whole = std::abs(number - std::round(number)) < 1e-9;
  return sheet::show_number(number, whole ? 0 : 1) + (in_years ? " year" : " day") +
         (whole && std::lround(number) == 1 ? "" : "s");
}

std::string later_view(const sheet::RunSheet& run, const job::PredictedLater& later) {
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  std::string text =
      time_words(later.days) + " after stage \"" + run.stages[std::size_t(later.stage)] + "\" began";
  switch (later.cause) {
    case job::DriftCause::wood_based_parts:
      break;
    case job::DriftCause::not_worked_out:
      return folded(text +
                    ": what its wood-based parts creep could not be worked out, so whether it is level "
                    "then is not known.") +
             '\n';
    default:
      return folded(text + " it stands as it stood then: nothing in it creeps to speak of.") + '\n';
  }
  text += " the level error is " + fine(later.level_error_m) +
          " (one sigma of the creep: " + fine(later.level_error_sigma_m) + ")";
  text += later.within ? (later.level_error_m <= run.tolerance.level_m ? ", within the tolerance of "
                                                                       : ", over the tolerance of ") +
                             fine(run.tolerance.level_m) + ". "
                       : "; the sheet names no tolerance. ";
  if (later.straight) text += straight_words(run, *later.straight) + ' ';
  text += "Wood-based parts creep under the loads that last; by then " + percent(later.creep_share) +
          " of what it comes to in the end has come.";
  text = folded(text) + right_set("at", 16) + right_set("height then", 14) + right_set("moved", 16) +
         right_set("one sigma", 16) + '\n';
  for (std::size_t i = 0; i < run.stations_m.size(); ++i)
    text += right_set(sheet::show_place(run.stations_m[i], run.show), 16) +
            right_set(fine(later.height_m[i]), 14) + right_set(fine(later.moved_m[i]), 16) +
            right_set(fine(later.sigma_m[i]), 16) + '\n';
  return text + '\n';
}

// Where torque counts about, once it is not the middle of a run that does not warp.
std::string axis_words(const sheet::RunSheet& run) {
  std::string text;
  if (const double centre = run.shear_centre_m; centre != 0)
    text += "A load bends the run without twisting it " + sheet::show_length(std::abs(centre), run.show) +
            (centre > 0 ? " left" : " right") + " of the middle of the width: there its shear centre lies. ";
  if (job::warps(run))
    text +=
        "Rails side by side and channels resist twist by warping too; the cross-section is taken to keep its "
        "shape.";
  return text.empty() ? text : folded(text) + '\n';
}

std::string stage_view(const sheet::RunSheet& run, beam::Solver<double>& solver, int stage) {
  std::string text =
      heading("Stage \"" + run.stages[std::size_t(stage)] + "\"") + stations_view(run, solver, stage);
  for (const job::Span& span : job::spans(run, solver, stage)) text += folded(span_words(run, span), 4);
  text += column("support", 24) + right_set("force", 14) + right_set("couple", 16) + right_set("torque", 16) +
          '\n';
  for (int i = 0; i < int(run.supports.size()); ++i)
    if (run.beam_stages[std::size_t(stage)].lists_support(i))
      text += support_view(run, run.supports[std::size_t(i)], solver.support(stage, i));
  if (const auto lifted = job::other_equilibrium(run, solver, stage)) text += folded(other_words(*lifted));
  const std::vector<double> stress = job::bending_stress_Pa(run, solver, stage);
  for (std::size_t m = 0; m < run.members.size(); ++m)
    if (stress[m] > 0)
      text += "Bending stress in \"" + run.members[m].name + "\": at most " +
              sheet::show_stress(stress[m], run.show) + ".\n";
  return text + '\n';
}

// Where twist lifts an edge from the middle by so much of what the run is high, both edges are drawn. No source: a row of the drawing.
constexpr double kEdgesApart = 0.1;

// The finished run over the first stage, its highest and lowest point, and what the tolerance leaves between them.
std::string drawing(const sheet::RunSheet& run, const beam::Solver<double>& solver,
                    const job::FinishedLevel& level) {
  const auto along = [&](char mark, std::string label, int stage, double across_m) {
    Curve curve{mark, std::move(label), {}, {}};
    for (const job::Place& place : job::places(run, solver)) {
      curve.at_m.push_back(place.at_m);
      curve.height_m.push_back(solver.height(stage, place.at_m, across_m));
    }
    return curve;
  };
  const int finished = level.stage;
  const std::string& name = run.stages[std::size_t(finished)];
  std::vector<Curve> curves;
  if (finished != 0) curves.push_back(along('.', run.stages[0], 0, 0));
  const Curve middle = along('#', name, finished, 0),
              left = along('(', "its left edge", finished, run.width_m / 2);
  double apart_m = 0;
  for (std::size_t i = 0; i < left.at_m.size(); ++i)
    apart_m = std::max(apart_m, std::abs(left.height_m[i] - middle.height_m[i]));
  if (apart_m > kEdgesApart * level.level_error_m) {
    curves.push_back(left);
    curves.push_back(along(')', "its right edge", finished, -run.width_m / 2));
  }
  curves.push_back(middle);
  Overlay over;
  over.points = {{'^', "highest point", level.highest.at_m, level.highest.height_m},
                 {'v', "lowest point", level.lowest.at_m, level.lowest.height_m}};
  if (const double allowed_m = run.tolerance.level_m; allowed_m > 0) {
    const double middle_m =
        run.tolerance.target_height_m.value_or((level.highest.height_m + level.lowest.height_m) / 2);
    over.band = {"the tolerance of " + sheet::show_fine(allowed_m, run.show) +
                     (run.tolerance.target_height_m ? "" : ", about the middle of these two"),
                 middle_m - allowed_m / 2, middle_m + allowed_m / 2};
  }
  return profile(run, curves, finished, {}, over);
}

}  // namespace

std::string_view as_written_words(bool within) { return within ? "YES, as written." : "NO, not as written."; }

std::string prediction_view(const sheet::RunSheet& run, beam::Solver<double>& solver,
                            const job::FinishedLevel& level, const job::BestSetting* best,
                            const job::PredictedLater* later) {
  std::string text = heading(run.title);
  text += "Predicted shape, as the sheet has it: " + std::to_string(run.stages.size()) +
          (run.stages.size() == 1 ? " stage, " : " stages, ") + sheet::show_place(run.length_m, run.show) +
          " long.\n\n";
  text += level_view(run, level, best);
  if (later != nullptr) text += later_view(run, *later);
  text += axis_words(run);
  for (int stage = 0; stage < int(run.stages.size()); ++stage) text += stage_view(run, solver, stage);

  return text + drawing(run, solver, level) +
         folded(
             "Shape, not strength: forces and stresses are shown to help, they are no design verification. "
             "Anchors, "
             "welds, bolts and framing are designed and checked by those licensed for it, under the local "
             "code.");
}

}  // namespace hangtrue::say

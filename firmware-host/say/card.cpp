#include "firmware-host/say/card.hpp"

#include <cmath>
#include <cstdlib>

#include <fmt/format.h>

#include "firmware-host/say/cautions.hpp"
#include "firmware-host/say/doubts.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/table.hpp"
#include "firmware-host/say/unknown.hpp"
#include "firmware-host/say/words.hpp"
#include "firmware-host/sheet/thresholds.hpp"

namespace hangtrue::say {

// ---- moves --------------------------------------------------------------------------------------------------------

std::string to_do_words(adjust::HoldPoint answer, sheet::Show show) {
  switch (answer) {
    case adjust::HoldPoint::ready_to_bolt:
      return said(
          show, "The run is level enough for the final bolts. This speaks of level alone, not of strength.");
    case adjust::HoldPoint::shim_first:
      return said(show,
                  "Make these moves, one after the other, and read again. Tighten no final bolt before.");
    case adjust::HoldPoint::read_again:
      return said(show, "Not sure enough yet: take more readings. Tighten no final bolt before.");
    case adjust::HoldPoint::shims_cannot:
      return said(
          show,
          "No setting of what can be adjusted brings this run within tolerance. Tighten no final bolt.");
  }
  return "";
}

std::string unusable_card(const std::string& why, sheet::Show show) {
  return text(
      show,
      "This card cannot be used, since it is not whole: {}. An older program may have stored it. Make no "
      "move by it; read again makes a new card.",
      why);
}

job::StoredCard for_people(const sheet::RunSheet& run, job::StoredCard card) {
  const sheet::Show show = run.show;
  if (show.language == sheet::Language::english) return card;
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, show); };
  card.reason =
      text(show,
           "The finished level error as things were: {} (sigma {}, chance to be within tolerance {}); "
           "after the moves: {} (sigma {}, chance {}).",
           fine(card.before.level_error_m), fine(card.before.sigma_m), percent(card.before.chance, show),
           fine(card.after.level_error_m), fine(card.after.sigma_m), percent(card.after.chance, show));
  card.advice.clear();
  if (!card.open) return card;
  for (job::StoredDoubt& doubt : card.open->doubts) {
    doubt.says = text(show, "Open on this card: {}.", said(show, doubt.kind));
    doubt.next = said(show, "The level book has it in full.");
  }
  for (job::StoredAside& aside : card.open->set_aside)
    aside.reason = std::abs(aside.normalised) > 0 && std::isfinite(aside.normalised)
                       ? text(show, "beyond the gate: {} sigmas from what the other readings say",
                              digits(std::abs(aside.normalised), 1, show))
                       : said(show, aside.reason);
  return card;
}

std::string moves_heading(bool fit_holds, adjust::HoldPoint answer, bool first_setting, sheet::Show show) {
  if (first_setting) return said(show, "First setting, in this order; then bolt, and read again:");
  if (!fit_holds)
    return said(show, "DO NOT MAKE THESE YET: what would be best if the readings held, in this order:");
  switch (answer) {
    case adjust::HoldPoint::read_again:
      return said(show, "Read again first. Best moves as far as is known, in this order:");
    case adjust::HoldPoint::shims_cannot:
      return said(show, "The best moves, though not enough, in this order:");
    case adjust::HoldPoint::ready_to_bolt:
      return said(show, "No move is needed. These would make it better still, in this order:");
    case adjust::HoldPoint::shim_first:
      break;
  }
  return said(show, "Moves, in this order:");
}

std::string motion_words(double rise_m, double pitch_rad, double roll_rad, sheet::Show show) {
  std::string words = text(show, "rise {}", sheet::show_length(rise_m, show));
  if (pitch_rad != 0) words += text(show, ", pitch {}", sheet::show_slope(pitch_rad, show));
  if (roll_rad != 0) words += text(show, ", roll {}", sheet::show_slope(roll_rad, show));
  return words;
}

std::string slacken_words(sheet::AdjustBy by, const std::string& support, sheet::Show show) {
  switch (by) {
    case sheet::AdjustBy::shims:
      return text(show,
                  "Slacken the bolts at {} alone, far enough for the pieces; leave all others as they are.",
                  support);
    case sheet::AdjustBy::rod:
      return text(show, "Slacken the lock nut at {}, turn, and snug it again.", support);
    case sheet::AdjustBy::lift:
    case sheet::AdjustBy::nothing:
      break;
  }
  return text(show, "Slacken nothing at {}: the run rests on it.", support);
}

std::string keep_words(bool limits_hold, const std::string& support, sheet::Show show) {
  const std::string stay = said(show, "Lifts or props stay under the whole run.");
  if (limits_hold) return stay;
  return stay +
         text(show,
              " Prop it at {} first: until the next move a support here is unloaded or over its rating.",
              support);
}

std::string effect_words(const job::Effect& effect, sheet::Show show) {
  const bool carries = std::abs(effect.force_N) >= 1, rises = std::abs(effect.rise_m) >= 1e-5;
  if (!carries && !rises) return "";
  const std::string force = sheet::show_force(std::abs(effect.force_N), show),
                    height = sheet::show_fine(std::abs(effect.rise_m), show);
  std::string words = effect.support;
  if (carries)
    words = effect.force_N > 0 ? text(show, "{} carries {} more", effect.support, force)
                               : text(show, "{} carries {} less", effect.support, force);
  if (rises && carries)
    words += effect.rise_m > 0 ? text(show, ", the run there rises {}", height)
                               : text(show, ", the run there sinks {}", height);
  if (rises && !carries)
    words += effect.rise_m > 0 ? text(show, ": the run there rises {}", height)
                               : text(show, ": the run there sinks {}", height);
  return words;
}

std::string turns_words(double turns, sheet::Show show) {
  const std::string size = sheet::show_turns(std::abs(turns), show.language);
  return turns > 0 ? text(show, "{} up", size) : text(show, "{} down", size);
}

std::string lift_words(double rise_m, sheet::Show show) {
  const std::string size = sheet::show_length(std::abs(rise_m), show);
  return rise_m < 0 ? text(show, "down {}", size) : text(show, "up {}", size);
}

std::string with_pieces(std::string stack, int count, const std::string& name, std::string_view times) {
  if (!stack.empty()) stack += " + ";
  return stack + std::to_string(count) + std::string(times) + name;
}

std::string piece_name(const sheet::RunSheet& run, int support, double thickness_m) {
  const int stock = support < 0 ? -1 : run.supports[std::size_t(support)].adjust.stock;
  if (stock >= 0)
    for (const sheet::PieceOfStock& piece : run.stocks[std::size_t(stock)].pieces)
      if (std::abs(piece.thickness_m - thickness_m) < sheet::kSameThickness_m)
        return sheet::with_decimal_sign(piece.label, run.show.language);
  return sheet::show_length(thickness_m, run.show);
}

// ---- advice and reason --------------------------------------------------------------------------------------------

namespace {

std::string less_sag_words(const job::LessSag& less, sheet::Show show) {
  const auto times = [&](double factor) {
    return sheet::with_decimal_sign(fmt::format("{:.2f}", factor), show.language);
  };
  return text(show, "bending stiffness {} times, or {} times the loads, or a camber of {}",
              times(less.stiffness_factor), times(less.load_factor), sheet::show_fine(less.camber_m, show));
}

}  // namespace

std::string cure_words(const sheet::RunSheet& run, const job::Cures& cures) {
  const sheet::Show show = run.show;
  if (cures.no_settings)
    return said(
        show, "Whatever the steps, no setting keeps every support loaded, within its rating and its travel.");
  std::string words;
  const auto add = [&words](const std::string& sentence) { words += (words.empty() ? "" : " ") + sentence; };
  if (cures.finer_steps)
    add(text(show, "Thinner shims or finer steps would do: without steps the level error could be {}.",
             sheet::show_fine(cures.continuous_error_m, show)));
  if (cures.less_sag) add(text(show, "What would cure it: {}.", less_sag_words(*cures.less_sag, show)));
  if (cures.less_sag_and_finer_steps)
    add(text(show, "Thinner shims or finer steps together with {} would cure it.",
             less_sag_words(*cures.less_sag_and_finer_steps, show)));
  if (cures.no_twist)
    add(text(
        show,
        "Twist ({} between the edges): move the load onto the axis, close the section, or hold its roll; "
        "that would cure it.",
        sheet::show_fine(cures.twist_m, show)));
  if (cures.no_bow) add(said(show, "Without the bow as made it would do."));
  if (words.empty())
    words =
        said(show,
             "No one of these alone would cure it: finer steps, less sag, no twist. Travel, ratings and the "
             "supports' places are what is left to change.");
  return words;
}

namespace {

std::string words(const job::Cures& cures, const sheet::RunSheet& run) { return cure_words(run, cures); }

std::string words(const job::NextReading& next, const sheet::RunSheet& run) { return next_words(run, next); }

std::string words(const job::MostOpen& open, const sheet::RunSheet& run) {
  return text(
      run.show,
      "What leaves most open is \"{}\": if it were known, the sigma of the level error would fall from "
      "{} to {}.",
      name_words(open.unknown, run.show), sheet::show_fine(open.sigma_now_m, run.show),
      sheet::show_fine(open.sigma_after_m, run.show));
}

std::string words(const job::WorthWeighing& weighing, const sheet::RunSheet& run) {
  return text(run.show, "Weighing \"{}\" would cut the sigma of the level error from {} to {} at best.",
              weighing.load, sheet::show_fine(weighing.sigma_now_m, run.show),
              sheet::show_fine(weighing.sigma_after_m, run.show));
}

}  // namespace

std::string advice_words(const sheet::RunSheet& run, const job::Advice& advice) {
  return std::visit([&](const auto& each) { return words(each, run); }, advice);
}

namespace {

std::string trouble_words(const job::SupportTrouble& trouble, sheet::Show show) {
  if (!trouble.rating_N)
    return text(show, " Support \"{}\" carries nothing in stage \"{}\".", trouble.support, trouble.stage);
  return text(show, " Support \"{}\" carries {} in stage \"{}\", over its rating of {}.", trouble.support,
              sheet::show_force(trouble.force_N, show), trouble.stage,
              sheet::show_force(*trouble.rating_N, show));
}

std::string first_setting_words(const sheet::RunSheet& run, const job::Card& card) {
  const job::FitUp& fit_up = card.fit_up.value();
  const sheet::Show show = run.show;
  const auto fine = [&](double length) { return sheet::show_fine(length, show); };
  return said(show,
              "First setting: level this well now; the bolts' own misfit decides; read again when bolted. ") +
         said(show, card.moves.empty() ? "As things are " : "After these moves ") +
         (fit_up.supports.size() == 1 ? text(show,
                                             "{} is expected, with a sigma of {} from what is measured and "
                                             "{} from how {} fits when drawn "
                                             "tight (chance to be within {}: {}).",
                                             fine(card.after.level_error_m), fine(fit_up.sigma_without_m),
                                             fine(fit_up.sigma_m), listed(fit_up.supports, show),
                                             fine(run.tolerance.level_m), percent(card.after.chance, show))
                                      : text(show,
                                             "{} is expected, with a sigma of {} from what is measured and "
                                             "{} from how {} fit when drawn "
                                             "tight (chance to be within {}: {}).",
                                             fine(card.after.level_error_m), fine(fit_up.sigma_without_m),
                                             fine(fit_up.sigma_m), listed(fit_up.supports, show),
                                             fine(run.tolerance.level_m), percent(card.after.chance, show)));
}

}  // namespace

std::string fit_up_words(const sheet::RunSheet& run, const job::Card& card) {
  if (!card.fit_up || card.hold_point.reason == adjust::HoldPointReason::first_setting) return {};
  return text(
      run.show,
      "Of the sigma of the level error {} comes from how {} will fit when drawn tight: read again then.",
      sheet::show_fine(card.fit_up->sigma_m, run.show), listed(card.fit_up->supports, run.show));
}

std::string sides_words(sheet::Show show) {
  return said(show, "Left and right: looking along the run from its start mark.");
}

namespace {

std::string doubts_view(const sheet::RunSheet& run, const job::Card& card) {
  if (card.doubts.empty()) return {};
  std::string text = "To settle before the final bolts:\n";
  for (const job::Doubt& doubt : card.doubts)
    text += folded(" - " + doubt_words(run, doubt) + ' ' + next_words(run, doubt), 3);
  return text;
}

std::string aside_view(const job::FitReport& report) {
  std::string text;
  for (std::size_t i = 0; i < report.judgements.size(); ++i)
    if (const std::string why = aside_words(report.judgements[i]); !why.empty())
      text += folded("Reading " + std::to_string(i + 1) + " set aside: " + why + '.', 4);
  return text;
}

}  // namespace

std::string straight_words(const sheet::StraightEdge& per, const job::Straightness& straight,
                           sheet::Show show) {
  std::string departure = sheet::show_fine(straight.departure_m, show);
  if (straight.sigma_m > 0) departure += " +- " + sheet::show_fine(straight.sigma_m, show);
  return text(show, "Under a straight-edge of {} the run departs by {} at most ({} edge, at {}), ",
              sheet::show_place(per.length_m, show), departure, edge_words(straight.edge, show),
              sheet::show_place(straight.at_m, show)) +
         (straight.within
              ? text(show, "within the {} that the sheet allows.", sheet::show_fine(per.gap_m, show))
              : text(show, "more than the {} that the sheet allows.", sheet::show_fine(per.gap_m, show)));
}
std::string straight_words(const sheet::RunSheet& run, const job::Straightness& straight) {
  return straight_words(*run.tolerance.per, straight, run.show);
}

std::string reason_words(const sheet::RunSheet& run, const job::Card& card) {
  using Reason = adjust::HoldPointReason;
  const adjust::HoldPointInput& numbers = card.hold_point.numbers;
  const sheet::Show show = run.show;
  const auto fine = [&](double length) { return sheet::show_fine(length, show); };
  const std::string tolerance = fine(run.tolerance.level_m), confidence = percent(numbers.confidence, show),
                    now = fine(numbers.level_error_now_m), after = fine(numbers.level_error_after_m),
                    chance_now = percent(numbers.chance_now, show),
                    chance_after = percent(numbers.chance_after, show);
  std::string words;
  const auto first_doubt = [&](auto counts) {
    for (const job::Doubt& doubt : card.doubts)
      if (counts(doubt)) return doubt_words(run, doubt) + ' ' + next_words(run, doubt);
    return std::string();
  };
  switch (card.hold_point.reason) {
    case Reason::doubt_against_moves:
      words = first_doubt(job::against_moves);
      break;
    case Reason::doubt_open:
      words = text(show,
                   "Finished level error {} as things are, within {} with a chance of {}, if that can be "
                   "relied on: {}",
                   now, tolerance, chance_now, first_doubt([](const job::Doubt&) { return true; }));
      break;
    case Reason::no_readings:
      words = said(show, "Nothing has been measured: the level rests on assumptions alone.");
      break;
    case Reason::fit_does_not_hold:
      words = said(show,
                   "The readings do not agree with the predicted shape and with each other; see the likelier "
                   "causes.");
      break;
    case Reason::within_tolerance:
      words = text(show, "Finished level error {} as things are, within {} with a chance of {} (asked: {}).",
                   now, tolerance, chance_now, confidence);
      break;
    case Reason::moves_suffice:
      words =
          text(show,
               "As things are the finished level error would be {} (chance to be within {}: {}); after these "
               "moves {} with a chance of {} (asked: {}).",
               now, tolerance, chance_now, after, chance_after, confidence);
      break;
    case Reason::moves_cure_a_support:
      words =
          text(show,
               "Level enough, but a support does not carry as it must; the moves cure that and leave {} with "
               "a chance of {}.",
               after, chance_after);
      break;
    case Reason::no_moves_keep_limits:
      words = said(show,
                   "No choice of moves keeps every support loaded and within its rating, travel and stock.");
      break;
    case Reason::support_not_cured:
      words = said(show, "A support does not carry as it must, and no move cures it.");
      break;
    case Reason::error_after_too_large:
      words =
          text(show, "Even after the best moves the finished level error is expected to be {}, more than {}.",
               after, tolerance);
      break;
    case Reason::not_straight_after:
      words = said(
          show,
          "No setting of what can be adjusted was found that keeps both the level and the straight-edge.");
      break;
    case Reason::first_setting:
      words = first_setting_words(run, card);
      break;
    case Reason::uncertainty_alone:
      words = text(
          show,
          "After the best moves {} is expected, but only with a chance of {} to be within {} (asked: {}).",
          after, chance_after, tolerance, confidence);
      break;
  }
  if (card.straight_after && card.hold_point.reason != Reason::no_readings)
    words += ' ' + straight_words(run, *card.straight_after) +
             (card.moves.empty() ? "" : said(show, " That is after the moves."));
  for (const job::SupportTrouble& trouble : card.troubles) words += trouble_words(trouble, show);
  if (card.choice.outcome == adjust::Outcome::stopped_at_limit)
    words += text(
        show, " The search for moves stopped at its limit: a level error down to {} might still be found.",
        fine(card.choice.could_still_be_m));
  return words;
}

// ---- the card -----------------------------------------------------------------------------------------------------

namespace {

Curve edge_curve(char mark, std::string label, const sheet::RunSheet& run, const std::vector<double>& left,
                 const std::vector<double>& right) {
  Curve curve{mark, std::move(label), run.stations_m, {}};
  for (std::size_t i = 0; i < left.size(); ++i) curve.height_m.push_back((left[i] + right[i]) / 2);
  return curve;
}

// "near 2 x 1 mm + 1 x 0.5 mm; far none".
std::string stacks_words(const adjust::Move<double>& move, const sheet::Stock& stock) {
  std::string text;
  for (int k = 0; k < move.stacks; ++k) {
    const adjust::Stack<double>& stack = move.stack[std::size_t(k)];
    std::string pieces;
    for (std::size_t kind = 0; kind < stock.pieces.size(); ++kind)
      if (stack.count[kind] > 0)
        pieces = with_pieces(std::move(pieces), int(stack.count[kind]), stock.pieces[kind].label, " x ");
    if (pieces.empty()) pieces = "none";
    text += std::string(k == 0 ? "" : "; ") +
            (move.stacks > 1 ? std::string(word(stack.where)) + " " : std::string()) + pieces;
  }
  return text;
}

std::string move_words(const sheet::RunSheet& run, const job::CardMove& entry) {
  const adjust::Move<double>& move = entry.move;
  const sheet::Adjust& adjust = run.supports[std::size_t(move.support)].adjust;
  switch (adjust.by) {
    case sheet::AdjustBy::rod:
      return turns_words(move.turns, run.show) + " (" + sheet::show_length(move.rise_m, run.show) + ')';
    case sheet::AdjustBy::lift:
      return lift_words(move.rise_m, run.show);
    case sheet::AdjustBy::shims:
    case sheet::AdjustBy::nothing:
      break;
  }
  return stacks_words(move, run.stocks[std::size_t(adjust.stock)]) + " (" +
         motion_words(move.rise_m, move.pitch_rad, move.roll_rad, run.show) + ')';
}

std::string moves_view(const sheet::RunSheet& run, const job::FitReport& report, const job::Card& card) {
  if (card.moves.empty())
    return report.status == fit::Status::settled ? "No move would make it better.\n"
                                                 : "No move can be advised from this.\n";
  std::string text =
      moves_heading(report.self_test.outcome == fit::TestOutcome::holds, card.hold_point.answer,
                    card.hold_point.reason == adjust::HoldPointReason::first_setting, run.show) +
      '\n';
  int order = 0;
  for (const job::CardMove& entry : card.moves) {
    std::string line = ' ' + std::to_string(++order) + "  " + entry.support + ": " + move_words(run, entry);
    if (entry.stage) line += ", when stage \"" + run.stages[std::size_t(*entry.stage)] + "\" begins";
    text += folded(line, 4);
    for (const job::Effect& effect : entry.effects) {
      const std::string then = effect_words(effect, run.show);
      if (!then.empty()) text += folded("    then " + then, 6);
    }
    if (!entry.turn.limits_hold)
      text += folded("    until the next move a support here is unloaded or over its rating: prop it", 4);
  }
  return text;
}

std::string outcome_view(const sheet::RunSheet& run, const job::Card& card) {
  const auto line = [&](const char* what, const adjust::Prospect<double>& prospect) {
    return fmt::format("{}{} +- {}, chance {}\n", what,
                       right_set(sheet::show_fine(prospect.level_error_m, run.show), 10),
                       sheet::show_fine(prospect.drawn_sigma_m, run.show), percent(prospect.chance));
  };
  std::string text = line("Finished level error   as things are  ", card.before);
  if (!card.moves.empty()) text += line("                       after the moves", card.after);
  text += "                       tolerance      " +
          right_set(sheet::show_fine(run.tolerance.level_m, run.show), 10) + '\n';
  if (card.moves.empty()) return text;
  text += "What the supports do, finished: " + right_set("force now", 12) + right_set("after", 10) +
          right_set("couple now", 13) + right_set("after", 12) + '\n';
  for (const job::Reaction& reaction : card.reactions)
    text += column(reaction.support, 32) +
            right_set(sheet::show_force(reaction.before.force_N, run.show), 12) +
            right_set(sheet::show_force(reaction.after.force_N, run.show), 10) +
            right_set(sheet::show_couple(reaction.before.moment_Nm, run.show), 13) +
            right_set(sheet::show_couple(reaction.after.moment_Nm, run.show), 12) + '\n';
  return text + "Couples go into bolts and wall: ask those licensed for it before a larger one.\n";
}

std::string advice_view(const sheet::RunSheet& run, const job::FitReport& report, const job::Card& card) {
  std::string text;
  for (const job::Advice& advice : card.advice)
    if (const std::string sentence = advice_words(run, advice); !sentence.empty())
      text += folded(sentence, 2);
  for (const job::Repeats& repeats : report.repeats)
    if (repeats.verdict == fit::ScatterVerdict::larger_than_stated)
      text += folded(repeats_words(run, repeats), 2);
  return text + warning_lines(run, report) + likelier_causes(report, run.show, 3);
}

}  // namespace

std::string card_view(const sheet::RunSheet& run, const job::FitReport& report, const job::Card& card) {
  const std::string answer = in_capitals(std::string(adjust::short_name(card.hold_point.answer)));
  std::string text =
      heading("SHIM CARD  " + run.title + ", stage \"" + run.stages[std::size_t(report.stage)] + "\"");
  text += "May the final bolts be tightened?  " + answer +
          (card.hold_point.answer == adjust::HoldPoint::ready_to_bolt ? " (level alone)" : "") + "\n\n";
  text += folded(reason_words(run, card)) + '\n' + doubts_view(run, card) + moves_view(run, report, card) +
          sides_words(run.show) + "\n\n" + outcome_view(run, card);
  if (const std::string fit_up = fit_up_words(run, card); !fit_up.empty()) text += folded(fit_up);
  text += aside_view(report) + advice_view(run, report, card) + '\n';
  std::vector<Curve> curves{
      edge_curve('.', "finished, as things are", run, card.left_before_m, card.right_before_m)};
  if (!card.moves.empty())
    curves.push_back(edge_curve('#', "finished, after the moves", run, card.left_m, card.right_m));
  return text + profile(run, curves, std::max(report.stage, run.tolerance.stage)) + '\n' + cautions();
}

}  // namespace hangtrue::say

#include "firmware-host/say/words.hpp"

#include <cmath>
#include <cstdio>

namespace hangtrue::say {

namespace {

using Kind = beam::ParameterKind;

std::string fixed(double value, int decimals) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", decimals, value);
  return text;
}

}  // namespace

std::string_view word(survey::Edge edge) {
  switch (edge) {
    case survey::Edge::left:
      return "left";
    case survey::Edge::middle:
      return "middle";
    case survey::Edge::right:
      return "right";
  }
  return "";
}

std::string_view word(fit::Status status) {
  switch (status) {
    case fit::Status::not_run:
      return "not run";
    case fit::Status::prior_only:
      return "nothing measured";
    case fit::Status::live:
      return "live";
    case fit::Status::settled:
      return "settled";
    case fit::Status::not_settled:
      return "not settled";
  }
  return "";
}

std::string_view word(adjust::Where where) {
  switch (where) {
    case adjust::Where::whole:
      return "whole";
    case adjust::Where::near:
      return "near";
    case adjust::Where::far:
      return "far";
    case adjust::Where::left:
      return "left";
    case adjust::Where::right:
      return "right";
    case adjust::Where::near_left:
      return "near left";
    case adjust::Where::near_right:
      return "near right";
    case adjust::Where::far_left:
      return "far left";
    case adjust::Where::far_right:
      return "far right";
  }
  return "";
}

std::string_view word(fit::ScatterVerdict verdict) {
  switch (verdict) {
    case fit::ScatterVerdict::not_tested:
      return "not tested";
    case fit::ScatterVerdict::as_stated:
      return "as stated";
    case fit::ScatterVerdict::larger_than_stated:
      return "larger than stated";
  }
  return "";
}

std::string fine_slope_words(double slope_rad, sheet::Show show) {
  return show == sheet::Show::metric ? fixed(slope_rad * 1e3, 3) + " mm/m"
                                     : fixed(slope_rad * 12, 5) + " in/ft";
}

std::string temperature_words(double temperature_C, sheet::Show show) {
  return show == sheet::Show::metric ? fixed(temperature_C, 0) + " C"
                                     : fixed(temperature_C * 1.8 + 32, 0) + " F";
}

std::string date_of(book::Time time) { return book::rfc3339(time).substr(0, 10); }

std::string stages_of(const sheet::RunSheet& run) {
  std::string names;
  for (const std::string& name : run.stages) names += (names.empty() ? "\"" : ", \"") + name + '"';
  return names;
}

std::string parameter_name(const sheet::RunSheet& run, beam::Parameter parameter) {
  const auto index = std::size_t(std::max<std::int16_t>(parameter.index, 0));
  const auto support = [&](const char* what) { return run.supports[index].name + ": " + what; };
  switch (parameter.kind) {
    case Kind::offset_rise:
      return support("rise");
    case Kind::offset_pitch:
      return support("pitch");
    case Kind::offset_roll:
      return support("roll");
    case Kind::spring_rise:
      return support("rise spring");
    case Kind::spring_pitch:
      return support("pitch spring");
    case Kind::spring_roll:
      return support("roll spring");
    case Kind::move_rise:
      return support("rise moved");
    case Kind::move_pitch:
      return support("pitch moved");
    case Kind::move_roll:
      return support("roll moved");
    case Kind::bending:
      return "bending stiffness";
    case Kind::torsion:
      return "torsion stiffness";
    case Kind::load:
      return "load " + run.loads[index].name;
    case Kind::bow:
      return "bow " + std::to_string(index + 1);
  }
  return "";
}

std::string parameter_value(const sheet::RunSheet& run, const std::string& name, double value) {
  const auto ends = [&](std::string_view tail) { return name.ends_with(tail); };
  if (ends("spring")) return fixed(std::exp(value), 3) + " times";
  if (ends("stiffness") || name.rfind("load ", 0) == 0) return fixed(value, 3) + " times";
  if (ends(": rise") || ends(" height") || name.rfind("bow ", 0) == 0 || ends("distance: zero"))
    return sheet::show_fine(value, run.show);
  return sheet::show_slope(value, run.show);
}

std::string parameter_sigma(const sheet::RunSheet& run, const job::NamedEstimate& named) {
  // A spring's unknown is the logarithm of its factor.
  if (named.name.ends_with("spring"))
    return parameter_value(run, "stiffness", named.estimate.sigma * std::exp(named.estimate.value));
  return parameter_value(run, named.name, named.estimate.sigma);
}

std::string cause_words(const sheet::RunSheet& run, const fit::Unknown& unknown, const std::string& name,
                        double value, double sigma) {
  const std::string spread = " +- ";
  if (unknown.kind == fit::UnknownKind::datum_tilt)
    return name.substr(0, name.find(':')) + ": the datum is tilted, " + sheet::show_slope(value, run.show) +
           spread + sheet::show_slope(sigma, run.show);
  if (unknown.kind == fit::UnknownKind::datum_height)
    return name.substr(0, name.find(':')) + ": the datum stands elsewhere, " +
           sheet::show_fine(value, run.show) + spread + sheet::show_fine(sigma, run.show);
  if (unknown.kind == fit::UnknownKind::zero)
    return name + " has drifted: " + parameter_value(run, name, value);

  const auto index = std::size_t(std::max<std::int16_t>(unknown.shape.index, 0));
  const auto support = [&] { return run.supports[index].name; };
  switch (unknown.shape.kind) {
    case Kind::offset_rise:
      return support() + " stands " + (value < 0 ? "lower" : "higher") +
             " than assumed: " + sheet::show_fine(value, run.show) + spread +
             sheet::show_fine(sigma, run.show);
    case Kind::offset_pitch:
    case Kind::offset_roll:
      return support() +
             (unknown.shape.kind == Kind::offset_pitch ? " is turned: pitch " : " is turned: roll ") +
             sheet::show_slope(value, run.show) + spread + sheet::show_slope(sigma, run.show);
    case Kind::spring_rise:
    case Kind::spring_pitch:
    case Kind::spring_roll:
      return support() + (value < 0 ? " is softer" : " is stiffer") +
             " than listed: " + fixed(std::exp(value), 2) + " times";
    case Kind::bending:
    case Kind::torsion:
      return std::string("the run is ") + (value < 1 ? "softer" : "stiffer") + " than predicted: " + name +
             ' ' + fixed(value, 2) + " times";
    case Kind::load:
      return name + " is " + (value > 1 ? "heavier" : "lighter") + " than listed: " + fixed(value, 2) +
             " times";
    default:
      return name + " is larger than assumed: " + sheet::show_fine(value, run.show) + spread +
             sheet::show_fine(sigma, run.show);
  }
}

std::string aside_words(const fit::Judgement<double>& judgement) {
  switch (judgement.verdict) {
    case fit::Verdict::beyond_gate:
      return "beyond the gate: " + fixed(std::abs(judgement.normalised), 1) +
             " sigmas from what the other readings say";
    case fit::Verdict::by_hand:
      return "set aside by hand";
    case fit::Verdict::not_judged:
      return "not judged";
    case fit::Verdict::kept:
      return "";
  }
  return "";
}

std::string percent(double chance) {
  if (chance > 0.999) return "over 99.9 %";
  if (chance < 0.001) return "under 0.1 %";
  return fixed(100 * chance, 1) + " %";
}

std::string to_do_words(adjust::HoldPoint answer) {
  switch (answer) {
    case adjust::HoldPoint::ready_to_bolt:
      return "The run is level enough for the final bolts. This speaks of level alone, not of strength.";
    case adjust::HoldPoint::shim_first:
      return "Make these moves, one after the other, and read again. Tighten no final bolt before.";
    case adjust::HoldPoint::read_again:
      return "Not sure enough yet: take more readings. Tighten no final bolt before.";
    case adjust::HoldPoint::shims_cannot:
      return "No setting of what can be adjusted brings this run within tolerance. Tighten no final bolt.";
  }
  return "";
}

std::string moves_heading(bool fit_holds, adjust::HoldPoint answer) {
  if (!fit_holds) return "DO NOT MAKE THESE YET: what would be best if the readings held, in this order:";
  switch (answer) {
    case adjust::HoldPoint::read_again:
      return "Read again first. Best moves as far as is known, in this order:";
    case adjust::HoldPoint::shims_cannot:
      return "The best moves, though not enough, in this order:";
    case adjust::HoldPoint::ready_to_bolt:
      return "No move is needed. These would make it better still, in this order:";
    case adjust::HoldPoint::shim_first:
      break;
  }
  return "Moves, in this order:";
}

std::string motion_words(double rise_m, double pitch_rad, double roll_rad, sheet::Show show) {
  std::string text = "rise " + sheet::show_length(rise_m, show);
  if (pitch_rad != 0) text += ", pitch " + sheet::show_slope(pitch_rad, show);
  if (roll_rad != 0) text += ", roll " + sheet::show_slope(roll_rad, show);
  return text;
}

std::string slacken_words(sheet::AdjustBy by, const std::string& support) {
  switch (by) {
    case sheet::AdjustBy::shims:
      return "Slacken the bolts at " + support +
             " alone, far enough for the pieces; leave all others as they are.";
    case sheet::AdjustBy::rod:
      return "Slacken the lock nut at " + support + ", turn, and snug it again.";
    case sheet::AdjustBy::lift:
    case sheet::AdjustBy::nothing:
      break;
  }
  return "Slacken nothing at " + support + ": the run rests on it.";
}

std::string keep_words(bool limits_hold, const std::string& support) {
  const std::string stay = "Lifts or props stay under the whole run.";
  return limits_hold ? stay
                     : stay + " Prop it at " + support +
                           " first: until the next move a support here is unloaded or over its rating.";
}

std::string effect_words(const job::Effect& effect, sheet::Show show) {
  const bool carries = std::abs(effect.force_N) >= 1, rises = std::abs(effect.rise_m) >= 1e-5;
  if (!carries && !rises) return "";
  std::string text = effect.support;
  if (carries)
    text += " carries " + sheet::show_force(std::abs(effect.force_N), show) +
            (effect.force_N > 0 ? " more" : " less");
  if (rises)
    text += std::string(carries ? ", the run there " : ": the run there ") +
            (effect.rise_m > 0 ? "rises " : "sinks ") + sheet::show_fine(std::abs(effect.rise_m), show);
  return text;
}

std::string next_words(const sheet::RunSheet& run, const job::NextReading& next) {
  std::string text = "Next best reading: " + std::string(word(next.channel)) + " with " + next.instrument +
                     " at " + sheet::show_place(next.at_m, run.show);
  if (next.channel != Channel::distance) text += next.face == 1 ? ", face 1" : ", face 2 (turned round)";
  if (next.edge != survey::Edge::middle) text += ", " + std::string(word(next.edge)) + " edge";
  return text + ": sigma of the finished shape from " + sheet::show_fine(next.sigma_now_m, run.show) +
         " to " + sheet::show_fine(next.sigma_after_m, run.show) + '.';
}

std::string weighing_words(const sheet::RunSheet& run, int load, double sigma_now_m, double sigma_after_m) {
  return "Weighing \"" + run.loads[std::size_t(load)].name +
         "\" would cut the sigma of the level error from " + sheet::show_fine(sigma_now_m, run.show) +
         " to " + sheet::show_fine(sigma_after_m, run.show) + " at best.";
}

std::string open_words(const sheet::RunSheet& run, const std::string& name, double sigma_now_m,
                       double sigma_after_m) {
  return "What leaves most open is \"" + name +
         "\": if it were known, the sigma of the level error would fall from " +
         sheet::show_fine(sigma_now_m, run.show) + " to " + sheet::show_fine(sigma_after_m, run.show) + '.';
}

std::string repeats_words(const sheet::RunSheet& run, const job::Repeats& repeats) {
  const auto show = [&](double sigma) {
    return repeats.channel == Channel::distance ? sheet::show_fine(sigma, run.show)
                                                : fine_slope_words(sigma, run.show);
  };
  const auto counted = [](int count, const char* one, const char* more) {
    return std::to_string(count) + ' ' + (count == 1 ? one : more);
  };
  const std::string found = show(repeats.pooled_sigma);
  std::string text = "Repeats with " + repeats.name + " (" + counted(repeats.groups, "place", "places") +
                     ", " + counted(repeats.degrees_of_freedom, "degree", "degrees") +
                     " of freedom): one reading scatters by " + found + ", " + show(repeats.stated_sigma) +
                     " is stated: " + std::string(word(repeats.verdict)) + " (p " +
                     (repeats.p_value < 0.001 ? "< 0.001" : "= " + fixed(repeats.p_value, 3)) + ").";
  if (repeats.verdict == fit::ScatterVerdict::larger_than_stated)
    text += " Find out why (a loose place, hands on the run, feet not on their marks), or write sigma = \"" +
            found + "\" for this channel into the kit sheet; until then the sigmas shown are too small.";
  return text;
}

std::string cure_words(const sheet::RunSheet& run, const adjust::Cure<double>& cure) {
  switch (cure.what) {
    case adjust::CureFor::not_run:
      return "";
    case adjust::CureFor::no_settings:
      return "Whatever the steps, no setting keeps every support loaded, within its rating and its travel.";
    case adjust::CureFor::finer_steps:
      return "Thinner shims or finer steps would do: without steps the level error could be " +
             sheet::show_fine(cure.continuous_error_m, run.show) + '.';
    case adjust::CureFor::less_sag:
      return "What would cure it: bending stiffness " + fixed(cure.stiffness_factor, 2) + " times, or " +
             fixed(cure.load_factor, 2) + " times the loads, or a camber of " +
             sheet::show_fine(cure.camber_m, run.show) + '.';
    case adjust::CureFor::not_sag:
      return "Sag is not what stands in the way: without any, the level error would still be " +
             sheet::show_fine(cure.without_sag_error_m, run.show) + " (bow as made, or too little travel).";
  }
  return "";
}

std::string reason_words(const sheet::RunSheet& run, const job::Card& card) {
  using Reason = adjust::HoldPointReason;
  const adjust::HoldPointInput& numbers = card.hold_point.numbers;
  const auto fine = [&](double length) { return sheet::show_fine(length, run.show); };
  const std::string tolerance = fine(run.tolerance.level_m), confidence = percent(numbers.confidence);
  std::string text;
  switch (card.hold_point.reason) {
    case Reason::no_readings:
      text = "Nothing has been measured: the level rests on assumptions alone.";
      break;
    case Reason::fit_does_not_hold:
      text =
          "The readings do not agree with the predicted shape and with each other; see the likelier causes.";
      break;
    case Reason::within_tolerance:
      text = "Finished level error " + fine(numbers.level_error_now_m) + " as things are, within " +
             tolerance + " with a chance of " + percent(numbers.chance_now) + " (asked: " + confidence + ").";
      break;
    case Reason::moves_suffice:
      text = "As things are the finished level error would be " + fine(numbers.level_error_now_m) +
             " (chance to be within " + tolerance + ": " + percent(numbers.chance_now) +
             "); after these moves " + fine(numbers.level_error_after_m) + " with a chance of " +
             percent(numbers.chance_after) + " (asked: " + confidence + ").";
      break;
    case Reason::moves_cure_a_support:
      text = "Level enough, but a support does not carry as it must; the moves cure that and leave " +
             fine(numbers.level_error_after_m) + " with a chance of " + percent(numbers.chance_after) + '.';
      break;
    case Reason::no_moves_keep_limits:
      text = "No choice of moves keeps every support loaded and within its rating, travel and stock.";
      break;
    case Reason::support_not_cured:
      text = "A support does not carry as it must, and no move cures it.";
      break;
    case Reason::error_after_too_large:
      text = "Even after the best moves the finished level error is expected to be " +
             fine(numbers.level_error_after_m) + ", more than " + tolerance + '.';
      break;
    case Reason::uncertainty_alone:
      text = "After the best moves " + fine(numbers.level_error_after_m) +
             " is expected, but only with a chance of " + percent(numbers.chance_after) + " to be within " +
             tolerance + " (asked: " + confidence + ").";
      break;
  }
  for (const job::SupportTrouble& trouble : card.troubles)
    text += " Support \"" + trouble.support + "\" " +
            (trouble.rating_N ? "carries " + sheet::show_force(trouble.force_N, run.show) + " in stage \"" +
                                    trouble.stage + "\", over its rating of " +
                                    sheet::show_force(*trouble.rating_N, run.show) + '.'
                              : "carries nothing in stage \"" + trouble.stage + "\".");
  if (card.choice.outcome == adjust::Outcome::stopped_at_limit)
    text += " The search for moves stopped at its limit: a level error down to " +
            fine(card.choice.could_still_be_m) + " might still be found.";
  return text;
}

}  // namespace hangtrue::say

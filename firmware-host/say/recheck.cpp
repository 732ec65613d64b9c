#include "firmware-host/say/recheck.hpp"

#include <algorithm>
#include <cctype>
#include <chrono>
#include <cmath>
#include <cstdlib>

#include <fmt/format.h>

#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/cases.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/history.hpp"
#include "firmware-host/say/not_comparable.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/sheet_changes.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

using job::UnknownOf;

/// A factor so near to -1 is a sign and nothing else. No source: what readings tell of a scale at best.
constexpr double kPlainSign = 0.05;
/// Before a warning of the earlier survey's kit.
const std::string kEarlier = "Earlier survey: ";

std::string in_a_row(const std::vector<std::string>& parts, std::string_view between = ", ") {
  return fmt::format("{}", fmt::join(parts, between));
}

// So many days after an instant: "2027-11-03".
std::string date_after(book::Time from, double days) {
  return date_of(from + std::chrono::duration_cast<book::Time::duration>(
                            std::chrono::duration<double, std::ratio<86400>>(days)));
}

// What could have stayed unseen, in one case of five, and what would make it less.
std::string unseen(const job::Unseen& is, sheet::Show show) {
  if (!(is.rise_m > 0)) return {};
  std::string text = std::isinf(is.rise_m)
                         ? " Any sinking of " + is.support.name + " could have stayed unseen"
                         : " A rise or sinking of up to " + sheet::show_fine(is.rise_m, show) + " of " +
                               is.support.name + " could have stayed unseen";
  if (is.whole_run_m > 0)
    text +=
        ", and the run as a whole could stand " + sheet::show_fine(is.whole_run_m, show) + " higher or lower";
  text += " (larger ones show in four cases of five).";
  std::vector<std::string> missing;
  if (is.no_mark) missing.emplace_back("a stable mark read in both surveys");
  if (is.one_face) missing.emplace_back("both faces of the inclinometer");
  if (is.places_not_read > 0)
    missing.push_back(fmt::format("the {} marked places that were not read", is.places_not_read));
  if (!missing.empty()) text += " What is missing would make that less: " + in_a_row(missing, "; ") + '.';
  return text;
}

std::string_view in_motion(UnknownOf spring) {
  return spring == UnknownOf::spring_rise    ? " in rise"
         : spring == UnknownOf::spring_pitch ? " in pitch"
                                             : " in roll";
}

std::string test_words(const change::GlobalTest& test) {
  return fmt::format("chi-squared {:.1f} with {} degrees of freedom, p {}{}", test.statistic,
                     test.degrees_of_freedom, test.p_value < 0.0001 ? "" : "= ", chance(test.p_value));
}

std::string differs(const job::KitDiffers& is, sheet::Show show) {
  using In = job::KitDiffers::In;
  const auto size = [&](double value) {
    switch (is.in) {
      case In::sigma:
        return is.channel.channel == Channel::distance ? sheet::show_fine(value, show)
                                                       : fine_slope_words(value, show);
      case In::feet:
        return sheet::show_place(value, show);
      case In::sign:
      case In::scale:
        break;
    }
    return fmt::format("{:g}", value);
  };
  const std::string_view what = is.in == In::sigma  ? "sigma"
                                : is.in == In::feet ? "feet"
                                : is.in == In::sign ? "sign"
                                                    : "scale";
  return fmt::format("{}: {} {} instead of {}", name_of(is.channel), what, size(is.is), size(is.was));
}

std::string holds_only_just(const job::HoldsOnlyJust& is) {
  return fmt::format(
      "Survey {} scatters more than its instruments should (p = {}; one good survey in a hundred does): what "
      "is told may be less sure than it says. To be sure, read again.",
      is.survey, chance(is.p_value));
}

std::string new_tolerance(const job::NewTolerance& is, sheet::Show show) {
  const auto allowed = [&](const sheet::Tolerance& of, const std::string& stage) {
    return of.level_m > 0
               ? sheet::show_length(of.level_m, show) +
                     (of.per ? ", and " + sheet::show_length(of.per->gap_m, show) + " over " +
                                   sheet::show_length(of.per->length_m, show)
                             : "") +
                     " at stage \"" + stage + "\", at " + fmt::format("{:g} %", 100 * of.confidence)
               : std::string("no tolerance");
  };
  return "The tolerance that counts here is the one given: " + allowed(is.is, is.stage) +
         ". The sheet in the book has " + allowed(is.was, is.was_stage) + '.';
}

std::string other_kit(const job::OtherKit& is, sheet::Show show) {
  std::vector<std::string> all;
  for (const job::KitDiffers& each : is.differs) all.push_back(differs(each, show));
  return "The kit sheet given (" + is.file + ") counts in the place of those in the book" +
         (all.empty() ? std::string(": it says the same of what was read.")
                      : ": " + in_a_row(all, "; ") + '.');
}

// What it was, how likely, and what cures it.
std::string misread(const job::Misread& is) {
  const std::string weight = fmt::format(" ({:.0f} %)", 100 * is.weight);
  const std::string channel = name_of(is.channel);
  switch (is.kind) {
    case job::MisreadKind::other_stage:
      return "it was read at stage \"" + is.stage + "\"" + weight + ": survey again under that stage";
    case job::MisreadKind::never_turned:
      return channel + " was never turned round" + weight + ": correct the faces of its readings";
    case job::MisreadKind::faces_exchanged:
      return channel + " was turned the other way round, or counts the other way" + weight +
             ": correct the faces of its readings, or its sign in the kit sheet";
    case job::MisreadKind::scale:
      return channel +
             (is.factor < 0 ? std::string(" counts the other way") +
                                  (std::abs(is.factor + 1) < kPlainSign
                                       ? ""
                                       : fmt::format(" and about {:.2g} times what is there", -is.factor))
                            : fmt::format(" reads about {:.2g} times what is there", is.factor)) +
             weight + ": check its scale, unit, sign and feet";
    case job::MisreadKind::rough:
    case job::MisreadKind::all_rough:
      return (is.kind == job::MisreadKind::rough ? channel + " scatters" : "all channels scatter") +
             fmt::format(" {:.1f} times what the kit sheet says", is.factor) + weight +
             ": give its true sigma in a kit sheet and compare again by that one (--kit), or read with "
             "steadier feet";
  }
  std::abort();  // every enumerator stands above
}

std::string cannot_tell(const sheet::RunSheet& run, const job::Recheck& recheck) {
  return std::visit(
      Cases{[](std::monostate) { return std::string(); },
            [&](const job::NotTaught& why) {
              return "Survey " + recheck.from + " is no ground to compare with: " + not_taught(run, why) +
                     '.';
            },
            [&](const job::ReadingsContradict& why) {
              std::string text = "The readings of survey " + recheck.to +
                                 " contradict each other, whatever may have moved: its fit does not hold.";
              if (why.likely.empty()) return text + " Look at those farthest off, and read again.";
              text += " Likeliest: ";
              for (std::size_t k = 0; k < why.likely.size(); ++k)
                text += (k == 0 ? "" : "; or ") + misread(why.likely[k]);
              return text + '.';
            },
            [](job::TooLittleRead) { return std::string("Too little was read to see any change."); }},
      recheck.why_not);
}

// With the likeliest of what would explain it as well.
std::string moved_or(const job::Cause& cause, sheet::Show show) {
  if (cause.or_else.empty()) return moved(cause, show);
  std::vector<std::string> others;
  for (const job::UnknownId& each : cause.or_else) others.push_back(change_words(each, show));
  return moved(cause, show) + " (or as likely a change of: " + in_a_row(others) + ')';
}

std::string what_moved(const sheet::RunSheet& run, const job::Recheck& recheck) {
  std::vector<std::string> causes;
  for (const job::Cause& cause : recheck.causes) causes.push_back(moved_or(cause, run.show));
  std::string text = in_a_row(causes, "; ");
  if (!text.empty()) text[0] = char(std::toupper(static_cast<unsigned char>(text[0])));
  text += " (" + test_words(recheck.test) + ").";
  if (recheck.heights_compared)
    text += " By the marks the run as a whole is " +
            value_and_sigma({job::QuantityKind::height, std::abs(recheck.common_m), recheck.common_sigma_m},
                            run.show) +
            (recheck.common_m < 0 ? " lower." : " higher.");
  if (recheck.leaves_unexplained())
    text += " That does not explain all of it: what is left has p " + chance(recheck.rest.p_value) + '.';
  return text;
}

}  // namespace

std::string chance(double p) { return p >= 0.0001 ? fmt::format("{:.2g}", p) : "< 0.0001"; }

std::string_view word(job::RecheckAnswer answer) {
  switch (answer) {
    case job::RecheckAnswer::nothing_moved:
      return "nothing moved";
    case job::RecheckAnswer::moved:
      return "moved";
    case job::RecheckAnswer::moved_somehow:
      return "moved somehow";
    case job::RecheckAnswer::cannot_tell:
      return "cannot tell";
  }
  std::abort();  // every enumerator stands above
}

std::string verdict(const job::Recheck& recheck) {
  std::string text(word(recheck.answer));
  if (recheck.level.verdict == job::ToleranceVerdict::past) text += ", past its tolerance";
  if (recheck.level.verdict == job::ToleranceVerdict::cannot_tell)
    text += ", within its tolerance or not: cannot tell";
  return text;
}

std::string date_words(book::Time time, const std::string& clock_ahead) {
  return date_of(time) +
         (clock_ahead.empty() ? std::string() : ", by a rehearsal's clock " + clock_ahead + " ahead");
}

std::string keep_away() {
  return "This speaks of movement, not of strength: where a support has moved, keep people from under the "
         "run "
         "until somebody licensed for it has looked at anchors, bolts and framing.";
}

std::string_view word(job::MisreadKind kind) {
  switch (kind) {
    case job::MisreadKind::other_stage:
      return "other stage";
    case job::MisreadKind::never_turned:
      return "never turned";
    case job::MisreadKind::faces_exchanged:
      return "faces exchanged";
    case job::MisreadKind::scale:
      return "scale";
    case job::MisreadKind::rough:
      return "rough";
    case job::MisreadKind::all_rough:
      return "all rough";
  }
  std::abort();  // every enumerator stands above
}

std::string_view word(job::ToleranceVerdict verdict) {
  switch (verdict) {
    case job::ToleranceVerdict::not_asked:
      return "not asked";
    case job::ToleranceVerdict::within:
      return "within";
    case job::ToleranceVerdict::past:
      return "past";
    case job::ToleranceVerdict::cannot_tell:
      return "cannot tell";
  }
  std::abort();  // every enumerator stands above
}

std::string_view word(job::DriftVerdict verdict) {
  switch (verdict) {
    case job::DriftVerdict::none_expected:
      return "none expected";
    case job::DriftVerdict::as_expected:
      return "as expected";
    case job::DriftVerdict::less:
      return "less";
    case job::DriftVerdict::more:
      return "more";
    case job::DriftVerdict::cannot_tell:
      return "cannot tell";
  }
  std::abort();  // every enumerator stands above
}

std::string change_name(const job::UnknownId& change) { return name_of(job::changed_quantity(change)); }

std::vector<std::string> change_names(const std::vector<job::UnknownId>& changes) {
  std::vector<std::string> names;
  for (const job::UnknownId& each : changes) names.push_back(change_name(each));
  return names;
}

std::string change_words(const job::UnknownId& change, sheet::Show show) {
  if (change.of != UnknownOf::unlisted_load) return change_name(change);
  return "unlisted load at " + sheet::show_place(1e-3 * change.number, show);
}

std::string twins(const std::pair<job::UnknownId, job::UnknownId>& pair) {
  return change_name(pair.first) + " and " + change_name(pair.second);
}

std::string moved(const job::Cause& cause, sheet::Show show) {
  const job::UnknownId& id = cause.change.id;
  job::Quantity size = cause.change.change;
  const bool less = size.value < 0;
  size.value = std::abs(size.value);
  const std::string by = " by " + value_and_sigma(size, show);
  switch (id.of) {
    case UnknownOf::move_rise:
      return id.name + (less ? " sank" : " rose") + by +
             (cause.height_told ? "" : " against the other supports");
    case UnknownOf::move_pitch:
      return id.name + " turned in the vertical plane" + by + (less ? ", far side down" : ", far side up");
    case UnknownOf::move_roll:
      return id.name + " turned about the run's axis" + by + (less ? ", left edge down" : ", left edge up");
    case UnknownOf::bending:
      return std::string("the run bends ") + (less ? "softer" : "stiffer") + by;
    case UnknownOf::torsion:
      return std::string("the run twists ") + (less ? "softer" : "stiffer") + by;
    case UnknownOf::load:
      if (cause.not_listed)
        return "there is more load than this stage lists: " + id.name + ", " + value_and_sigma(size, show) +
               " of it";
      return change_name(id) + (less ? " is lighter" : " is heavier") + by;
    case UnknownOf::unlisted_load:
      return "a weight of " + value_and_sigma(size, show) + " hangs or stands about " +
             sheet::show_place(1e-3 * id.number, show) + " along that no stage lists";
    case UnknownOf::spring_rise:
    case UnknownOf::spring_pitch:
    case UnknownOf::spring_roll:
      return id.name + (less ? " gives more" : " gives less") + std::string(in_motion(id.of)) +
             ": its spring has " + value_and_sigma(cause.change.change, show) + " its stiffness" +
             (less ? "; it may be working loose" : "");
    case UnknownOf::bow:
      return "the run itself bent" + by + " (" + change_name(id) + ')';
    case UnknownOf::mark_height:
      return "mark " + id.name + (less ? " stands lower" : " stands higher") + by +
             ", or all supports the other way";
    default:
      return change_name(id) + by;
  }
}

std::string tell_apart(const job::Cause& cause) {
  if (cause.or_else.empty()) return {};
  std::vector<UnknownOf> kinds{cause.change.id.of};
  for (const job::UnknownId& each : cause.or_else) kinds.push_back(each.of);
  const auto any = [&](std::initializer_list<UnknownOf> of) {
    return std::any_of(of.begin(), of.end(), [&](UnknownOf one) {
      return std::find(kinds.begin(), kinds.end(), one) != kinds.end();
    });
  };
  std::vector<std::string> what;
  if (any({UnknownOf::spring_rise, UnknownOf::spring_pitch, UnknownOf::spring_roll}))
    what.emplace_back(
        "a survey under other loads, by which a softer spring gives and a support that moved does not");
  if (any({UnknownOf::load, UnknownOf::unlisted_load}))
    what.emplace_back("to weigh or look what stands on the run");
  if (!cause.height_told && std::count(kinds.begin(), kinds.end(), UnknownOf::move_rise) > 1)
    what.emplace_back("a stable mark read in both surveys, and again by each support");
  if (any({UnknownOf::bending, UnknownOf::torsion, UnknownOf::bow}))
    what.emplace_back("a survey without the loads, which shows how the run bends");
  if (what.empty()) what.emplace_back("more places read, on both faces");
  return "These readings cannot tell them apart; what would: " + in_a_row(what, "; ") + '.';
}

std::string in_short(const sheet::RunSheet& run, const job::Recheck& recheck) {
  const std::string since = date_of(recheck.from_time);
  std::string text;
  switch (recheck.answer) {
    case job::RecheckAnswer::nothing_moved:
      text = "The run stands as it stood on " + since + ", as far as these readings can tell.";
      break;
    case job::RecheckAnswer::moved: {
      std::vector<std::string> causes;
      for (const job::Cause& cause : recheck.causes) causes.push_back(moved_or(cause, run.show));
      text = "The run has changed since " + since + ": " + in_a_row(causes, "; ") + '.';
      break;
    }
    case job::RecheckAnswer::moved_somehow:
      text = "The run has changed since " + since + "; these readings do not tell what.";
      break;
    case job::RecheckAnswer::cannot_tell:
      return "These readings do not tell whether the run has changed since " + since + ": read again.";
  }
  const std::string allowed = sheet::show_length(recheck.tolerance.level_m, run.show);
  const std::string level = " Its highest and its lowest point differ by " +
                            sheet::show_length(recheck.level.to_m, run.show) + "; allowed are " + allowed +
                            ": ";
  const std::optional<job::Straightness>& straight = recheck.level.straight;
  const bool level_enough = recheck.level.to_m <= recheck.tolerance.level_m;
  const std::string under_edge =
      straight ? ' ' + straight_words(*recheck.tolerance.per, *straight, run.show) : std::string();
  switch (recheck.level.verdict) {
    case job::ToleranceVerdict::not_asked:
      return text;
    case job::ToleranceVerdict::within:
      return text + level + "it is level enough." + under_edge;
    case job::ToleranceVerdict::past:
      return text + level + (level_enough ? "it is level enough." : "it is no longer level enough.") +
             under_edge + (level_enough ? " It is no longer straight enough." : "");
    case job::ToleranceVerdict::cannot_tell:
      return text + level + "too near to tell." + under_edge;
  }
  std::abort();  // every enumerator stands above
}

std::string reason(const sheet::RunSheet& run, const job::Recheck& recheck) {
  switch (recheck.answer) {
    case job::RecheckAnswer::cannot_tell:
      return cannot_tell(run, recheck);
    case job::RecheckAnswer::nothing_moved:
      return "Nothing moved beyond what was expected and what the readings scatter (" +
             test_words(recheck.test) + ")." + unseen(recheck.unseen, run.show);
    case job::RecheckAnswer::moved_somehow:
      return "Something moved, and no single change stands out enough to be named (" +
             test_words(recheck.test) + "). Read more places.";
    case job::RecheckAnswer::moved:
      return what_moved(run, recheck);
  }
  std::abort();  // every enumerator stands above
}

std::string drift(const job::ExpectedDrift& drift, sheet::Show show) {
  using job::QuantityKind;
  switch (drift.cause) {
    case job::DriftCause::not_asked:
      return "";
    case job::DriftCause::no_time_passed:
      return "No movement was expected: no time has passed.";
    case job::DriftCause::nothing_creeps:
      return "No movement was expected: nothing in the run creeps.";
    case job::DriftCause::not_worked_out:
      return "What creep was to be expected could not be worked out.";
    case job::DriftCause::wood_based_parts:
      break;
  }
  const std::string expected =
      fmt::format("Expected: sag by creep {} in {:.0f} days",
                  value_and_sigma({QuantityKind::height, drift.sag_m, drift.sag_sigma_m}, show), drift.days);
  if (drift.verdict == job::DriftVerdict::cannot_tell)
    return expected + "; too little for these readings to tell whether it came.";
  return expected + "; measured: " +
         value_and_sigma(
             {QuantityKind::height, drift.share * drift.sag_m, drift.share_sigma * std::abs(drift.sag_m)},
             show) +
         (drift.verdict == job::DriftVerdict::less   ? ", less than expected."
          : drift.verdict == job::DriftVerdict::more ? ", more than expected."
                                                     : ", as expected.");
}

std::vector<std::string> drift_reasons(const job::ExpectedDrift& drift) {
  if (drift.cause != job::DriftCause::wood_based_parts) return {};
  return {
      fmt::format("wood-based parts creep under the lasting loads: {:.0f} % of what comes in the end (k_def "
                  "of EN 1995-1-1 by material and service class; its course in time is common practice)",
                  100 * drift.final_share)};
}

std::string trend_name(const job::TrendOf& trend, sheet::Show show) {
  if (const auto* const rise = std::get_if<job::AgainstFarthestSupport>(&trend))
    return rise->support + ": height against the farthest support";
  const auto& level = std::get<job::LevelError>(trend);
  return "level error, " + sheet::show_place(level.high_at_m, show) + " above " +
         sheet::show_place(level.low_at_m, show);
}

std::string trend(const job::Trend& trend, sheet::Show show) {
  std::string text =
      trend_name(trend.of, show) + (trend.goes() ? " changes by " : ": no trend is told from none, ") +
      value_and_sigma({job::QuantityKind::height, trend.per_year, trend.per_year_sigma}, show) + " a year";
  if (!trend.goes_evenly()) text += " (it does not go evenly)";
  if (!trend.limit) return text + '.';
  const std::string limit =
      sheet::show_fine(*trend.limit, show) +
      (trend.limit_stage.empty() ? "" : ", allowed at stage \"" + trend.limit_stage + "\",");
  if (trend.past_limit) return text + "; past " + limit + " already.";
  if (!trend.reached_from_days) return text + "; " + limit + " is not in sight.";
  const std::string from = date_after(trend.began, *trend.reached_from_days);
  if (!trend.reached_to_days)
    return text + "; " + limit + " is reached not before " + from + ", if at all (95 %).";
  return text + "; going on so, it reaches " + limit + " between " + from + " and " +
         date_after(trend.began, *trend.reached_to_days) + " (95 %).";
}

std::string remark(const job::Remark& remark, sheet::Show show) {
  return std::visit(
      Cases{[&](const job::SheetDiffers& is) {
              return "The run sheet " + later_sheet(is.later, is.given) + " differs from that " +
                     earlier_sheet(is.earlier, is.later, is.given) + ": " + words(is.change, show) +
                     ". It does not touch what is compared.";
            },
            [&](const job::OtherKit& is) { return other_kit(is, show); },
            [&](const job::NewTolerance& is) { return new_tolerance(is, show); },
            [](const job::RehearsedClock& is) {
              return "The times of survey " + is.survey + " are a rehearsal's: its clock was set " +
                     is.ahead + " ahead.";
            },
            [](const job::UnmarkedMoves& is) {
              return "Survey " + is.survey + " has a card with moves that nobody marked as made (" +
                     in_a_row(is.supports) + "): if they were made, they show here as movement.";
            },
            [](job::CreepNotWorkedOut) {
              return std::string("What creep is expected could not be worked out; none was taken off.");
            },
            [&](const job::PastTolerance& is) {
              return "The level error now, " + sheet::show_fine(is.level_error_m, show) + ", is past the " +
                     sheet::show_fine(is.allowed_m, show) + " that the sheet allows at stage \"" + is.stage +
                     "\".";
            },
            [&](const job::ToleranceNotTold& is) {
              return "Whether the run is within the " + sheet::show_fine(is.allowed_m, show) +
                     " that the sheet allows at stage \"" + is.stage +
                     "\" cannot be told: its level error now is " +
                     value_and_sigma({job::QuantityKind::height, is.level_error_m, is.sigma_m}, show) +
                     ", which is within it with a chance of " + fmt::format("{:.0f} %", 100 * is.chance) +
                     ". Read more places.";
            },
            [&](const job::NotRead& is) {
              return "Survey " + is.survey + " read nothing between " + sheet::show_place(is.from_m, show) +
                     " and " + sheet::show_place(is.to_m, show) +
                     ": what stands there is worked out from the rest, not read.";
            },
            [](const job::SurveyOpen& is) {
              return "Survey " + is.survey + " is still open: what is read yet may change this answer.";
            },
            [](const job::OfTwoStages& is) {
              return "The surveys are of two stages: what stands as before is survey " + is.earlier +
                     " carried over to stage \"" + is.later_stage +
                     "\" with the loads of the run sheet, and was not read so.";
            },
            [&](const job::CheckWarning& is) {
              return (is.which == job::Which::from ? kEarlier : "Later survey: ") + warning(is.warning, show);
            },
            [&](const job::BearingNotKnown& is) {
              return "What is named depends on whether " + in_a_row(is.supports) + " bore at survey " +
                     is.survey +
                     ", which its readings do not tell: try by hand what bears, and say so at every survey.";
            },
            [](const job::HoldsOnlyJust& is) { return holds_only_just(is); },
            [&](const job::OtherTemperature& is) {
              return "The instruments were at " + temperature_words(is.then_C, show) + " then and at " +
                     temperature_words(is.now_C, show) +
                     " now: rods and posts of other length than the bracket's wall may have grown.";
            },
            [&](const job::UnderStraightEdge& is) {
              return "At stage \"" + is.stage + "\": " + straight_words(is.allowed, is.found, show);
            },
            [&](const job::WarmthTakenOff& is) { return warmth_words(is.warmth, show); },
            [&](const job::TemperatureNotRead& is) { return temperature_not_read(is.by, show); }},
      remark);
}

std::vector<std::string> remarks(const job::Recheck& recheck, sheet::Show show) {
  std::vector<std::string> all;
  for (const job::Remark& each : recheck.remarks) {
    const auto* const check = std::get_if<job::CheckWarning>(&each);
    if (check == nullptr) {
      all.push_back(remark(each, show));
      continue;
    }
    // Of both surveys once.
    const std::string words = warning(check->warning, show);
    const auto of_other = std::find(all.begin(), all.end(), kEarlier + words);
    if (check->which == job::Which::to && of_other != all.end())
      *of_other = "Both surveys: " + words;
    else
      all.push_back(remark(each, show));
  }
  return all;
}

}  // namespace hangtrue::say

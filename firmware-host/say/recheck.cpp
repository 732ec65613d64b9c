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
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/not_comparable.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/sheet_changes.hpp"
#include "firmware-host/say/unknown.hpp"
#include "firmware-host/say/words.hpp"
#include "firmware-host/sheet/units.hpp"

namespace hangtrue::say {

namespace {

using job::UnknownOf;

/// A factor so near to -1 is a sign and nothing else. No source: what readings tell of a scale at best.
constexpr double kPlainSign = 0.05;
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
  std::string words = std::isinf(is.rise_m)
                          ? text(show, " Any sinking of {} could have stayed unseen", is.support.name)
                          : text(show, " A rise or sinking of up to {} of {} could have stayed unseen",
                                 sheet::show_fine(is.rise_m, show), is.support.name);
  if (is.whole_run_m > 0)
    words += text(show, ", and the run as a whole could stand {} higher or lower",
                  sheet::show_fine(is.whole_run_m, show));
  words += said(show, " (larger ones show in four cases of five).");
  std::vector<std::string> missing;
  if (is.no_mark) missing.push_back(said(show, "a stable mark read in both surveys"));
  if (is.one_face) missing.push_back(said(show, "both faces of the inclinometer"));
  if (is.places_not_read > 0)
    missing.push_back(text(show, "the {} marked places that were not read", is.places_not_read));
  if (!missing.empty())
    words += text(show, " What is missing would make that less: {}.", in_a_row(missing, "; "));
  return words;
}

std::string in_motion(UnknownOf spring, sheet::Show show) {
  return said(show, spring == UnknownOf::spring_rise    ? " in rise"
                    : spring == UnknownOf::spring_pitch ? " in pitch"
                                                        : " in roll");
}

std::string test_words(const change::GlobalTest& test, sheet::Show show) {
  return text(show, "chi-squared {} with {} degrees of freedom, p {}{}", digits(test.statistic, 1, show),
              test.degrees_of_freedom, test.p_value < 0.0001 ? "" : "= ", chance(test.p_value, show));
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
    return sheet::with_decimal_sign(fmt::format("{:g}", value), show.language);
  };
  const std::string what = said(show, is.in == In::sigma  ? "sigma"
                                      : is.in == In::feet ? "feet"
                                      : is.in == In::sign ? "sign"
                                                          : "scale");
  return text(show, "{}: {} {} instead of {}", name_words(is.channel, show), what, size(is.is), size(is.was));
}

std::string holds_only_just(const job::HoldsOnlyJust& is, sheet::Show show) {
  return text(show,
              "Survey {} scatters more than its instruments should (p = {}; one good survey in a hundred "
              "does): what is told may be less sure than it says. To be sure, read again.",
              is.survey, chance(is.p_value, show));
}

std::string new_tolerance(const job::NewTolerance& is, sheet::Show show) {
  const auto allowed = [&](const sheet::Tolerance& of, const std::string& stage) {
    if (!(of.level_m > 0)) return said(show, "no tolerance");
    return sheet::show_length(of.level_m, show) +
           (of.per ? text(show, ", and {} over {}", sheet::show_length(of.per->gap_m, show),
                          sheet::show_length(of.per->length_m, show))
                   : std::string()) +
           text(show, " at stage \"{}\", at {}", stage,
                sheet::with_decimal_sign(fmt::format("{:g} %", 100 * of.confidence), show.language));
  };
  return text(show, "The tolerance that counts here is the one given: {}. The sheet in the book has {}.",
              allowed(is.is, is.stage), allowed(is.was, is.was_stage));
}

std::string other_kit(const job::OtherKit& is, sheet::Show show) {
  std::vector<std::string> all;
  for (const job::KitDiffers& each : is.differs) all.push_back(differs(each, show));
  return text(show, "The kit sheet given ({}) counts in the place of those in the book", is.file) +
         (all.empty() ? said(show, ": it says the same of what was read.")
                      : ": " + in_a_row(all, "; ") + '.');
}

// What it was, how likely, and what cures it.
std::string misread(const job::Misread& is, sheet::Show show) {
  const std::string weight = fmt::format("({:.0f} %)", 100 * is.weight);
  const std::string channel = name_words(is.channel, show);
  const std::string times =
      sheet::with_decimal_sign(fmt::format("{:.2g}", std::abs(is.factor)), show.language);
  switch (is.kind) {
    case job::MisreadKind::other_stage:
      return text(show, "it was read at stage \"{}\" {}: survey again under that stage", is.stage, weight);
    case job::MisreadKind::never_turned:
      return text(show, "{} was never turned round {}: correct the faces of its readings", channel, weight);
    case job::MisreadKind::faces_exchanged:
      return text(show,
                  "{} was turned the other way round, or counts the other way {}: correct the faces of its "
                  "readings, or its sign in the kit sheet",
                  channel, weight);
    case job::MisreadKind::scale:
      return (is.factor >= 0 ? text(show, "{} reads about {} times what is there", channel, times)
              : std::abs(is.factor + 1) < kPlainSign
                  ? text(show, "{} counts the other way", channel)
                  : text(show, "{} counts the other way and about {} times what is there", channel, times)) +
             text(show, " {}: check its scale, unit, sign and feet", weight);
    case job::MisreadKind::rough:
    case job::MisreadKind::all_rough:
      return (is.kind == job::MisreadKind::rough
                  ? text(show, "{} scatters {} times what the kit sheet says", channel,
                         digits(is.factor, 1, show))
                  : text(show, "all channels scatter {} times what the kit sheet says",
                         digits(is.factor, 1, show))) +
             text(show,
                  " {}: give its true sigma in a kit sheet and compare again by that one (--kit), or read "
                  "with "
                  "steadier feet",
                  weight);
  }
  std::abort();  // every enumerator stands above
}

std::string cannot_tell(const sheet::RunSheet& run, const job::Recheck& recheck) {
  return std::visit(
      Cases{[](std::monostate) { return std::string(); },
            [&](const job::NotTaught& why) {
              return text(run.show, "Survey {} is no ground to compare with: {}.", recheck.from,
                          not_taught(run, why));
            },
            [&](const job::ReadingsContradict& why) {
              const std::string words = text(run.show,
                                             "The readings of survey {} contradict each other, whatever may "
                                             "have moved: its fit does not hold.",
                                             recheck.to);
              if (why.likely.empty())
                return words + said(run.show, " Look at those farthest off, and read again.");
              std::vector<std::string> likely;
              for (const job::Misread& each : why.likely) likely.push_back(misread(each, run.show));
              return words + text(run.show, " Likeliest: {}.", in_a_row(likely, said(run.show, "; or ")));
            },
            [&](job::TooLittleRead) { return said(run.show, "Too little was read to see any change."); }},
      recheck.why_not);
}

// With the likeliest of what would explain it as well.
std::string moved_or(const job::Cause& cause, sheet::Show show) {
  if (cause.or_else.empty()) return moved(cause, show);
  std::vector<std::string> others;
  for (const job::UnknownId& each : cause.or_else) others.push_back(change_words(each, show));
  return moved(cause, show) + text(show, " (or as likely a change of: {})", in_a_row(others));
}

std::string what_moved(const sheet::RunSheet& run, const job::Recheck& recheck) {
  std::vector<std::string> causes;
  for (const job::Cause& cause : recheck.causes) causes.push_back(moved_or(cause, run.show));
  std::string words = in_a_row(causes, "; ");
  if (!words.empty()) words[0] = char(std::toupper(static_cast<unsigned char>(words[0])));
  words += " (" + test_words(recheck.test, run.show) + ").";
  const std::string common = value_and_sigma(
      {job::QuantityKind::height, std::abs(recheck.common_m), recheck.common_sigma_m}, run.show);
  if (recheck.heights_compared)
    words += recheck.common_m < 0 ? text(run.show, " By the marks the run as a whole is {} lower.", common)
                                  : text(run.show, " By the marks the run as a whole is {} higher.", common);
  if (recheck.leaves_unexplained())
    words += text(run.show, " That does not explain all of it: what is left has p {}.",
                  chance(recheck.rest.p_value, run.show));
  return words;
}

}  // namespace

std::string chance(double p, sheet::Show show) {
  return sheet::with_decimal_sign(p >= 0.0001 ? fmt::format("{:.2g}", p) : "< 0.0001", show.language);
}

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

std::string verdict(const job::Recheck& recheck, sheet::Show show) {
  std::string words = said(show, word(recheck.answer));
  if (recheck.level.verdict == job::ToleranceVerdict::past) words += said(show, ", past its tolerance");
  if (recheck.level.verdict == job::ToleranceVerdict::cannot_tell)
    words += said(show, ", within its tolerance or not: cannot tell");
  return words;
}

std::string clock_words(const std::string& clock_ahead, sheet::Show show) {
  if (clock_ahead.empty()) return {};
  // The words in which it was said are English.
  const auto days = sheet::parse_days(clock_ahead);
  const bool as_said = show.language == sheet::Language::english || !days;
  return text(show, ", by a rehearsal's clock {} ahead",
              as_said ? clock_ahead : text(show, "{} days", std::lround(*days)));
}

std::string date_words(book::Time time, const std::string& clock_ahead, sheet::Show show) {
  return date_of(time) + clock_words(clock_ahead, show);
}

std::string keep_away(sheet::Show show) {
  return said(show,
              "This speaks of movement, not of strength: where a support has moved, keep people from under "
              "the run until somebody licensed for it has looked at anchors, bolts and framing.");
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
  return name_words(job::changed_quantity(change), show);
}

std::string twins(const std::pair<job::UnknownId, job::UnknownId>& pair, sheet::Show show) {
  if (show.language == sheet::Language::english)
    return change_name(pair.first) + " and " + change_name(pair.second);
  return text(show, "{} and {}", change_words(pair.first, show), change_words(pair.second, show));
}

std::string moved(const job::Cause& cause, sheet::Show show) {
  const job::UnknownId& id = cause.change.id;
  job::Quantity size = cause.change.change;
  const bool less = size.value < 0;
  size.value = std::abs(size.value);
  const std::string by = value_and_sigma(size, show);
  const std::string what = change_words(id, show);
  switch (id.of) {
    case UnknownOf::move_rise:
      return (less ? text(show, "{} sank by {}", id.name, by) : text(show, "{} rose by {}", id.name, by)) +
             (cause.height_told ? std::string() : said(show, " against the other supports"));
    case UnknownOf::move_pitch:
      return less ? text(show, "{} turned in the vertical plane by {}, far side down", id.name, by)
                  : text(show, "{} turned in the vertical plane by {}, far side up", id.name, by);
    case UnknownOf::move_roll:
      return less ? text(show, "{} turned about the run's axis by {}, left edge down", id.name, by)
                  : text(show, "{} turned about the run's axis by {}, left edge up", id.name, by);
    case UnknownOf::bending:
      return less ? text(show, "the run bends softer by {}", by)
                  : text(show, "the run bends stiffer by {}", by);
    case UnknownOf::torsion:
      return less ? text(show, "the run twists softer by {}", by)
                  : text(show, "the run twists stiffer by {}", by);
    case UnknownOf::load:
      if (cause.not_listed)
        return text(show, "there is more load than this stage lists: {}, {} of it", id.name, by);
      return less ? text(show, "{} is lighter by {}", what, by) : text(show, "{} is heavier by {}", what, by);
    case UnknownOf::unlisted_load:
      return text(show, "a weight of {} hangs or stands about {} along that no stage lists", by,
                  sheet::show_place(1e-3 * id.number, show));
    case UnknownOf::spring_rise:
    case UnknownOf::spring_pitch:
    case UnknownOf::spring_roll: {
      const std::string motion = in_motion(id.of, show),
                        stiffness = value_and_sigma(cause.change.change, show);
      return less
                 ? text(show, "{} gives more{}: its spring has {} its stiffness; it may be working loose",
                        id.name, motion, stiffness)
                 : text(show, "{} gives less{}: its spring has {} its stiffness", id.name, motion, stiffness);
    }
    case UnknownOf::bow:
      return text(show, "the run itself bent by {} ({})", by, what);
    case UnknownOf::mark_height:
      return less ? text(show, "mark {} stands lower by {}, or all supports the other way", id.name, by)
                  : text(show, "mark {} stands higher by {}, or all supports the other way", id.name, by);
    default:
      return text(show, "{} by {}", what, by);
  }
}

std::string tell_apart(const job::Cause& cause, sheet::Show show) {
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
    what.push_back(
        said(show,
             "a survey under other loads, by which a softer spring gives and a support that moved does not"));
  if (any({UnknownOf::load, UnknownOf::unlisted_load}))
    what.push_back(said(show, "to weigh or look what stands on the run"));
  if (!cause.height_told && std::count(kinds.begin(), kinds.end(), UnknownOf::move_rise) > 1)
    what.push_back(said(show, "a stable mark read in both surveys, and again by each support"));
  if (any({UnknownOf::bending, UnknownOf::torsion, UnknownOf::bow}))
    what.push_back(said(show, "a survey without the loads, which shows how the run bends"));
  if (what.empty()) what.push_back(said(show, "more places read, on both faces"));
  return text(show, "These readings cannot tell them apart; what would: {}.", in_a_row(what, "; "));
}

std::string in_short(const sheet::RunSheet& run, const job::Recheck& recheck) {
  const std::string since = date_of(recheck.from_time);
  const sheet::Show show = run.show;
  std::string words;
  switch (recheck.answer) {
    case job::RecheckAnswer::nothing_moved:
      words = text(show, "The run stands as it stood on {}, as far as these readings can tell.", since);
      break;
    case job::RecheckAnswer::moved: {
      std::vector<std::string> causes;
      for (const job::Cause& cause : recheck.causes) causes.push_back(moved_or(cause, show));
      words = text(show, "The run has changed since {}: {}.", since, in_a_row(causes, "; "));
      break;
    }
    case job::RecheckAnswer::moved_somehow:
      words = text(show, "The run has changed since {}; these readings do not tell what.", since);
      break;
    case job::RecheckAnswer::cannot_tell:
      return text(show, "These readings do not tell whether the run has changed since {}: read again.",
                  since);
  }
  const std::string level =
      text(show, " Its highest and its lowest point differ by {}; allowed are {}: ",
           sheet::show_length(recheck.level.to_m, show), sheet::show_length(recheck.tolerance.level_m, show));
  const std::optional<job::Straightness>& straight = recheck.level.straight;
  const bool level_enough = recheck.level.to_m <= recheck.tolerance.level_m;
  const std::string under_edge =
      straight ? ' ' + straight_words(*recheck.tolerance.per, *straight, show) : std::string();
  switch (recheck.level.verdict) {
    case job::ToleranceVerdict::not_asked:
      return words;
    case job::ToleranceVerdict::within:
      return words + level + said(show, "it is level enough.") + under_edge;
    case job::ToleranceVerdict::past:
      return words + level +
             said(show, level_enough ? "it is level enough." : "it is no longer level enough.") + under_edge +
             (level_enough ? said(show, " It is no longer straight enough.") : std::string());
    case job::ToleranceVerdict::cannot_tell:
      return words + level + said(show, "too near to tell.") + under_edge;
  }
  std::abort();  // every enumerator stands above
}

std::string reason(const sheet::RunSheet& run, const job::Recheck& recheck) {
  switch (recheck.answer) {
    case job::RecheckAnswer::cannot_tell:
      return cannot_tell(run, recheck);
    case job::RecheckAnswer::nothing_moved:
      return text(run.show, "Nothing moved beyond what was expected and what the readings scatter ({}).",
                  test_words(recheck.test, run.show)) +
             unseen(recheck.unseen, run.show);
    case job::RecheckAnswer::moved_somehow:
      return text(
          run.show,
          "Something moved, and no single change stands out enough to be named ({}). Read more places.",
          test_words(recheck.test, run.show));
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
      return said(show, "No movement was expected: no time has passed.");
    case job::DriftCause::nothing_creeps:
      return said(show, "No movement was expected: nothing in the run creeps.");
    case job::DriftCause::not_worked_out:
      return said(show, "What creep was to be expected could not be worked out.");
    case job::DriftCause::wood_based_parts:
      break;
  }
  const std::string expected =
      text(show, "Expected: sag by creep {} in {} days",
           value_and_sigma({QuantityKind::height, drift.sag_m, drift.sag_sigma_m}, show),
           digits(drift.days, 0, show));
  if (drift.verdict == job::DriftVerdict::cannot_tell)
    return expected + said(show, "; too little for these readings to tell whether it came.");
  return expected +
         text(show, "; measured: {}",
              value_and_sigma({QuantityKind::height, drift.share * drift.sag_m,
                               drift.share_sigma * std::abs(drift.sag_m)},
                              show)) +
         said(show, drift.verdict == job::DriftVerdict::less   ? ", less than expected."
                    : drift.verdict == job::DriftVerdict::more ? ", more than expected."
                                                               : ", as expected.");
}

std::vector<std::string> drift_reasons(const job::ExpectedDrift& drift, sheet::Show show) {
  if (drift.cause != job::DriftCause::wood_based_parts) return {};
  return {text(show,
               "wood-based parts creep under the lasting loads: {} % of what comes in the end (k_def of EN "
               "1995-1-1 by material and service class; its course in time is common practice)",
               digits(100 * drift.final_share, 0, show))};
}

std::string trend_name(const job::TrendOf& trend, sheet::Show show) {
  if (const auto* const rise = std::get_if<job::AgainstFarthestSupport>(&trend))
    return text(show, "{}: height against the farthest support", rise->support);
  const auto& level = std::get<job::LevelError>(trend);
  return text(show, "level error, {} above {}", sheet::show_place(level.high_at_m, show),
              sheet::show_place(level.low_at_m, show));
}

std::string trend(const job::Trend& trend, sheet::Show show) {
  const std::string name = trend_name(trend.of, show);
  const std::string by =
      value_and_sigma({job::QuantityKind::height, trend.per_year, trend.per_year_sigma}, show);
  std::string words = trend.goes() ? text(show, "{} changes by {} a year", name, by)
                                   : text(show, "{}: no trend is told from none, {} a year", name, by);
  if (!trend.goes_evenly()) words += said(show, " (it does not go evenly)");
  if (!trend.limit) return words + '.';
  const std::string limit =
      sheet::show_fine(*trend.limit, show) +
      (trend.limit_stage.empty() ? std::string()
                                 : text(show, ", allowed at stage \"{}\",", trend.limit_stage));
  if (trend.past_limit) return words + text(show, "; past {} already.", limit);
  if (!trend.reached_from_days) return words + text(show, "; {} is not in sight.", limit);
  const std::string from = date_after(trend.began, *trend.reached_from_days);
  if (!trend.reached_to_days)
    return words + text(show, "; {} is reached not before {}, if at all (95 %).", limit, from);
  return words + text(show, "; going on so, it reaches {} between {} and {} (95 %).", limit, from,
                      date_after(trend.began, *trend.reached_to_days));
}

std::string remark(const job::Remark& remark, sheet::Show show) {
  return std::visit(
      Cases{[&](const job::SheetDiffers& is) {
              return text(show,
                          "The run sheet {} differs from that {}: {}. It does not touch what is compared.",
                          later_sheet(is.later, is.given, show),
                          earlier_sheet(is.earlier, is.later, is.given, show), words(is.change, show));
            },
            [&](const job::OtherKit& is) { return other_kit(is, show); },
            [&](const job::NewTolerance& is) { return new_tolerance(is, show); },
            [&](const job::RehearsedClock& is) {
              return text(show, "The times of survey {} are a rehearsal's: its clock was set {} ahead.",
                          is.survey, is.ahead);
            },
            [&](const job::UnmarkedMoves& is) {
              return text(show,
                          "Survey {} has a card with moves that nobody marked as made ({}): if they were "
                          "made, they show here as movement.",
                          is.survey, in_a_row(is.supports));
            },
            [&](job::CreepNotWorkedOut) {
              return said(show, "What creep is expected could not be worked out; none was taken off.");
            },
            [&](const job::PastTolerance& is) {
              return text(
                  show, "The level error now, {}, is past the {} that the sheet allows at stage \"{}\".",
                  sheet::show_fine(is.level_error_m, show), sheet::show_fine(is.allowed_m, show), is.stage);
            },
            [&](const job::ToleranceNotTold& is) {
              return text(show,
                          "Whether the run is within the {} that the sheet allows at stage \"{}\" cannot be "
                          "told: its level error now is {}, which is within it with a chance of {} %. Read "
                          "more places.",
                          sheet::show_fine(is.allowed_m, show), is.stage,
                          value_and_sigma({job::QuantityKind::height, is.level_error_m, is.sigma_m}, show),
                          digits(100 * is.chance, 0, show));
            },
            [&](const job::NotRead& is) {
              return text(show,
                          "Survey {} read nothing between {} and {}: what stands there is worked out from "
                          "the rest, not read.",
                          is.survey, sheet::show_place(is.from_m, show), sheet::show_place(is.to_m, show));
            },
            [&](const job::SurveyOpen& is) {
              return text(show, "Survey {} is still open: what is read yet may change this answer.",
                          is.survey);
            },
            [&](const job::OfTwoStages& is) {
              return text(show,
                          "The surveys are of two stages: what stands as before is survey {} carried over to "
                          "stage \"{}\" with the loads of the run sheet, and was not read so.",
                          is.earlier, is.later_stage);
            },
            [&](const job::CheckWarning& is) {
              return said(show, is.which == job::Which::from ? "Earlier survey: " : "Later survey: ") +
                     warning(is.warning, show);
            },
            [&](const job::BearingNotKnown& is) {
              return text(show,
                          "What is named depends on whether {} bore at survey {}, which its readings do not "
                          "tell: try by hand what bears, and say so at every survey.",
                          in_a_row(is.supports), is.survey);
            },
            [&](const job::HoldsOnlyJust& is) { return holds_only_just(is, show); },
            [&](const job::OtherTemperature& is) {
              return text(show,
                          "The instruments were at {} then and at {} now: rods and posts of other length "
                          "than the bracket's wall may have grown.",
                          temperature_words(is.then_C, show), temperature_words(is.now_C, show));
            },
            [&](const job::UnderStraightEdge& is) {
              return text(show, "At stage \"{}\": {}", is.stage, straight_words(is.allowed, is.found, show));
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
    const auto of_other = std::find(all.begin(), all.end(), said(show, "Earlier survey: ") + words);
    if (check->which == job::Which::to && of_other != all.end())
      *of_other = said(show, "Both surveys: ") + words;
    else
      all.push_back(remark(each, show));
  }
  return all;
}

}  // namespace hangtrue::say

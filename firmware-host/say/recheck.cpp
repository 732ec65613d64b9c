#include "firmware-host/say/recheck.hpp"

#include <cctype>
#include <chrono>
#include <cmath>
#include <cstdlib>

#include <fmt/format.h>

#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/say/cases.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/history.hpp"
#include "firmware-host/say/not_comparable.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/sheet_changes.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

using job::UnknownOf;

std::string in_a_row(const std::vector<std::string>& parts, std::string_view between = ", ") {
  return fmt::format("{}", fmt::join(parts, between));
}

// So many days after an instant: "2027-11-03".
std::string date_after(book::Time from, double days) {
  return date_of(from + std::chrono::duration_cast<book::Time::duration>(
                            std::chrono::duration<double, std::ratio<86400>>(days)));
}

std::string test_words(const change::GlobalTest& test) {
  return fmt::format("chi-squared {:.1f} with {} degrees of freedom, p {}{}", test.statistic,
                     test.degrees_of_freedom, test.p_value < 0.0001 ? "" : "= ", chance(test.p_value));
}

std::string cannot_tell(const sheet::RunSheet& run, const job::Recheck& recheck) {
  return std::visit(
      Cases{[](std::monostate) { return std::string(); },
            [&](const job::NotTaught& why) {
              return "Survey " + recheck.from + " is no ground to compare with: " + not_taught(run, why) +
                     '.';
            },
            [&](job::ReadingsContradict) {
              return "The readings of survey " + recheck.to +
                     " contradict each other, whatever may have moved: its fit does not hold. Look at those "
                     "farthest off, and read again.";
            },
            [](job::TooLittleRead) { return std::string("Too little was read to see any change."); }},
      recheck.why_not);
}

std::string what_moved(const sheet::RunSheet& run, const job::Recheck& recheck) {
  std::vector<std::string> causes;
  for (const job::Cause& cause : recheck.causes) causes.push_back(moved(cause, run.show));
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
      return change_name(id) + (less ? " is lighter" : " is heavier") + by;
    case UnknownOf::bow:
      return "the run itself bent" + by + " (" + change_name(id) + ')';
    case UnknownOf::mark_height:
      return "mark " + id.name + (less ? " stands lower" : " stands higher") + by +
             ", or all supports the other way";
    default:
      return change_name(id) + by;
  }
}

std::string reason(const sheet::RunSheet& run, const job::Recheck& recheck) {
  switch (recheck.answer) {
    case job::RecheckAnswer::cannot_tell:
      return cannot_tell(run, recheck);
    case job::RecheckAnswer::nothing_moved:
      return "Nothing moved beyond what was expected and what the readings scatter (" +
             test_words(recheck.test) + ").";
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
  const std::string limit = sheet::show_fine(*trend.limit, show);
  if (trend.past_limit) return text + "; it is past " + limit + " already.";
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
            [](const job::UnmarkedMoves& is) {
              return "Survey " + is.survey + " has a card with moves that nobody marked as made (" +
                     in_a_row(is.supports) + "): if they were made, they show here as movement.";
            },
            [](job::CreepNotWorkedOut) {
              return std::string("What creep is expected could not be worked out; none was taken off.");
            },
            [&](const job::PastTolerance& is) {
              return "The level error now, " + sheet::show_fine(is.level_error_m, show) + ", is past the " +
                     sheet::show_fine(is.allowed_m, show) + " that the sheet allows.";
            },
            [](const job::OfTwoStages& is) {
              return "The surveys are of two stages: what stands as before is survey " + is.earlier +
                     " carried over to stage \"" + is.later_stage +
                     "\" with the loads of the run sheet, and was not read so.";
            },
            [&](const job::CheckWarning& is) {
              return (is.which == job::Which::from ? "Earlier survey: " : "Later survey: ") +
                     warning(is.warning, show);
            },
            [&](const job::OtherTemperature& is) {
              return "The instruments were at " + temperature_words(is.then_C, show) + " then and at " +
                     temperature_words(is.now_C, show) +
                     " now: rods and posts of other length than the bracket's wall may have grown.";
            }},
      remark);
}

std::vector<std::string> remarks(const job::Recheck& recheck, sheet::Show show) {
  std::vector<std::string> all;
  for (const job::Remark& each : recheck.remarks) all.push_back(remark(each, show));
  return all;
}

}  // namespace hangtrue::say

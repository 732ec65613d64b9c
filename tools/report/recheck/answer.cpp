// What moved: the answer, the causes named, the test of all changes together, the level.
#include <algorithm>

#include "firmware-host/say/recheck.hpp"
#include "firmware-host/sheet/number.hpp"
#include "tools/report/common/record.hpp"
#include "tools/report/recheck/writer.hpp"

namespace hangtrue::report {

namespace {

Table cause_table(const RecheckWriter& of) {
  Table causes{"Causes named, with all of them together",
               columns("cause|>change|>sigma|>significance p, corrected|would explain it as well"),
               {}};
  for (const job::Cause& cause : of.recheck.causes) {
    const job::Quantity& change = cause.change.change;
    causes.rows.push_back(
        {{typeset(say::moved(cause, of.show)), of.value(change), of.sigma_of(change),
          p_words(cause.change.p_corrected),
          cause.or_else.empty() ? "nothing else" : listed(say::change_names(cause.or_else))}});
  }
  causes.note =
      "A support that sank has a negative rise. p: the chance of so large a change where nothing moved, "
      "corrected for looking at many (Sidak).";
  return causes;
}

}  // namespace

void RecheckWriter::answer() {
  document.add(Heading{"What moved"});
  std::vector<std::string> verdict{typeset(say::reason(run, recheck))}, verdict_remarks;
  for (const job::Remark& each : recheck.remarks)
    if (std::holds_alternative<job::PastTolerance>(each) ||
        std::holds_alternative<job::UnderStraightEdge>(each) ||
        std::holds_alternative<job::ToleranceNotTold>(each))
      verdict_remarks.push_back(say::remark(each, show));
  for (const std::string& each : verdict_remarks) verdict.push_back(typeset(each));
  const bool good = recheck.answer == job::RecheckAnswer::nothing_moved && verdict.size() == 1;
  document.add(Paragraph{typeset(say::in_short(run, recheck)), "In short."});
  document.add(
      Box{"Did the run move between the two surveys, beyond what was expected and what instruments and datum "
          "explain?",
          upper(say::verdict(recheck)), std::move(verdict), !good});
  document.add(Box{"CAUTION", "", {say::keep_away()}, true});
  add_signatures(document, from.to.booked.naming, show);
  if (!recheck.causes.empty()) document.add(cause_table(*this));
  document.add(Paragraph{"chi-squared " + sheet::show_number(recheck.test.statistic, 1) + " with " +
                             std::to_string(recheck.test.degrees_of_freedom) + " degrees of freedom, p " +
                             p_words(recheck.test.p_value) + "; movement is said below p = " +
                             sheet::show_number(1 - job::kRecheckConfidence, 2) + '.',
                         "All changes together (congruence):"});
  Table level{"Level as things stand", columns("|>earlier|>sigma|>later|>sigma|>allowed"), {}};
  level.rows.push_back(
      {{"level error at the stage surveyed", fine(recheck.level.from_m), sigma(recheck.level.from_sigma_m),
        fine(recheck.level.to_m), sigma(recheck.level.to_sigma_m),
        run.tolerance.level_m > 0 ? length(run.tolerance.level_m) + " at stage \"" +
                                        run.stages[std::size_t(run.tolerance.stage)] + '"'
                                  : "none"}});
  document.add(std::move(level));
  std::vector<std::string> remarks = from.remarks;
  for (const std::string& each : say::remarks(recheck, show))
    if (std::find(verdict_remarks.begin(), verdict_remarks.end(), each) == verdict_remarks.end())
      remarks.push_back(typeset(each));
  if (!remarks.empty()) {
    document.add(Paragraph{"", "Remarks"});
    document.add(Items{remarks});
  }
}

}  // namespace hangtrue::report

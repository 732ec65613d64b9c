// What moved: the answer, the causes named, the test of all changes together, the level.
#include <algorithm>

#include "firmware-host/say/recheck.hpp"
#include "tools/report/common/record.hpp"
#include "tools/report/recheck/writer.hpp"

namespace hangtrue::report {

namespace {

Table cause_table(const RecheckWriter& of) {
  Table causes{of.said("Causes named, with all of them together"),
               columns(of.said("cause|>change|>sigma|>significance p, corrected|would explain it as well")),
               {}};
  for (const job::Cause& cause : of.recheck.causes) {
    const job::Quantity& change = cause.change.change;
    causes.rows.push_back(
        {{typeset(say::moved(cause, of.show)), of.value(change), of.sigma_of(change),
          of.p_words(cause.change.p_corrected),
          cause.or_else.empty() ? of.said("nothing else") : of.changes_words(cause.or_else)}});
  }
  causes.note = of.said(
      "A support that sank has a negative rise. p: the chance of so large a change where nothing moved, "
      "corrected for looking at many (Sidak).");
  return causes;
}

}  // namespace

void RecheckWriter::answer() {
  document.add(Heading{said("What moved")});
  std::vector<std::string> verdict{typeset(say::reason(run, recheck))}, verdict_remarks;
  for (const job::Remark& each : recheck.remarks)
    if (std::holds_alternative<job::PastTolerance>(each) ||
        std::holds_alternative<job::UnderStraightEdge>(each) ||
        std::holds_alternative<job::ToleranceNotTold>(each))
      verdict_remarks.push_back(say::remark(each, show));
  for (const std::string& each : verdict_remarks) verdict.push_back(typeset(each));
  const bool good = recheck.answer == job::RecheckAnswer::nothing_moved && verdict.size() == 1;
  document.add(Paragraph{typeset(say::in_short(run, recheck)), said("In short.")});
  document.add(Box{
      said(
          "Did the run move between the two surveys, beyond what was expected and what instruments and datum "
          "explain?"),
      upper(say::verdict(recheck, show)), std::move(verdict), !good});
  document.add(Box{said("CAUTION"), "", {say::keep_away(show)}, true});
  add_signatures(document, from.to.booked.naming, show);
  if (!recheck.causes.empty()) document.add(cause_table(*this));
  document.add(
      Paragraph{text("chi-squared {} with {} degrees of freedom, p {}; movement is said below p = {}.",
                     plain(recheck.test.statistic, 1), recheck.test.degrees_of_freedom,
                     p_words(recheck.test.p_value), plain(1 - job::kRecheckConfidence, 2)),
                said("All changes together (congruence):")});
  Table level{said("Level as things stand"), columns(said("|>earlier|>sigma|>later|>sigma|>allowed")), {}};
  level.rows.push_back(
      {{said("level error at the stage surveyed"), fine(recheck.level.from_m),
        sigma(recheck.level.from_sigma_m), fine(recheck.level.to_m), sigma(recheck.level.to_sigma_m),
        run.tolerance.level_m > 0 ? text("{} at stage \"{}\"", length(run.tolerance.level_m),
                                         run.stages[std::size_t(run.tolerance.stage)])
                                  : said("none")}});
  document.add(std::move(level));
  std::vector<std::string> remarks = from.remarks;
  for (const std::string& each : say::remarks(recheck, show))
    if (std::find(verdict_remarks.begin(), verdict_remarks.end(), each) == verdict_remarks.end())
      remarks.push_back(typeset(each));
  if (!remarks.empty()) {
    document.add(Paragraph{"", said("Remarks")});
    document.add(Items{remarks});
  }
}

}  // namespace hangtrue::report

// The recheck report: its chapters in order; the first page, datum and uncertainty. Clauses of JCGM 100:2008 (GUM) from memory.
#include <algorithm>

#include "firmware-host/say/recheck.hpp"
#include "tools/report/common/kit.hpp"
#include "tools/report/common/record.hpp"
#include "tools/report/recheck/writer.hpp"

namespace hangtrue::report {

book::Number RecheckWriter::last() const {
  return std::max(from.from.booked.record.last, from.to.booked.record.last);
}

void RecheckWriter::title() {
  const auto survey = [&](const std::string& id, int stage, book::Time time, const std::string& ahead) {
    return text("{}, stage \"{}\", {} UTC", id, run.stages.at(std::size_t(stage)),
                minute_of(book::rfc3339(time))) +
           say::clock_words(ahead, show);
  };
  Title title{said("Recheck"), run.title, {}};
  title.facts = {
      {said("Earlier survey"),
       survey(recheck.from, recheck.from_stage, recheck.from_time, recheck.from_clock)},
      {said("Later survey"), survey(recheck.to, recheck.to_stage, recheck.to_time, recheck.to_clock)},
      {said("Compared"), recheck.heights_compared ? said("heights, shape, slope and roll")
                                                  : said("shape, slope and roll; no heights")}};
  if (recheck.drift.days > 0)
    title.facts.push_back({said("Between them"), text("{} days", plain(recheck.drift.days, 0))});
  add_seal(title, from.record, last(), show);
  document.add(std::move(title));
}

void RecheckWriter::datum() {
  document.add(Heading{said("Datum, instruments and checks")});
  document.add(Paragraph{
      recheck.heights_compared
          ? text("Heights of the two surveys are tied by stable marks off the run that both read: {}. They "
                 "are "
                 "taken to have stayed where they were, but each is tested as well. Where the laser stood, "
                 "and "
                 "how its plane was tilted, is found anew for every set-up and plays no part.",
                 listed(recheck.marks))
          : said(
                "No stable mark off the run that stood was read in both surveys: only what does not depend "
                "on the datum "
                "is compared, that is shape, slope and roll against the vertical. That one support sank, and "
                "that all others rose, is then the same."),
      said("Datum.")});
  document.add(Paragraph{said("Zero errors are found anew in every survey: a zero that drifted in between is "
                              "no movement of the run."),
                         said("Zero errors.")});
  for (const Papers* papers : {&from.from, &from.to}) {
    document.add(Heading{text("Kit of survey {}, {}", papers->booked.record.begun.id,
                              minute_of(papers->booked.record.time).substr(0, 10)),
                         2});
    add_kit(document, run, *papers, from.record, false);  // the remarks have its warnings
  }
}

void RecheckWriter::uncertainty() {
  document.add(Heading{said("Uncertainty")});
  double worst = 0;
  for (const job::StationChange& station : recheck.stations) worst = std::max(worst, station.sigma_m);
  document.add(
      Paragraph{text("Every sigma in this report is a standard uncertainty u, one standard deviation, as in "
                     "JCGM 100:2008 (GUM). The expanded uncertainty U = k u has the coverage factor k = 2, "
                     "about 95 %. Bands in the drawings are 95 % bands (1.96 u). The change of height at the "
                     "least certain station has u = {}, U = {}.",
                     sigma(worst), sigma(2 * worst)),
                said("What is stated.")});
  document.add(Paragraph{
      said("The later survey is fitted from what the earlier one taught, with all changes as unknowns; "
           "the uncertainty of each change follows from the "
           "covariance of that fit, correlations included (GUM 5.2). It rests on the stated uncertainty "
           "of the readings (type B, GUM 4.3), which repeats "
           "test (type A, GUM 4.2), and on the run sheet."),
      said("How it is combined.")});
  document.add(Paragraph{"", said("What the comparison assumes")});
  document.add(Items{
      {said("The same run, with the members, supports and loads of the sheet; loads differ between the "
            "surveys only as the stages say."),
       said("A change happened between the surveys, none while one was read."),
       said("Readings independent of each other and normal; what was expected of creep and warmth is known "
            "to its stated sigma.")}});
}

Document recheck_report(const Rechecked& from, Paper paper) {
  RecheckWriter writer(from);
  writer.document =
      begin(writer.said("Recheck"), from.run,
            writer.text("survey {} to {}", from.recheck.from, from.recheck.to), from.record, paper);
  writer.title();
  writer.answer();
  writer.shapes();
  writer.changes();
  writer.drift();
  writer.trends();
  writer.datum();
  writer.uncertainty();
  add_cautions_and_record(writer.document, from.record, writer.last(), from.run.show);
  return std::move(writer.document);
}

}  // namespace hangtrue::report

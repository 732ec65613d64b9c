// The first page: what was surveyed, whether the bolts may be tightened, level and sag beside their limits.
#include <algorithm>

#include "firmware-host/job/prediction.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/words.hpp"
#include "firmware-host/sheet/number.hpp"
#include "tools/report/as_built/writer.hpp"
#include "tools/report/common/record.hpp"

namespace hangtrue::report {

namespace {

/// Highest less lowest of both edges over the stations, at the stage surveyed.
double level_error_as_surveyed(const AsBuiltWriter& of) {
  std::vector<double> heights;
  for (const auto& station : of.fit.stations)
    for (const double across : {of.run.width_m / 2, -of.run.width_m / 2})
      heights.push_back(station.height_m + station.roll_rad * across);
  if (heights.empty()) return 0;
  const auto [low, high] = std::minmax_element(heights.begin(), heights.end());
  return *high - *low;
}

Box do_not_rely(const job::FitReport& fit) {
  return {"DO NOT RELY ON THE FIGURES OF THIS RECORD",
          "",
          {fit.status == fit::Status::not_settled
               ? "The fit did not settle: the readings contradict each other or the sheet too much."
               : "The readings do not agree with the predicted shape and with each other (chi-squared " +
                     sheet::show_number(fit.self_test.chi_squared, 1) + " with " +
                     std::to_string(fit.self_test.degrees_of_freedom) + " readings, p " +
                     p_words(fit.self_test.p_value) +
                     "). The likelier causes are listed in the section on "
                     "uncertainty."},
          true};
}

// For who has it built, without a term of the trade.
std::string in_short(const AsBuiltWriter& of) {
  if (!of.holds || of.from.card == nullptr)
    return of.holds ? "" : "These readings do not tell how the run stands: read it again.";
  if (of.from.card->hold_point.answer == adjust::HoldPoint::read_again)
    return "These readings do not yet tell surely enough how level the run is to be: read it again before "
           "any final bolt "
           "is tight.";
  const auto& before = of.from.card->before;
  const double allowed_m = of.run.tolerance.level_m;
  const bool finished = of.fit.stage == of.finished();
  return (finished ? "Between its highest and its lowest point the run differs by "
                   : "Once finished and loaded, and left as it is now, the run will differ between its "
                     "highest and "
                     "its lowest point by ") +
         of.length(before.level_error_m) + "; allowed are " + of.length(allowed_m) +
         ". The chance that it keeps to that is " + say::percent(before.chance) + '.';
}

void add_sag_rows(const AsBuiltWriter& of, Table& level) {
  if (!of.shape.solved() || !of.run.tolerance.span_ratio) return;
  const double ratio = *of.run.tolerance.span_ratio;
  for (const job::Span& span : job::spans(of.run, of.shape.solver(), of.finished()))
    if (!span.overhang)
      level.rows.push_back({{"sag of the span " + of.place(span.from_m) + " to " + of.place(span.to_m) +
                                 ", " + of.quoted_stage(of.finished()),
                             of.number(span.sag_m), "-", "span / " + sheet::show_number(ratio, 0),
                             of.limit_source(), span.ratio() >= ratio ? "within" : "OVER"}});
}

Table level_and_sag(const AsBuiltWriter& of) {
  const auto& tolerance = of.run.tolerance;
  Table level{"Level and sag beside their limits",
              columns("what|>" + of.unit() + "|>sigma " + of.unit() + "|limit|source of the limit|finding"),
              {}};
  if (of.fit.stage != of.finished() || of.from.card == nullptr)
    level.rows.push_back({{"level error as surveyed, " + of.quoted_stage(of.fit.stage),
                           of.number(level_error_as_surveyed(of)), "-", "-", "-", "for information"}});
  if (of.from.card != nullptr) {
    const auto& before = of.from.card->before;
    level.rows.push_back(
        {{"level error finished and loaded, " + of.quoted_stage(of.finished()) + ", as things are",
          of.number(before.level_error_m), of.sigma_number(before.drawn_sigma_m),
          of.length(tolerance.level_m), "run sheet, tolerance",
          std::string(before.level_error_m <= tolerance.level_m ? "within" : "OVER") +
              "; chance to be within: " + say::percent(before.chance)}});
  }
  add_sag_rows(of, level);
  level.note = "Level error: highest minus lowest of both edges over all stations" +
               std::string(tolerance.target_height_m
                               ? "; with the sheet's target height, twice the largest departure from it."
                               : ".");
  return level;
}

}  // namespace

void AsBuiltWriter::title() {
  const book::SurveyRecord& record = last.booked.record;
  Title title{"As-built record", run.title, {}};
  title.facts = {
      {"Survey", survey_name(record.begun.id, last.booked.naming) + ", stage \"" + record.begun.stage +
                     "\", begun " + minute_of(record.time) + " UTC" + (record.closed ? "" : ", not closed")},
      {"Readings", std::to_string(record.readings) + " taken, " +
                       std::to_string(record.readings - record.kept) + " set aside by hand, " +
                       std::to_string(fit.self_test.beyond_gate) + " by the fit, " +
                       std::to_string(fit.self_test.degrees_of_freedom) + " used"},
      {"Level book", from.record.book_name + ", entry " + std::to_string(record.number) + " to " +
                         std::to_string(record.last)}};
  add_seal(title, from.record, record.last);
  document.add(std::move(title));
}

void AsBuiltWriter::result() {
  document.add(Heading{"Result"});
  if (const std::string words = in_short(*this); !words.empty()) document.add(Paragraph{words, "In short."});
  if (!holds) document.add(do_not_rely(fit));
  if (from.card != nullptr) {
    const job::Card& card = *from.card;
    document.add(
        Box{"May the final bolts be tightened? As far as level goes, as surveyed:",
            upper(std::string(adjust::short_name(card.hold_point.answer))),
            {typeset(say::reason_words(run, card)), say::to_do_words(card.hold_point.answer, run.show)}});
  }
  document.add(level_and_sag(*this));
  add_signatures(document, last.booked.naming, run.show);
  if (from.card == nullptr) document.add(Paragraph{from.no_card});
  if (!from.remarks.empty()) {
    document.add(Paragraph{"", "Remarks"});
    document.add(Items{from.remarks});
  }
}

}  // namespace hangtrue::report

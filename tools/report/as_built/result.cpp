// The first page: what was surveyed, whether the bolts may be tightened, level and sag beside their limits.
#include <algorithm>

#include "firmware-host/job/prediction.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/language.hpp"
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

Box do_not_rely(const AsBuiltWriter& of) {
  const fit::SelfTest<double>& test = of.fit.self_test;
  return {
      of.said("DO NOT RELY ON THE FIGURES OF THIS RECORD"),
      "",
      {of.fit.status == fit::Status::not_settled
           ? of.said("The fit did not settle: the readings contradict each other or the sheet too much.")
           : of.text("The readings do not agree with the predicted shape and with each other (chi-squared "
                     "{} with {} readings, p {}). The likelier causes are listed in the section on "
                     "uncertainty.",
                     of.plain(test.chi_squared, 1), test.degrees_of_freedom, of.p_words(test.p_value))},
      true};
}

// For who has it built, without a term of the trade.
std::string in_short(const AsBuiltWriter& of) {
  if (!of.holds || of.from.card == nullptr)
    return of.holds ? std::string()
                    : of.said("These readings do not tell how the run stands: read it again.");
  if (of.from.card->hold_point.answer == adjust::HoldPoint::read_again)
    return of.said(
        "These readings do not yet tell surely enough how level the run is to be: read it again before any "
        "final bolt is tight.");
  const auto& before = of.from.card->before;
  const double allowed_m = of.run.tolerance.level_m;
  const bool finished = of.fit.stage == of.finished();
  const std::string is = of.length(before.level_error_m), allowed = of.length(allowed_m),
                    chance = say::percent(before.chance, of.show);
  return finished ? of.text(
                        "Between its highest and its lowest point the run differs by {}; allowed are {}. The "
                        "chance that it keeps to that is {}.",
                        is, allowed, chance)
                  : of.text(
                        "Once finished and loaded, and left as it is now, the run will differ between its "
                        "highest and its lowest point by {}; allowed are {}. The chance that it keeps to "
                        "that is {}.",
                        is, allowed, chance);
}

void add_sag_rows(const AsBuiltWriter& of, Table& level) {
  if (!of.shape.solved() || !of.run.tolerance.span_ratio) return;
  const double ratio = *of.run.tolerance.span_ratio;
  for (const job::Span& span : job::spans(of.run, of.shape.solver(), of.finished()))
    if (!span.overhang)
      level.rows.push_back({{of.text("sag of the span {} to {}, {}", of.place(span.from_m),
                                     of.place(span.to_m), of.quoted_stage(of.finished())),
                             of.number(span.sag_m), "-", of.text("span / {}", of.plain(ratio, 0)),
                             of.limit_source(), of.said(span.ratio() >= ratio ? "within" : "OVER")}});
}

Table level_and_sag(const AsBuiltWriter& of) {
  const auto& tolerance = of.run.tolerance;
  Table level{of.said("Level and sag beside their limits"),
              columns(of.text("what|>{0}|>sigma {0}|limit|source of the limit|finding", of.unit())),
              {}};
  if (of.fit.stage != of.finished() || of.from.card == nullptr)
    level.rows.push_back(
        {{of.text("level error as surveyed, {}", of.quoted_stage(of.fit.stage)),
          of.number(level_error_as_surveyed(of)), "-", "-", "-", of.said("for information")}});
  if (of.from.card != nullptr) {
    const auto& before = of.from.card->before;
    level.rows.push_back(
        {{of.text("level error finished and loaded, {}, as things are", of.quoted_stage(of.finished())),
          of.number(before.level_error_m), of.sigma_number(before.drawn_sigma_m),
          of.length(tolerance.level_m), of.said("run sheet, tolerance"),
          of.said(before.level_error_m <= tolerance.level_m ? "within" : "OVER") +
              of.text("; chance to be within: {}", say::percent(before.chance, of.show))}});
  }
  add_sag_rows(of, level);
  level.note = of.said("Level error: highest minus lowest of both edges over all stations") +
               (tolerance.target_height_m
                    ? of.said("; with the sheet's target height, twice the largest departure from it.")
                    : std::string("."));
  return level;
}

}  // namespace

void AsBuiltWriter::title() {
  const book::SurveyRecord& record = last.booked.record;
  Title title{said("As-built record"), run.title, {}};
  title.facts = {
      {said("Survey"),
       text("{}, stage \"{}\", begun {} UTC", survey_name(record.begun.id, last.booked.naming),
            record.begun.stage, minute_of(record.time)) +
           (record.closed ? std::string() : said(", not closed"))},
      {said("Readings"),
       text("{} taken, {} set aside by hand, {} by the fit, {} used", record.readings,
            record.readings - record.kept, fit.self_test.beyond_gate, fit.self_test.degrees_of_freedom)},
      {said("Level book"), text("{}, entry {} to {}", from.record.book_name, record.number, record.last)}};
  add_seal(title, from.record, record.last, show);
  document.add(std::move(title));
}

void AsBuiltWriter::result() {
  document.add(Heading{said("Result")});
  if (const std::string words = in_short(*this); !words.empty())
    document.add(Paragraph{words, said("In short.")});
  if (!holds) document.add(do_not_rely(*this));
  if (from.card != nullptr) {
    const job::Card& card = *from.card;
    document.add(
        Box{said("May the final bolts be tightened? As far as level goes, as surveyed:"),
            upper(said(adjust::short_name(card.hold_point.answer))),
            {typeset(say::reason_words(run, card)), say::to_do_words(card.hold_point.answer, run.show)}});
  }
  document.add(level_and_sag(*this));
  add_signatures(document, last.booked.naming, run.show);
  if (from.card == nullptr) document.add(Paragraph{from.no_card});
  if (!from.remarks.empty()) {
    document.add(Paragraph{"", said("Remarks")});
    document.add(Items{from.remarks});
  }
}

}  // namespace hangtrue::report

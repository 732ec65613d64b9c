// Every reading, with its residual and whether it was used.
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/language.hpp"
#include "tools/report/as_built/writer.hpp"
#include "tools/report/common/kit.hpp"

namespace hangtrue::report {

namespace {

std::string face_words(int face) { return face == 1 ? "1" : "2"; }

/// In the unit of the column "unit".
std::string bare_value(const AsBuiltWriter& of, Channel channel, double value) {
  return channel == Channel::distance ? of.number(value) : of.slope_number(value);
}

/// Where it was corrected: by which entry, why, and what it was as it was taken.
std::string correction_words(const AsBuiltWriter& of, const book::BookedReading& booked,
                             const book::NumberedEntry& entry, const book::Corrected& corrected) {
  const sheet::ReadingEntry &is = booked.reading, &was = booked.taken.reading;
  std::vector<std::string> changed;
  if (was.at_m != is.at_m || was.mark != is.mark)
    changed.push_back(was.mark.empty() ? of.text("at {}", of.place(was.at_m)) : of.text("mark {}", was.mark));
  if (was.value != is.value) changed.push_back(of.text("value {}", bare_value(of, was.channel, was.value)));
  if (was.face != is.face) changed.push_back(of.text("face {}", face_words(was.face)));
  if (was.edge != is.edge) changed.push_back(of.text("{} edge", say::edge_words(was.edge, of.show)));
  if (was.set_up != is.set_up) changed.push_back(of.text("set-up {}", was.set_up));
  return of.text("; corrected by entry {}", entry.number) +
         (corrected.reason.empty() ? "" : ", \"" + corrected.reason + '"') +
         (changed.empty() ? std::string() : of.text(" (as taken: {})", listed(changed)));
}

std::string used_words(const AsBuiltWriter& of, const JudgedReading& each) {
  std::string words = of.said("yes");
  if (each.judgement == nullptr)
    words = of.text("no: {}", of.said("set aside by hand")) +
            (each.booked->reason.empty() ? "" : ", \"" + each.booked->reason + '"');
  else if (!each.used())
    words = of.text("no: {}", say::aside_words(*each.judgement, of.show));
  for (const book::NumberedEntry& entry : of.papers.entries)
    if (const auto* const corrected = std::get_if<book::Corrected>(&entry.entry.content))
      if (corrected->reading == each.booked->number)
        words += correction_words(of, *each.booked, entry, *corrected);
  return words;
}

Row row_of(const AsBuiltWriter& of, const JudgedReading& each) {
  const sheet::ReadingEntry& reading = each.reading();
  const bool distance = reading.channel == Channel::distance;
  const auto shown = [&](double value) { return bare_value(of, reading.channel, value); };
  return {{std::to_string(each.booked->number), reading.time.size() > 18 ? reading.time.substr(11, 8) : "",
           instrument_mark(of.kit, reading.instrument) + ' ' + say::channel_words(reading.channel, of.show) +
               (distance && !reading.set_up.empty() ? of.text(", set-up {}", reading.set_up) : std::string()),
           reading.mark.empty() ? of.place(reading.at_m) : of.text("mark {}", reading.mark),
           say::edge_words(reading.edge, of.show), distance ? "" : face_words(reading.face),
           shown(reading.value), shown(reading.sigma), each.judgement ? shown(each.judgement->residual) : "-",
           each.judgement ? of.plain(each.judgement->normalised, 2) : "-",
           distance ? of.unit() : of.slope_unit(), used_words(of, each)},
          false,
          !each.used()};
}

}  // namespace

void AsBuiltWriter::every_reading() {
  document.add(Heading{said("Every reading")});
  Table table{text("Readings of survey {}, in the order in which they were taken", survey_id()),
              columns(said(">entry|time|by|>at|edge|^face|>value|>sigma|>resi- dual|>norm.|unit|used?")),
              {}};
  table.size = 0.78;
  std::string group;
  for (const JudgedReading& each : readings) {
    const std::string day = each.reading().time.substr(0, 10);
    if (day != group) {
      group = day;
      table.rows.push_back({{day.empty() ? said("no time") : day + " (UTC)"}, true});
    }
    table.rows.push_back(row_of(*this, each));
  }
  table.note = said(
      "Residual: value less what the fit predicts, of readings not used as well. Norm.: residual over its "
      "own standard deviation. In italics: "
      "not used. The level book holds the raw samples behind each.");
  document.add(std::move(table));
}

}  // namespace hangtrue::report

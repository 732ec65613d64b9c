// Every reading, with its residual and whether it was used.
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/words.hpp"
#include "firmware-host/sheet/number.hpp"
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
    changed.push_back(was.mark.empty() ? "at " + of.place(was.at_m) : "mark " + was.mark);
  if (was.value != is.value) changed.push_back("value " + bare_value(of, was.channel, was.value));
  if (was.face != is.face) changed.push_back("face " + face_words(was.face));
  if (was.edge != is.edge) changed.push_back(std::string(say::word(was.edge)) + " edge");
  if (was.set_up != is.set_up) changed.push_back("set-up " + was.set_up);
  return "; corrected by entry " + std::to_string(entry.number) +
         (corrected.reason.empty() ? "" : ", \"" + corrected.reason + '"') +
         (changed.empty() ? "" : " (as taken: " + listed(changed) + ')');
}

std::string used_words(const AsBuiltWriter& of, const JudgedReading& each) {
  std::string text = "yes";
  if (each.judgement == nullptr)
    text = "no: set aside by hand" + (each.booked->reason.empty() ? "" : ", \"" + each.booked->reason + '"');
  else if (!each.used())
    text = "no: " + say::aside_words(*each.judgement);
  for (const book::NumberedEntry& entry : of.papers.entries)
    if (const auto* const corrected = std::get_if<book::Corrected>(&entry.entry.content))
      if (corrected->reading == each.booked->number)
        text += correction_words(of, *each.booked, entry, *corrected);
  return text;
}

Row row_of(const AsBuiltWriter& of, const JudgedReading& each) {
  const sheet::ReadingEntry& reading = each.reading();
  const bool distance = reading.channel == Channel::distance;
  const auto shown = [&](double value) { return bare_value(of, reading.channel, value); };
  return {{std::to_string(each.booked->number), reading.time.size() > 18 ? reading.time.substr(11, 8) : "",
           instrument_mark(of.kit, reading.instrument) + ' ' + std::string(say::word(reading.channel)) +
               (distance && !reading.set_up.empty() ? ", set-up " + reading.set_up : ""),
           reading.mark.empty() ? of.place(reading.at_m) : "mark " + reading.mark,
           std::string(say::word(reading.edge)), distance ? "" : face_words(reading.face),
           shown(reading.value), shown(reading.sigma), each.judgement ? shown(each.judgement->residual) : "-",
           each.judgement ? sheet::show_number(each.judgement->normalised, 2) : "-",
           distance ? of.unit() : of.slope_unit(), used_words(of, each)},
          false,
          !each.used()};
}

}  // namespace

void AsBuiltWriter::every_reading() {
  document.add(Heading{"Every reading"});
  Table table{"Readings of survey " + survey_id() + ", in the order in which they were taken",
              columns(">entry|time|by|>at|edge|^face|>value|>sigma|>resi- dual|>norm.|unit|used?"),
              {}};
  table.size = 0.78;
  std::string group;
  for (const JudgedReading& each : readings) {
    const std::string day = each.reading().time.substr(0, 10);
    if (day != group) {
      group = day;
      table.rows.push_back({{day.empty() ? "no time" : day + " (UTC)"}, true});
    }
    table.rows.push_back(row_of(*this, each));
  }
  table.note =
      "Residual: value less what the fit predicts, of readings not used as well. Norm.: residual over its "
      "own standard deviation. In italics: "
      "not used. The level book holds the raw samples behind each.";
  document.add(std::move(table));
}

}  // namespace hangtrue::report

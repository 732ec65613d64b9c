// What is stated, what goes in, how it is combined, and the fit's test of itself. Clauses of JCGM 100:2008 (GUM) from memory.
#include <algorithm>

#include "core/adjust/prospect.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/words.hpp"
#include "tools/report/as_built/writer.hpp"

namespace hangtrue::report {

namespace {

constexpr std::size_t kMostCauses = 8;

Table result_table(const AsBuiltWriter& of) {
  double worst = 0, worst_roll = 0;
  for (const auto& station : of.fit.stations) {
    worst = std::max(worst, station.height_less_mean_sigma_m);
    worst_roll = std::max(worst_roll, station.roll_sigma_rad);
  }
  Table table{of.said("Results"), columns(of.said("result|>value|>u|>U (k = 2)")), {}};
  if (of.from.card != nullptr) {
    const auto& before = of.from.card->before;
    table.rows.push_back(
        {{of.said("level error finished and loaded, as things are"), of.fine(before.level_error_m),
          of.sigma(before.drawn_sigma_m), of.sigma(2 * before.drawn_sigma_m)}});
  }
  table.rows.push_back({{of.said("height at a station, less the mean: the least certain station"),
                         of.said("see the table of stations"), of.sigma(worst), of.sigma(2 * worst)}});
  table.rows.push_back(
      {{of.said("roll at a station: the least certain station"), of.said("see the table of stations"),
        of.slope(worst_roll), of.slope(2 * worst_roll)}});
  table.note = of.text(
      "The level error is a difference of extremes and not quite normal: its u is that of {} draws from the "
      "fitted distribution, and so is the chance to be within tolerance.",
      adjust::kDraws);
  return table;
}

/// One reading of a channel, its repeats, and the channel's zero error.
void add_channel_rows(const AsBuiltWriter& of, const sheet::ReadingEntry& reading, Table& table) {
  const std::string channel = of.channel_name(reading);
  const job::ChannelId id{reading.instrument, reading.channel};
  const auto shown = [&](double u) {
    return reading.channel == Channel::distance ? of.sigma(u) : of.slope(u);
  };
  table.rows.push_back({{of.text("one reading, {}", channel), shown(reading.sigma), "B",
                         of.said("kit sheet (certificate or maker's statement)")}});
  for (const job::Repeats& repeats : of.fit.repeats)
    if (repeats.channel == id)
      table.rows.push_back({{of.said("    the same, from repeats"), shown(repeats.pooled_sigma), "A",
                             of.text("{} degrees of freedom; {}, p {}", repeats.degrees_of_freedom,
                                     of.said(say::word(repeats.verdict)), of.p_words(repeats.p_value))}});
  const auto& zeros = of.last.booked.checks.zeros;
  const auto checked =
      std::find_if(zeros.begin(), zeros.end(), [&](const job::CheckedZero& it) { return it.channel == id; });
  const sheet::KitChannel* const in_kit =
      of.kit != nullptr ? of.kit->find(reading.instrument, reading.channel) : nullptr;
  if (checked != zeros.end())
    table.rows.push_back({{of.text("zero error, {}", channel), shown(checked->sigma), "A, B",
                           of.text("zero check of {}, and how well it keeps", say::date_of(checked->time))}});
  else if (in_kit != nullptr && in_kit->zero_sigma > 0)
    table.rows.push_back({{of.text("zero error, {}", channel), shown(in_kit->zero_sigma), "B",
                           of.said("kit sheet; then both faces")}});
}

Table input_table(const AsBuiltWriter& of) {
  Table table{of.said("What goes in"), columns(of.said("input|>stated u|^type|evaluated from")), {}};
  std::vector<std::string> seen;
  for (const JudgedReading& each : of.readings) {
    const std::string channel = of.channel_name(each.reading());
    if (std::find(seen.begin(), seen.end(), channel) != seen.end()) continue;
    seen.push_back(channel);
    add_channel_rows(of, each.reading(), table);
  }
  const bool checked = !of.last.booked.checks.tilts.empty();
  table.rows.push_back(
      {{of.said("tilt of the laser datum"), of.slope(of.run.priors.datum_tilt_sigma), checked ? "A, B" : "B",
        of.said(checked ? "run sheet, and the datum check" : "run sheet")}});
  table.rows.push_back({{of.said("stiffness, springs, loads, bow, supports"), of.said("see above"), "B",
                         of.said("run sheet and, where there are, earlier surveys")}});
  return table;
}

}  // namespace

void AsBuiltWriter::uncertainty() {
  document.add(Heading{said("Uncertainty")});
  document.add(Paragraph{
      said("Every sigma in this record is a standard uncertainty u, one standard deviation, as in JCGM "
           "100:2008 (GUM). The expanded "
           "uncertainty U = k u has the coverage factor k = 2, which for a nearly normal distribution "
           "covers about 95 %. Bands in the "
           "drawings are 95 % bands (1.96 u)."),
      said("What is stated.")});
  document.add(result_table(*this));
  document.add(input_table(*this));
  document.add(Paragraph{
      said("Readings and what was assumed are fitted together by weighted least squares to the shape "
           "that beam theory predicts; the "
           "uncertainty of every result follows from the covariance of that fit, correlations included "
           "(GUM 5.2). Repeats (type A, GUM 4.2) "
           "test the stated uncertainties (type B, GUM 4.3); they do not replace them."),
      said("How it is combined.")});
  document.add(Paragraph{"", said("What the model assumes")});
  std::vector<std::string> assumed{
      said("A straight run that bends and turns elastically by small amounts (bending with shear, torsion "
           "with "
           "warping); members, springs and "
           "loads as in the run sheet, each with the uncertainty stated there."),
      said("Readings independent of each other and normal; a zero error that stays the same during a "
           "survey; a laser datum that is a plane."),
      said("Nothing moves and no load changes while a survey is read. Warmth bends the run only where the "
           "sheet says so.")};
  if (const std::string warmth = say::warmth_note(run, fit); !warmth.empty())
    assumed.push_back(typeset(warmth));
  document.add(Items{std::move(assumed)});
  document.add(
      Paragraph{text("chi-squared {} with {} readings used, p {}; largest normalised residual {}. ",
                     plain(fit.self_test.chi_squared, 1), fit.self_test.degrees_of_freedom,
                     p_words(fit.self_test.p_value), plain(fit.self_test.largest_normalised, 2)) +
                    said(holds ? "The fit holds: readings, predicted shape and stated uncertainties agree."
                               : "The fit does NOT hold: the uncertainties stated here are too small, or "
                                 "something is not as assumed."),
                said("The fit's test of itself:")});
  if (fit.causes.empty()) return;
  Table causes{said("Likelier causes"), columns(said(">weight|cause")), {}};
  for (const job::LikelierCause& cause : fit.causes)
    if (causes.rows.size() < kMostCauses)
      causes.rows.push_back({{say::percent(cause.weight, show), typeset(say::cause_words(cause, show))}});
  document.add(std::move(causes));
}

}  // namespace hangtrue::report

// The recheck report. Clauses of JCGM 100:2008 (GUM) from memory.
#include <algorithm>
#include <cmath>

#include "firmware-host/book/short_form.hpp"
#include "firmware-host/say/recheck.hpp"
#include "firmware-host/say/words.hpp"
#include "tools/report/reports.hpp"

namespace hangtrue::report {

namespace {

using job::QuantityKind;
using sheet::show_fine;
using sheet::show_place;

constexpr double k95 = 1.959964;  // of a normal distribution, two-sided

std::string shown(double value, QuantityKind kind, sheet::Show show) {
  if (kind == QuantityKind::slope) return say::fine_slope_words(value, show);
  if (kind == QuantityKind::share) return fixed(100 * value, 1) + " %";
  return show_fine(value, show);
}

struct Writer {
  const Rechecked& from;
  const sheet::RunSheet& run = from.run;
  const job::Recheck& recheck = from.recheck;
  Document document;

  [[nodiscard]] std::string fine(double length_m) const { return show_fine(length_m, run.show); }
  [[nodiscard]] std::string number(double length_m) const { return bare(fine(length_m)); }
  [[nodiscard]] std::string sigma(double length_m) const { return sigma_words(length_m, run.show); }
  [[nodiscard]] std::string shown_sigma(double value, QuantityKind kind) const {
    return kind == QuantityKind::height ? sigma(value) : shown(value, kind, run.show);
  }
  [[nodiscard]] std::string stage_name(int index) const { return run.stages.at(std::size_t(index)); }
  [[nodiscard]] book::Number last() const {
    return std::max(from.from.booked.record.last, from.to.booked.record.last);
  }

  void title();
  void answer();
  void shapes();
  void changes();
  void drift();
  void trends();
  void datum();
  void uncertainty();
};

void Writer::title() {
  Title title{"Recheck", run.title, {}};
  title.facts = {{"Earlier survey", recheck.from + ", stage \"" + stage_name(recheck.from_stage) + "\", " +
                                        minute_of(book::rfc3339(recheck.from_time)) + " UTC"},
                 {"Later survey", recheck.to + ", stage \"" + stage_name(recheck.to_stage) + "\", " +
                                      minute_of(book::rfc3339(recheck.to_time)) + " UTC"},
                 {"Compared", recheck.heights_compared ? "heights, shape, slope and roll"
                                                       : "shape, slope and roll; no heights"}};
  if (recheck.drift.days > 0) title.facts.push_back({"Between them", fixed(recheck.drift.days, 0) + " days"});
  add_seal(title, from.record, last());
  document.add(std::move(title));
}

void Writer::answer() {
  document.add(Heading{"What moved"});
  Box box{
      "Did the run move between the two surveys, beyond what was expected and what instruments and datum "
      "explain?",
      upper(std::string(say::word(recheck.answer))),
      {typeset(say::reason(run, recheck))},
      recheck.answer != job::RecheckAnswer::nothing_moved};
  document.add(std::move(box));
  if (!recheck.causes.empty()) {
    Table causes{"Causes named, with all of them together",
                 columns("cause|>change|>sigma|>significance p, corrected|would explain it as well"),
                 {}};
    for (const job::Cause& cause : recheck.causes) {
      std::string others;
      for (const std::string& other : say::change_names(cause.or_else))
        others += (others.empty() ? "" : ", ") + other;
      const job::Quantity& size = cause.change.change;
      causes.rows.push_back({{typeset(say::moved(cause, run.show)), shown(size.value, size.kind, run.show),
                              shown_sigma(size.sigma, size.kind), p_words(cause.change.p_corrected),
                              others.empty() ? "nothing else" : others}});
    }
    causes.note =
        "A support that sank has a negative rise. p: the chance of so large a change where nothing moved, "
        "corrected for looking at many (Sidak).";
    document.add(std::move(causes));
  }
  document.add(Paragraph{"chi-squared " + fixed(recheck.test.statistic, 1) + " with " +
                             std::to_string(recheck.test.degrees_of_freedom) + " degrees of freedom, p " +
                             p_words(recheck.test.p_value) +
                             "; movement is said below p = " + fixed(1 - job::kRecheckConfidence, 2) + '.',
                         "All changes together (congruence):"});
  Table level{"Level as things stand", columns("|>earlier|>later|>sigma|>tolerance, finished"), {}};
  level.rows.push_back(
      {{"level error at the stage surveyed", fine(recheck.level.from_m), fine(recheck.level.to_m),
        sigma(recheck.level.to_sigma_m),
        run.tolerance.level_m > 0 ? sheet::show_length(run.tolerance.level_m, run.show) : "none"}});
  document.add(std::move(level));
  std::vector<std::string> remarks = from.remarks;
  for (const std::string& each : say::remarks(recheck, run.show)) remarks.push_back(each);
  if (!remarks.empty()) {
    document.add(Paragraph{"", "Remarks"});
    document.add(Items{remarks});
  }
}

void Writer::shapes() {
  document.add(NewPage{230});
  document.add(Heading{"Before, now and the change"});
  if (recheck.stations.empty()) {
    document.add(Paragraph{"The two shapes could not be compared."});
    return;
  }
  Series before{"earlier, survey " + recheck.from, Stroke::dashed, Dot::none, false, 0.9, {}, {}},
      now{"later, survey " + recheck.to, Stroke::solid, Dot::none, false, 1.3, {}, {}};
  Series change{"change, with 95 % band", Stroke::solid, Dot::open, true, 1.3, {}, {}},
      expected{"expected by itself", Stroke::dash_dot, Dot::none, false, 0.9, {}, {}};
  Series roll{"change of roll, with 95 % band", Stroke::solid, Dot::open, true, 1.3, {}, {}};
  for (std::size_t i = 0; i < recheck.stations.size(); ++i) {
    const job::StationChange& station = recheck.stations[i];
    before.x.push_back(station.at_m);
    before.y.push_back(station.from_m);
    now.y.push_back(station.to_m);
    change.y.push_back(station.change_m);
    change.half.push_back(k95 * station.sigma_m);
    roll.y.push_back(station.roll_change_rad);
    roll.half.push_back(k95 * station.roll_sigma_rad);
    if (i < recheck.drift.height_m.size()) expected.y.push_back(recheck.drift.height_m[i]);
  }
  now.x = change.x = roll.x = before.x;
  const std::vector<Holding> holdings = holdings_at(run, recheck.to_stage);
  const std::string less = recheck.heights_compared ? "" : ", less its mean";
  Chart shape{"Shape before and now, seen from the side.", Quantity::height, run.show};
  shape.x_to = run.length_m;
  shape.states_exaggeration = true;
  shape.holdings = holdings;
  shape.height_pt = 140;
  shape.series = {before, now};
  document.add(std::move(shape));
  Chart moved{"Change of height" + less + '.', Quantity::height, run.show};
  moved.x_to = run.length_m;
  moved.states_exaggeration = true;
  moved.holdings = holdings;
  moved.height_pt = 140;
  moved.series = {change};
  if (recheck.drift.verdict != job::DriftVerdict::none_expected && expected.y.size() == change.y.size()) {
    expected.x = change.x;
    if (!recheck.heights_compared) {
      double mean = 0;
      for (const double y : expected.y) mean += y / double(expected.y.size());
      for (double& y : expected.y) y -= mean;
    }
    moved.series.push_back(expected);
  }
  document.add(std::move(moved));
  Chart turned{"Change of roll, positive where the left edge rose.", Quantity::slope, run.show};
  turned.x_to = run.length_m;
  turned.holdings = holdings;
  turned.height_pt = 100;
  turned.series = {roll};
  document.add(std::move(turned));
  document.add(Paragraph{holding_names(run), "Supports in the drawings:", 0.9});
  const std::string u = fine_unit(run.show);
  Table table{"Change at the stations, heights in " + u + less,
              columns(">at|>earlier|>later|>change|>sigma|>expected|>change of roll|>sigma"),
              {}};
  for (std::size_t i = 0; i < recheck.stations.size(); ++i) {
    const job::StationChange& station = recheck.stations[i];
    table.rows.push_back({{show_place(station.at_m, run.show), number(station.from_m), number(station.to_m),
                           number(station.change_m), bare(sigma(station.sigma_m)),
                           i < recheck.drift.height_m.size() ? number(recheck.drift.height_m[i]) : "-",
                           say::fine_slope_words(station.roll_change_rad, run.show),
                           say::fine_slope_words(station.roll_sigma_rad, run.show)}});
  }
  document.add(std::move(table));
}

void Writer::changes() {
  document.add(Heading{"Every change that was looked for"});
  Table table{"Each change tested by itself",
              columns("change|>value|>sigma|>p|>p, corrected|>smallest detectable|finding"),
              {}};
  for (const job::ChangeSeen& seen : recheck.seen) {
    const QuantityKind kind = seen.change.kind;
    const std::string name = say::change_name(seen.id);
    const bool named = std::any_of(recheck.causes.begin(), recheck.causes.end(),
                                   [&](const job::Cause& cause) { return cause.change.id == seen.id; });
    if (!seen.can_be_seen) {
      table.rows.push_back(
          {{name, "-", "-", "-", "-", "-", "cannot be seen with these readings"}, false, true});
      continue;
    }
    const bool significant = seen.p_corrected < 1 - job::kRecheckConfidence;
    table.rows.push_back(
        {{name, shown(seen.change.value, kind, run.show), shown_sigma(seen.change.sigma, kind),
          p_words(seen.p_value), p_words(seen.p_corrected), shown(seen.smallest_detectable, kind, run.show),
          named         ? "NAMED"
          : significant ? "explained by what is named"
                        : "no"}});
  }
  table.note =
      "Each as if it were the only change. Smallest detectable: a change of that size would be found in " +
      fixed(100 * job::kRecheckPower, 0) + " % of the cases, at a confidence of " +
      fixed(100 * job::kRecheckConfidence, 0) +
      " % corrected likewise; a smaller one can have happened unseen. Loads and stiffness as shares.";
  document.add(std::move(table));
  if (!recheck.cannot_be_told_apart.empty()) {
    document.add(Paragraph{"", "What these two surveys cannot tell apart"});
    std::vector<std::string> texts;
    for (const auto& each : recheck.cannot_be_told_apart) texts.push_back(typeset(say::twins(each)));
    document.add(Items{texts});
  }
}

void Writer::drift() {
  document.add(Heading{"What the run was expected to do by itself"});
  const job::ExpectedDrift& drift = recheck.drift;
  const std::string words = say::drift(drift, run.show);
  if (!words.empty()) document.add(Paragraph{typeset(words)});
  if (const std::vector<std::string> reasons = say::drift_reasons(drift); !reasons.empty()) {
    std::vector<std::string> texts;
    for (const std::string& each : reasons) texts.push_back(typeset(each));
    document.add(Items{texts});
  }
  if (drift.verdict == job::DriftVerdict::none_expected) {
    if (words.empty())
      document.add(Paragraph{
          "Nothing: no part that creeps under lasting load, and no rod that was read at another warmth."});
    return;
  }
  Table table{"Expected drift beside the measured",
              columns("|>expected|>sigma|>measured share of it|>sigma|finding"),
              {}};
  table.rows.push_back(
      {{"lowest point against the outer stations, " + fixed(drift.days, 0) + " days", fine(drift.sag_m),
        sigma(drift.sag_sigma_m),
        drift.verdict == job::DriftVerdict::cannot_tell ? "-" : fixed(100 * drift.share, 0) + " %",
        drift.verdict == job::DriftVerdict::cannot_tell ? "-" : fixed(100 * drift.share_sigma, 0) + " %",
        std::string(say::word(drift.verdict))}});
  table.note = "The measured share takes nothing of what was expected for granted. A negative height sinks.";
  document.add(std::move(table));
}

void Writer::trends() {
  if (recheck.trends.empty()) return;
  document.add(Heading{"Over all surveys"});
  for (const job::Trend& trend : recheck.trends) {
    if (trend.days.empty()) continue;
    const std::string what = say::trend_name(trend.of, run.show);
    document.add(Paragraph{typeset(say::trend(trend, run.show)), what + '.'});
    Chart chart{what + " over the days since the first survey; bars: 95 %.", Quantity::height, run.show};
    chart.over_days = true;
    chart.height_pt = 95;
    const double last = *std::max_element(trend.days.begin(), trend.days.end());
    double end = last;
    for (const auto& reached : {trend.reached_from_days, trend.reached_to_days})
      if (reached && std::isfinite(*reached)) end = std::max(end, std::min(*reached, 4 * last));
    chart.x_from = -0.03 * end;
    chart.x_to = 1.03 * end;
    Series points{"as found", Stroke::none, Dot::full, false, 0, trend.days, trend.value, {}};
    for (const double sigma : trend.sigma) points.half.push_back(k95 * sigma);
    if (points.half.size() != points.x.size()) points.half.clear();
    // The straight line through the weighted middle of the points.
    double weights = 0, middle_days = 0, middle = 0;
    for (std::size_t i = 0; i < trend.days.size(); ++i) {
      const double sigma = i < trend.sigma.size() && trend.sigma[i] > 0 ? trend.sigma[i] : 1;
      weights += 1 / (sigma * sigma);
      middle_days += trend.days[i] / (sigma * sigma);
      middle += trend.value[i] / (sigma * sigma);
    }
    middle_days /= weights;
    middle /= weights;
    Series line{"trend, with 95 % band", Stroke::solid, Dot::none, true, 0.9, {}, {}, {}};
    for (int k = 0; k <= 40; ++k) {
      const double day = end * k / 40, years = (day - middle_days) / 365.25;
      line.x.push_back(day);
      line.y.push_back(middle + trend.per_year * years);
      line.half.push_back(k95 * std::hypot(trend.per_year_sigma * years, 1 / std::sqrt(weights)));
    }
    chart.series = {line, points};
    if (trend.limit) chart.limits.push_back({*trend.limit, "limit " + fine(*trend.limit)});
    document.add(std::move(chart));
    Table table{
        what,
        columns(">a year|>sigma|>p that there is none|>limit|limit reached, days after the first survey"),
        {}};
    std::string reached = trend.past_limit ? "past it already" : "not in sight";
    if (trend.reached_from_days || trend.reached_to_days)
      reached = (trend.reached_from_days ? "from " + fixed(*trend.reached_from_days, 0)
                                         : std::string("from before these surveys")) +
                (trend.reached_to_days ? " to " + fixed(*trend.reached_to_days, 0) : ", or never");
    table.rows.push_back({{fine(trend.per_year), sigma(trend.per_year_sigma), p_words(trend.p_value),
                           trend.limit ? fine(*trend.limit) : "none", trend.limit ? reached : "-"}});
    if (!trend.goes_evenly())
      table.note = "A straight line does not describe these surveys well (p " + p_words(trend.misfit_p) +
                   "): do not extend it.";
    document.add(std::move(table));
  }
}

void Writer::datum() {
  document.add(Heading{"Datum, instruments and checks"});
  std::string marks;
  for (const std::string& mark : recheck.marks) marks += (marks.empty() ? "" : ", ") + mark;
  document.add(Paragraph{
      recheck.heights_compared
          ? "Heights of the two surveys are tied by stable marks off the run that both read: " + marks +
                ". They are taken to have stayed where they were, but each is tested as well. Where the "
                "laser stood, and how its plane was "
                "tilted, is found anew for every set-up and plays no part."
          : std::string("No stable mark off the run was read in both surveys: only what does not depend on "
                        "the datum is compared, that is shape, slope and "
                        "roll against the vertical. That one support sank, and that all others rose, is then "
                        "the same."),
      "Datum."});
  document.add(Paragraph{
      "Zero errors are found anew in every survey: a zero that drifted in between is no movement of the run.",
      "Zero errors."});
  for (const Papers* papers : {&from.from, &from.to}) {
    document.add(Heading{"Kit of survey " + papers->booked.record.begun.id + ", " +
                             minute_of(papers->booked.record.time).substr(0, 10),
                         2});
    add_kit(document, run, *papers, from.record);
  }
}

void Writer::uncertainty() {
  document.add(Heading{"Uncertainty"});
  double worst = 0;
  for (const job::StationChange& station : recheck.stations) worst = std::max(worst, station.sigma_m);
  document.add(
      Paragraph{"Every sigma in this report is a standard uncertainty u, one standard deviation, as in JCGM "
                "100:2008 (GUM). The expanded uncertainty U = k u "
                "has the coverage factor k = 2, about 95 %. Bands in the drawings are 95 % bands (1.96 u). "
                "The change of height at the least certain "
                "station has u = " +
                    sigma(worst) + ", U = " + sigma(2 * worst) + '.',
                "What is stated."});
  document.add(
      Paragraph{"The later survey is fitted from what the earlier one taught, with all changes as unknowns; "
                "the uncertainty of each change follows from the "
                "covariance of that fit, correlations included (GUM 5.2). It rests on the stated uncertainty "
                "of the readings (type B, GUM 4.3), which repeats "
                "test (type A, GUM 4.2), and on the run sheet.",
                "How it is combined."});
  document.add(Paragraph{"", "What the comparison assumes"});
  document.add(
      Items{{"The same run, with the members, supports and loads of the sheet; loads differ between the "
             "surveys only as the stages say.",
             "A change happened between the surveys, none while one was read.",
             "Readings independent of each other and normal; what was expected of creep and warmth is known "
             "to its stated sigma."}});
}

}  // namespace

Document recheck_report(const Rechecked& from, Paper paper) {
  Writer writer{from};
  writer.document = begin("Recheck", from.run, "survey " + from.recheck.from + " to " + from.recheck.to,
                          from.record, paper);
  writer.title();
  writer.answer();
  writer.shapes();
  writer.changes();
  writer.drift();
  writer.trends();
  writer.datum();
  writer.uncertainty();
  writer.document.add(Heading{"Cautions"});
  add_cautions(writer.document);
  writer.document.add(Heading{"Seal and level book"});
  add_record(writer.document, from.record, writer.last());
  return std::move(writer.document);
}

}  // namespace hangtrue::report

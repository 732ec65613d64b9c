// The as-built record. Clauses of JCGM 100:2008 (GUM) from memory.
#include <algorithm>
#include <cmath>
#include <map>

#include "core/quantity/units.hpp"
#include "firmware-host/book/short_form.hpp"
#include "firmware-host/job/prediction.hpp"
#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/history.hpp"
#include "firmware-host/say/words.hpp"
#include "tools/report/fitted_shape.hpp"
#include "tools/report/reports.hpp"

namespace hangtrue::report {

namespace {

using sheet::show_couple;
using sheet::show_fine;
using sheet::show_force;
using sheet::show_length;
using sheet::show_mass;
using sheet::show_place;

constexpr double k95 = 1.959964;  // of a normal distribution, two-sided

/// Everything that the sections below draw on.
struct Writer {
  const AsBuilt& from;
  const sheet::RunSheet& run = from.run;
  const job::FittedSurvey& last = from.history.last();
  const Papers& papers = from.papers.back();
  const sheet::KitSheet* kit = papers.kit ? &*papers.kit : nullptr;
  const job::FitReport& fit = last.session->report();
  const FittedShape shape{run, fit};
  const bool holds = fit.status == fit::Status::settled && fit.self_test.outcome == fit::TestOutcome::holds;
  double mean_m = 0;
  Document document;

  explicit Writer(const AsBuilt& input) : from(input) {
    for (const auto& station : fit.stations) mean_m += station.height_m / double(fit.stations.size());
  }

  [[nodiscard]] std::string fine(double length_m) const { return show_fine(length_m, run.show); }
  [[nodiscard]] std::string number(double length_m) const { return bare(fine(length_m)); }
  [[nodiscard]] std::string sigma(double length_m) const { return sigma_words(length_m, run.show); }
  [[nodiscard]] std::string place(double x_m) const { return show_place(x_m, run.show); }
  [[nodiscard]] std::string slope(double rad) const { return say::fine_slope_words(rad, run.show); }
  [[nodiscard]] std::string stage_name(int index) const { return run.stages[std::size_t(index)]; }
  [[nodiscard]] const fit::Estimate<double>* estimate(const job::UnknownId& id) const {
    for (const job::UnknownEstimate& each : fit.parameters)
      if (each.id == id) return &each.estimate;
    return nullptr;
  }
  [[nodiscard]] std::string limit_source() const {
    const std::string& source = run.tolerance.span_ratio_source;
    return source.empty() ? "not stated in the sheet" : source;
  }
  [[nodiscard]] int finished() const { return std::max(fit.stage, run.tolerance.stage); }

  void title();
  void result();
  void hung();
  void supports();
  void instruments();
  void set_ups();
  void drawings();
  void levels();
  void forces();
  void moves();
  void learned();
  void taught();
  void uncertainty();
  void readings();
};

double level_error_now(const Writer& of) {
  double low = 0, high = 0;
  bool first = true;
  for (const auto& station : of.fit.stations)
    for (const double across : {of.run.width_m / 2, -of.run.width_m / 2}) {
      const double height = station.height_m + station.roll_rad * across;
      low = first ? height : std::min(low, height);
      high = first ? height : std::max(high, height);
      first = false;
    }
  return high - low;
}

void Writer::title() {
  const book::SurveyRecord& record = last.booked.record;
  Title title{"As-built record", run.title, {}};
  title.facts = {{"Survey", record.begun.id + ", stage \"" + record.begun.stage + "\", begun " +
                                minute_of(record.time) + " UTC" + (record.closed ? "" : ", not closed")},
                 {"Readings", std::to_string(record.readings) + " taken, " +
                                  std::to_string(record.readings - record.kept) + " set aside by hand, " +
                                  std::to_string(fit.self_test.beyond_gate) + " by the fit, " +
                                  std::to_string(fit.self_test.degrees_of_freedom) + " used"},
                 {"Level book", from.record.book_name + ", entry " + std::to_string(record.number) + " to " +
                                    std::to_string(record.last)}};
  add_seal(title, from.record, record.last);
  document.add(std::move(title));
}

void Writer::result() {
  document.add(Heading{"Result"});
  if (!holds)
    document.add(
        Box{"DO NOT RELY ON THE FIGURES OF THIS RECORD",
            "",
            {fit.status == fit::Status::not_settled
                 ? "The fit did not settle: the readings contradict each other or the sheet too much."
                 : "The readings do not agree with the predicted shape and with each other (chi-squared " +
                       fixed(fit.self_test.chi_squared, 1) + " with " +
                       std::to_string(fit.self_test.degrees_of_freedom) + " readings, p " +
                       p_words(fit.self_test.p_value) +
                       "). The likelier causes are listed in the section on "
                       "uncertainty."},
            true});
  if (from.card != nullptr) {
    const job::Card& card = *from.card;
    document.add(Box{"May the final bolts be tightened? As far as level goes, as surveyed:",
                     upper(std::string(adjust::short_name(card.hold_point.answer))),
                     {typeset(say::reason_words(run, card)), say::to_do_words(card.hold_point.answer)}});
  }
  const std::string u = fine_unit(run.show);
  Table level{"Level and sag beside their limits",
              columns("what|>" + u + "|>sigma " + u + "|limit|source of the limit|finding"),
              {}};
  if (fit.stage != finished() || from.card == nullptr)
    level.rows.push_back({{"level error as surveyed, stage \"" + stage_name(fit.stage) + "\"",
                           number(level_error_now(*this)), "-", "-", "-", "for information"}});
  if (from.card != nullptr) {
    const auto& before = from.card->before;
    const bool within = before.level_error_m <= run.tolerance.level_m;
    level.rows.push_back(
        {{"level error finished and loaded, stage \"" + stage_name(finished()) + "\", as things are",
          number(before.level_error_m), bare(sigma(before.drawn_sigma_m)),
          show_length(run.tolerance.level_m, run.show), "run sheet, tolerance",
          std::string(within ? "within" : "OVER") +
              "; chance to be within: " + say::percent(before.chance)}});
  }
  if (shape.solved() && run.tolerance.span_ratio)
    for (const job::Span& span : job::spans(run, shape.solver(), finished()))
      if (!span.overhang)
        level.rows.push_back(
            {{"sag of the span " + place(span.from_m) + " to " + place(span.to_m) + ", stage \"" +
                  stage_name(finished()) + '"',
              number(span.sag_m), "-", "span / " + fixed(*run.tolerance.span_ratio, 0), limit_source(),
              span.ratio() >= *run.tolerance.span_ratio ? "within" : "OVER"}});
  level.note = "Level error: highest minus lowest of both edges over all stations" +
               std::string(run.tolerance.target_height_m
                               ? "; with the sheet's target height, twice the largest departure from it."
                               : ".");
  document.add(std::move(level));
  if (from.card == nullptr) document.add(Paragraph{from.no_card});
  if (!from.remarks.empty()) {
    document.add(Paragraph{"", "Remarks"});
    document.add(Items{from.remarks});
  }
}

void Writer::hung() {
  document.add(Heading{"What was hung"});
  document.add(
      Facts{{{"Run", run.title},
             {"Length, width", place(run.length_m) + ", " + place(run.width_m)},
             {"Run sheet", papers.run_file},
             {"Stations", std::to_string(run.stations_m.size()) + ", from " + place(run.stations_m.front()) +
                              " to " + place(run.stations_m.back())}}});
  Table members{"Members", columns("member|>from|>to|material|>depth|>bending stiffness EI|carries"), {}};
  for (const sheet::MemberEntry& member : run.members)
    members.rows.push_back(
        {{member.name, place(member.from_m), place(member.to_m),
          member.material.empty() ? "-" : member.material,
          member.depth_m > 0 ? show_length(member.depth_m, run.show) : "given section",
          run.show == sheet::Show::metric
              ? fixed(member.bending_N_m2 * 1e-3, 1) + " kN m\xC2\xB2"
              : fixed(member.bending_N_m2 / (kPoundForce_N * kInch_m * kInch_m) * 1e-6, 2) +
                    " \xC3\x97 10\xE2\x81\xB6 lbf in\xC2\xB2",
          member.as_one ? "as one with others" : "by itself"}});
  document.add(std::move(members));
  Table loads{"Loads", columns("load|>mass|>sigma|>lasting share"), {}};
  for (const sheet::LoadEntry& load : run.loads)
    loads.rows.push_back(
        {{load.name + (load.is_member ? " (own weight)" : ""),
          load.weight_N > 0 ? show_mass(load.weight_N / kGravity_m_per_s2, run.show) : "couple or warmth",
          fixed(100 * load.sigma, 1) + " %", fixed(100 * load.permanent_share, 0) + " %"}});
  document.add(std::move(loads));
  Table stages{"Stages, in order of the work", columns("stage|held by|loads on|surveys"), {}};
  for (std::size_t s = 0; s < run.stages.size(); ++s) {
    std::string held, on, surveys;
    const auto list = [](std::string& text, const std::string& name) {
      text += (text.empty() ? "" : ", ") + name;
    };
    for (std::size_t i = 0; i < run.supports.size(); ++i)
      if (run.beam_stages[s].lists_support(int(i))) list(held, run.supports[i].name);
    for (std::size_t i = 0; i < run.loads.size(); ++i)
      if (run.beam_stages[s].lists_load(int(i))) list(on, run.loads[i].name);
    for (const job::FittedSurvey& survey : from.history.surveys)
      if (survey.stage == int(s)) list(surveys, survey.booked.record.begun.id);
    stages.rows.push_back({{run.stages[s] + (int(s) == run.tolerance.stage ? " (finished)" : ""), held, on,
                            surveys.empty() ? "-" : surveys}});
  }
  document.add(std::move(stages));
}

void Writer::supports() {
  document.add(Heading{"Supports and stable marks"});
  Table table{"Supports", columns("|support|>at|>rise|>pitch|>roll|holds|adjusted by|>rating"), {}};
  const auto stiffness = [&](const beam::Restraint<double>& restraint, bool turning) -> std::string {
    if (!restraint.held) return "free";
    std::string text = "rigid";
    if (restraint.compliance > 0) {
      const double k = 1 / restraint.compliance;
      if (run.show == sheet::Show::metric)
        text = turning ? fixed(k * 1e-3, 1) + " kN m/rad" : fixed(k * 1e-6, 1) + " kN/mm";
      else
        text = turning ? fixed(k / (kPoundForce_N * kInch_m), 0) + " lbf in/rad"
                       : fixed(k / kPoundForce_N * kInch_m, 0) + " lbf/in";
    }
    return text + (restraint.pulled_home ? ", pulled home" : "");
  };
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    const beam::Support<double>& support = run.beam_supports[i];
    const sheet::SupportEntry& entry = run.supports[i];
    const sheet::Adjust& adjust = entry.adjust;
    std::string by = "nothing";
    const std::string travel =
        ", " + show_length(adjust.rise_from_m, run.show) + " to " + show_length(adjust.rise_to_m, run.show);
    if (adjust.by == sheet::AdjustBy::shims)
      by = "shims from \"" + run.stocks[std::size_t(adjust.stock)].name + '"' + travel +
           (adjust.pitch ? ", pitch" : "") + (adjust.roll ? ", roll" : "");
    if (adjust.by == sheet::AdjustBy::rod)
      by = "rod, " + fine(adjust.thread_m) + " a turn, steps of " + sheet::show_turns(adjust.step_turns) +
           travel;
    if (adjust.by == sheet::AdjustBy::lift)
      by = "lift, steps of " + show_length(adjust.step_m, run.show) + travel;
    table.rows.push_back({{letter(i), entry.name, place(support.at_m), stiffness(support.rise, false),
                           stiffness(support.pitch, true), stiffness(support.roll, true),
                           support.holds == beam::Holds::both   ? "both ways"
                           : support.holds == beam::Holds::push ? "pushes only"
                                                                : "pulls only",
                           by, entry.rating_N ? show_force(*entry.rating_N, run.show) : "none stated"}});
  }
  document.add(std::move(table));
  if (run.marks.empty()) {
    document.add(Paragraph{
        "The run sheet names none. Without one, a later recheck can compare shape, slope and roll, but not "
        "heights.",
        "Stable marks."});
    return;
  }
  Table marks{"Stable marks off the run", columns("mark|>at|>height found|>sigma|>readings"), {}};
  for (const sheet::Mark& mark : run.marks) {
    const auto* const found = estimate({job::UnknownOf::mark_height, mark.name});
    const auto read = std::count_if(
        last.booked.readings.begin(), last.booked.readings.end(),
        [&](const book::BookedReading& each) { return each.kept && each.reading.mark == mark.name; });
    const bool known = found != nullptr && read > 0;
    marks.rows.push_back({{mark.name, place(mark.at_m), known ? fine(found->value - mean_m) : "not read",
                           known ? sigma(found->sigma) : "-", std::to_string(read)}});
  }
  marks.note = "Heights are above the run's mean height; sigma includes the common height of run and marks.";
  document.add(std::move(marks));
}

void Writer::instruments() {
  document.add(Heading{"Instruments, calibration and checks"});
  add_kit(document, run, papers, from.record);
}

void Writer::set_ups() {
  document.add(Heading{"Set-ups and readings"});
  std::map<std::string, int> distances;
  std::vector<std::string> order;
  for (const book::BookedReading& each : last.booked.readings) {
    if (each.reading.channel != Channel::distance) continue;
    if (distances[each.reading.set_up]++ == 0) order.push_back(each.reading.set_up);
  }
  Table table{"Set-ups of the laser datum",
              columns("set-up|>stands at|>distances read|>datum height|>sigma|>datum tilt|>sigma"),
              {}};
  for (const std::string& name : order) {
    std::optional<double> stands;
    for (const book::SetUp& set_up : last.booked.set_ups)
      if (set_up.name == name && set_up.stands_at_m) stands = set_up.stands_at_m;
    const auto* const height = estimate({job::UnknownOf::datum_height, name});
    const auto* const tilt = estimate({job::UnknownOf::datum_tilt, name});
    table.rows.push_back({{name, stands ? place(*stands) : "not said", std::to_string(distances[name]),
                           height ? fine(height->value - mean_m) : "-", height ? sigma(height->sigma) : "-",
                           tilt ? slope(tilt->value) : "-", tilt ? slope(tilt->sigma) : "-"}});
  }
  table.note =
      "Heights are above the run's mean height, tilts positive where the plane climbs along the run; both "
      "are unknowns of "
      "the fit, so that where a laser stood does not matter. The sigma of a datum height includes the common "
      "height.";
  if (order.empty())
    document.add(Paragraph{"No distance was read.", "Set-ups."});
  else
    document.add(std::move(table));

  struct Count {
    int taken = 0, kept = 0, beyond = 0, by_hand = 0;
    double worst = 0;
  };
  std::map<std::string, Count> counts;
  std::vector<std::string> channels;
  std::size_t judged = 0;
  for (const book::BookedReading& each : last.booked.readings) {
    const std::string channel = each.reading.instrument + ' ' + std::string(say::word(each.reading.channel));
    if (!counts.contains(channel)) channels.push_back(channel);
    Count& count = counts[channel];
    ++count.taken;
    if (!each.kept) {
      ++count.by_hand;
      continue;
    }
    const fit::Judgement<double>& judgement = fit.judgements.at(judged++);
    if (judgement.verdict == fit::Verdict::kept) {
      ++count.kept;
      count.worst = std::max(count.worst, std::abs(judgement.normalised));
    } else {
      ++count.beyond;
    }
  }
  Table summary{
      "Readings by channel",
      columns("channel|>taken|>used|>set aside by hand|>beyond the gate|>largest normalised residual, used"),
      {}};
  for (const std::string& channel : channels) {
    const Count& count = counts[channel];
    summary.rows.push_back(
        {{channel, std::to_string(count.taken), std::to_string(count.kept), std::to_string(count.by_hand),
          std::to_string(count.beyond), fixed(count.worst, 2)}});
  }
  summary.note = "Every reading with its residual is listed in the last section.";
  document.add(std::move(summary));
  if (!last.booked.notes.empty()) {
    document.add(Paragraph{"", "Notes made on the job"});
    document.add(Items{last.booked.notes});
  }
}

void Writer::drawings() {
  document.add(NewPage{230});
  document.add(Heading{"Shape"});
  const double half_width = run.width_m / 2;
  Series fitted{"fitted height less its mean, with 95 % band", Stroke::solid, Dot::none, true, 1.3, {}, {}};
  Series left{"left edge", Stroke::dashed, Dot::none, false, 0.8, {}, {}},
      right{"right edge", Stroke::dotted, Dot::none, false, 1.1, {}, {}};
  Series roll{"fitted roll, with 95 % band", Stroke::solid, Dot::none, true, 1.3, {}, {}};
  for (const auto& station : fit.stations) {
    const double height = station.height_m - mean_m;
    fitted.x.push_back(station.at_m);
    fitted.y.push_back(height);
    fitted.half.push_back(k95 * station.height_less_mean_sigma_m);
    left.y.push_back(height + station.roll_rad * half_width);
    right.y.push_back(height - station.roll_rad * half_width);
    roll.y.push_back(station.roll_rad);
    roll.half.push_back(k95 * station.roll_sigma_rad);
  }
  left.x = right.x = roll.x = fitted.x;

  Series distances{"distance readings, with 95 % bars", Stroke::none, Dot::open, false, 0, {}, {}},
      aside{"set aside", Stroke::none, Dot::cross, false, 0, {}, {}};
  Series rolls{"roll readings, with 95 % bars", Stroke::none, Dot::open, false, 0, {}, {}},
      rolls_aside{"set aside", Stroke::none, Dot::cross, false, 0, {}, {}};
  Series residual[3] = {{"slope", Stroke::none, Dot::open, false, 0, {}, {}},
                        {"roll", Stroke::none, Dot::full, false, 0, {}, {}},
                        {"distance", Stroke::none, Dot::square, false, 0, {}, {}}};
  Series residual_aside{"set aside by the gate", Stroke::none, Dot::cross, false, 0, {}, {}};
  std::size_t judged = 0;
  for (const book::BookedReading& each : last.booked.readings) {
    if (!each.kept) continue;
    const fit::Judgement<double>& judgement = fit.judgements.at(judged++);
    const bool kept = judgement.verdict == fit::Verdict::kept;
    const sheet::ReadingEntry& reading = each.reading;
    const auto push = [&](Series& series, double y) {
      series.x.push_back(reading.at_m);
      series.y.push_back(y);
      series.half.push_back(k95 * reading.sigma);
    };
    Series& judged_series = kept ? residual[int(reading.channel)] : residual_aside;
    if (reading.at_m >= 0 && reading.at_m <= run.length_m) {
      judged_series.x.push_back(reading.at_m);
      judged_series.y.push_back(std::clamp(judgement.normalised, -8.0, 8.0));
    }
    if (!shape.solved()) continue;
    const double across = int(reading.edge) * half_width;
    if (reading.channel == Channel::distance && reading.mark.empty())
      push(kept ? distances : aside,
           shape.solver().height(fit.stage, reading.at_m, across) - mean_m + judgement.residual);
    // The residual is of the value as read: face 2 sees the opposite.
    if (reading.channel == Channel::roll)
      push(kept ? rolls : rolls_aside,
           shape.solver().at(fit.stage, reading.at_m).roll_rad + reading.face * judgement.residual);
  }
  const std::vector<Holding> holdings = holdings_at(run, fit.stage);

  const bool is_finished = fit.stage == finished();
  // The tolerance as a band of its own height about the middle of what is to lie in it.
  const auto tolerance_band = [&](const std::vector<double>& a, const std::vector<double>& b) {
    std::vector<Limit> limits;
    if (!(run.tolerance.level_m > 0) || a.empty()) return limits;
    const double high =
        std::max(*std::max_element(a.begin(), a.end()), *std::max_element(b.begin(), b.end()));
    const double low = std::min(*std::min_element(a.begin(), a.end()), *std::min_element(b.begin(), b.end()));
    const double middle =
        run.tolerance.target_height_m ? *run.tolerance.target_height_m - mean_m : (high + low) / 2;
    limits.push_back(
        {middle + run.tolerance.level_m / 2, "tolerance " + show_length(run.tolerance.level_m, run.show)});
    limits.push_back({middle - run.tolerance.level_m / 2, ""});
    return limits;
  };
  Chart profile{"Shape as surveyed, stage \"" + stage_name(fit.stage) + "\", seen from the side.",
                Quantity::height, run.show};
  profile.x_to = run.length_m;
  profile.states_exaggeration = true;
  profile.holdings = holdings;
  profile.height_pt = 190;
  if (is_finished) profile.limits = tolerance_band(left.y, right.y);
  profile.series = {fitted, left, right};
  if (!distances.x.empty()) profile.series.push_back(distances);
  if (!aside.x.empty()) profile.series.push_back(aside);
  document.add(profile);

  if (!is_finished && from.card != nullptr) {
    const job::Card& card = *from.card;
    double mean = 0;
    for (std::size_t i = 0; i < card.left_before_m.size(); ++i)
      mean += (card.left_before_m[i] + card.right_before_m[i]) / 2 / double(card.left_before_m.size());
    Chart finish{"Finished and loaded, stage \"" + stage_name(finished()) + "\", as things are.",
                 Quantity::height, run.show};
    finish.x_to = run.length_m;
    finish.states_exaggeration = true;
    finish.height_pt = 150;
    finish.holdings = holdings_at(run, finished());
    Series middle{"middle", Stroke::solid, Dot::none, false, 1.3, run.stations_m, {}};
    Series finish_left{"left edge", Stroke::dashed, Dot::none,         false,
                       0.8,         run.stations_m, card.left_before_m};
    Series finish_right{"right edge", Stroke::dotted, Dot::none,          false,
                        1.1,          run.stations_m, card.right_before_m};
    for (std::size_t i = 0; i < card.left_before_m.size(); ++i) {
      finish_left.y[i] -= mean;
      finish_right.y[i] -= mean;
      middle.y.push_back((finish_left.y[i] + finish_right.y[i]) / 2);
    }
    finish.limits = tolerance_band(finish_left.y, finish_right.y);
    if (run.tolerance.target_height_m)
      for (Limit& limit : finish.limits) limit.y += mean_m - mean;
    finish.series = {middle, finish_left, finish_right};
    document.add(std::move(finish));
  }
  Chart turning{"Roll, positive where the left edge is high.", Quantity::slope, run.show};
  turning.x_to = run.length_m;
  turning.height_pt = 110;
  turning.holdings = holdings;
  turning.series = {roll};
  if (!rolls.x.empty()) turning.series.push_back(rolls);
  if (!rolls_aside.x.empty()) turning.series.push_back(rolls_aside);
  document.add(std::move(turning));

  document.add(Paragraph{holding_names(run), "Supports in the drawings:", 0.9});

  const std::string u = fine_unit(run.show);
  Table stations{
      "Shape at the stations, " + u + " (roll: " + (run.show == sheet::Show::metric ? "mm/m" : "in/ft") + ")",
      columns(">at|>height|>sigma|>left edge|>right edge|>roll|>sigma|>of it tilt and height|>bent by "
              "supports|>sag|>bow|>to come"),
      {}};
  for (std::size_t i = 0; i < fit.stations.size(); ++i) {
    const auto& station = fit.stations[i];
    stations.rows.push_back(
        {{place(station.at_m), number(station.height_m - mean_m),
          bare(sigma(station.height_less_mean_sigma_m)), number(left.y[i]), number(right.y[i]),
          bare(slope(station.roll_rad)), bare(slope(station.roll_sigma_rad)),
          number(station.tilt_and_height_m - mean_m), number(station.bent_by_supports_m),
          number(station.sag_m), number(station.bow_m), number(station.sag_to_come_m)}});
  }
  stations.note =
      "Heights are less their mean over the stations; sigma is one standard deviation of that. Tilt is what "
      "shims cure, sag they do "
      "not; bow is as made; to come is what later stages add.";
  document.add(std::move(stations));

  Chart test{"Normalised residuals of the readings along the run; the gate is at \xC2\xB1 4.",
             Quantity::number, run.show};
  test.x_to = run.length_m;
  test.height_pt = 85;
  for (Series& each : residual)
    if (!each.x.empty()) test.series.push_back(each);
  if (!residual_aside.x.empty()) test.series.push_back(residual_aside);
  test.limits = {{4, "gate"}, {-4, ""}};
  document.add(std::move(test));
}

void Writer::levels() {
  document.add(Heading{"Sag beside its limit"});
  if (!shape.solved()) {
    document.add(Paragraph{"The run could not be solved at what was fitted."});
    return;
  }
  const job::SolvedRun predicted(run);
  const std::string u = fine_unit(run.show);
  double widest = 0;
  for (const auto& station : fit.stations) widest = std::max(widest, station.height_less_mean_sigma_m);
  Table table{
      "Sag of each span below the line between its supports",
      columns("span|>sheet " + u + "|>fitted " + u + "|>span / sag|limit|source of the limit|finding"),
      {}};
  for (const int at : {fit.stage, finished()}) {
    if (at == finished() && table.rows.size() > 0 && fit.stage == finished()) continue;
    table.rows.push_back(
        {{"stage \"" + stage_name(at) + '"' + (at == fit.stage ? ", as surveyed" : ", as it is to become")},
         true});
    const std::vector<job::Span> now = job::spans(run, shape.solver(), at);
    const std::vector<job::Span> sheet =
        predicted.trouble() ? std::vector<job::Span>{} : job::spans(run, predicted.solver(), at);
    for (std::size_t i = 0; i < now.size(); ++i) {
      const job::Span& span = now[i];
      const bool limited = run.tolerance.span_ratio && !span.overhang,
                 sags = span.sag_m > 0 && std::isfinite(span.ratio());
      table.rows.push_back({{std::string(span.overhang ? "beyond the support, " : "") + place(span.from_m) +
                                 " to " + place(span.to_m),
                             sheet.size() == now.size() ? number(sheet[i].sag_m) : "-", number(span.sag_m),
                             sags ? fixed(std::min(span.ratio(), 99999.0), 0) : "-",
                             limited ? "span / " + fixed(*run.tolerance.span_ratio, 0) : "none",
                             limited ? limit_source() : "-",
                             !limited                                    ? "for information"
                             : span.ratio() >= *run.tolerance.span_ratio ? "within"
                                                                         : "OVER"}});
    }
  }
  table.note =
      "Sag as fitted includes bow and what supports that stand high or low bend into the span; beyond the "
      "last support it is how far the end "
      "lies below that support, so that tilt counts; a negative one rises. The largest standard uncertainty "
      "of a height, less the mean, is " +
      sigma(widest) + ".";
  document.add(std::move(table));
}

void Writer::forces() {
  document.add(Heading{"What the supports carry"});
  if (!shape.solved()) return;
  const job::SolvedRun predicted(run);
  Table table{"Forces on the run, up positive",
              columns("|support|>sheet|>fitted|>couple|>torque|>rating|>of rating"),
              {}};
  for (const int at : {fit.stage, finished()}) {
    if (at == finished() && !table.rows.empty() && fit.stage == finished()) continue;
    table.rows.push_back(
        {{"stage \"" + stage_name(at) + '"' + (at == fit.stage ? ", as surveyed" : ", as it is to become")},
         true});
    for (std::size_t i = 0; i < run.supports.size(); ++i) {
      if (!run.beam_stages[std::size_t(at)].lists_support(int(i))) continue;
      const beam::SupportAction<double> now = shape.solver().support(at, int(i));
      const std::optional<double> rating = run.supports[i].rating_N;
      table.rows.push_back(
          {{letter(i), run.supports[i].name,
            predicted.trouble() ? "-" : show_force(predicted.solver().support(at, int(i)).force_N, run.show),
            now.engaged ? show_force(now.force_N, run.show) : "lifted: carries nothing",
            show_couple(now.moment_Nm, run.show), show_couple(now.torque_Nm, run.show),
            rating ? show_force(*rating, run.show) : "none stated",
            rating ? fixed(100 * std::abs(now.force_N) / *rating, 0) + " %" +
                         (std::abs(now.force_N) > *rating ? " OVER" : "")
                   : "-"}});
    }
  }
  table.note =
      "Found from shape, stiffness and loads, not weighed; shown to help, no design verification. Couple: "
      "positive in the sense of a climbing "
      "run; torque: positive where it lifts the left edge.";
  document.add(std::move(table));
}

void Writer::moves() {
  document.add(Heading{"Moves made and hold-point answers"});
  bool any = false;
  for (std::size_t c = 0; c < from.history.surveys.size(); ++c) {
    const job::BookedSurvey& booked = from.history.surveys[c].booked;
    int without = 0;
    for (const book::BookedCard& card : booked.cards) {
      if (card.made.empty() && &card != &booked.cards.back()) {
        ++without;
        continue;
      }
      const auto read = json::read_card(card.card.json);
      std::string when;
      for (const book::NumberedEntry& each : from.papers[c].entries)
        if (each.number == card.number) when = ", " + minute_of(book::rfc3339(each.entry.time)) + " UTC";
      any = true;
      const std::string head = "Card of survey " + booked.record.begun.id + " (entry " +
                               std::to_string(card.number) + when + "): ";
      if (!read) {
        document.add(Paragraph{"It cannot be read: " + read.fault().says + '.', head});
        continue;
      }
      const job::StoredCard& stored = read.value();
      document.add(Paragraph{typeset(stored.reason),
                             head + upper(std::string(adjust::short_name(stored.hold_point))) + "."});
      Table table{"Moves of that card", columns(">order|support|move|which is|made"), {}};
      for (const job::StoredMove& move : stored.moves) {
        const bool made = std::find(card.made.begin(), card.made.end(), move.order) != card.made.end();
        table.rows.push_back({{std::to_string(move.order), move.support, pieces_words(run, move),
                               turned_words(run, move), made ? "yes, marked as made" : "not marked as made"},
                              false,
                              !made});
      }
      if (!table.rows.empty()) document.add(std::move(table));
    }
    if (without > 0)
      document.add(Paragraph{std::to_string(without) + (without == 1 ? " earlier card" : " earlier cards") +
                             " of survey " + booked.record.begun.id +
                             " of which no move stands as made: in the level book."});
  }
  if (!any)
    document.add(Paragraph{
        "The level book holds no card of this run up to this survey, and no move is marked as made."});
}

void Writer::learned() {
  document.add(Heading{"What was assumed and what was measured"});
  Table table{"Unknowns of the fit of survey " + last.booked.record.begun.id,
              columns("what|>assumed|>sigma|>found|>sigma|>learned"),
              {}};
  for (const job::UnknownEstimate& named : fit.parameters) {
    const auto& e = named.estimate;
    const double learned = std::max(0.0, e.learned);
    table.rows.push_back({{name_of(named.id), quantity_value(named.assumed(), run.show),
                           quantity_sigma(named.assumed(), run.show), quantity_value(named.found(), run.show),
                           quantity_sigma(named.found(), run.show), fixed(100 * learned, 0) + " %"},
                          false,
                          learned < 0.05});
  }
  table.note =
      "Learned: the share of the variance assumed beforehand that the readings took away. In italics: less "
      "than 5 %, an assumption and no "
      "measurement. A sigma of a support's rise includes the common height of run and datum, which no "
      "reading without a stable mark knows.";
  document.add(std::move(table));
}

void Writer::taught() {
  if (from.history.surveys.size() < 2) return;
  document.add(Heading{"What each survey taught"});
  Table surveys{"Surveys of this run, in order",
                columns("survey|stage|begun (UTC)|>readings used|fit|went into the next"),
                {}};
  constexpr std::size_t kMostColumns = 4;
  std::vector<const job::FittedSurvey*> shown;
  for (const job::FittedSurvey& survey : from.history.surveys) {
    const bool fitted = survey.session != nullptr;
    const std::string went = survey.not_taught ? say::not_taught(run, *survey.not_taught)
                             : survey.moved.empty()
                                 ? "all that lasts"
                                 : "all that lasts, but where supports stand: some were moved";
    surveys.rows.push_back(
        {{survey.booked.record.begun.id, survey.booked.record.begun.stage,
          minute_of(survey.booked.record.time),
          fitted ? std::to_string(survey.session->report().self_test.degrees_of_freedom) : "-",
          !fitted                                                                 ? "none"
          : survey.session->report().self_test.outcome == fit::TestOutcome::holds ? "holds"
                                                                                  : "does not hold",
          went}});
    if (fitted) shown.push_back(&survey);
  }
  document.add(std::move(surveys));
  if (shown.size() > kMostColumns) shown.erase(shown.begin(), shown.end() - kMostColumns);
  if (shown.empty()) return;
  Table table{"Sigma of what lasts, survey by survey", columns("what|>before, sigma"), {}};
  for (const job::FittedSurvey* survey : shown)
    table.columns.push_back({"after " + survey->booked.record.begun.id, Align::right});
  table.columns.push_back({"found at last", Align::right});
  for (const job::UnknownEstimate& named : shown.back()->session->report().parameters) {
    if (named.id.of == job::UnknownOf::datum_height || named.id.of == job::UnknownOf::datum_tilt) continue;
    Row row{{name_of(named.id)}};
    std::optional<job::Quantity> first;
    std::vector<std::string> cells;
    for (const job::FittedSurvey* survey : shown) {
      const auto& all = survey->session->report().parameters;
      const auto found = std::find_if(all.begin(), all.end(),
                                      [&](const job::UnknownEstimate& each) { return each.id == named.id; });
      if (found == all.end()) {
        cells.push_back("-");
        continue;
      }
      if (!first) first = found->assumed();
      cells.push_back(quantity_sigma(found->found(), run.show));
    }
    row.cells.push_back(first ? quantity_sigma(*first, run.show) : "-");
    row.cells.insert(row.cells.end(), cells.begin(), cells.end());
    row.cells.push_back(quantity_value(named.found(), run.show));
    table.rows.push_back(std::move(row));
  }
  table.note =
      "Stiffness, springs, loads, bow, zero errors and heights of stable marks last from survey to survey; "
      "where supports stand lasts until "
      "one is moved; where the laser stood never does.";
  document.add(std::move(table));
}

void Writer::uncertainty() {
  document.add(Heading{"Uncertainty"});
  double worst = 0, worst_roll = 0;
  for (const auto& station : fit.stations) {
    worst = std::max(worst, station.height_less_mean_sigma_m);
    worst_roll = std::max(worst_roll, station.roll_sigma_rad);
  }
  document.add(
      Paragraph{"Every sigma in this record is a standard uncertainty u, one standard deviation, as in JCGM "
                "100:2008 (GUM). The expanded "
                "uncertainty U = k u has the coverage factor k = 2, which for a nearly normal distribution "
                "covers about 95 %. Bands in the "
                "drawings are 95 % bands (1.96 u).",
                "What is stated."});
  Table results{"Results", columns("result|>value|>u|>U (k = 2)"), {}};
  if (from.card != nullptr) {
    const auto& before = from.card->before;
    results.rows.push_back({{"level error finished and loaded, as things are", fine(before.level_error_m),
                             sigma(before.drawn_sigma_m), sigma(2 * before.drawn_sigma_m)}});
  }
  results.rows.push_back({{"height at a station, less the mean: the least certain station",
                           "see the table of stations", sigma(worst), sigma(2 * worst)}});
  results.rows.push_back({{"roll at a station: the least certain station", "see the table of stations",
                           slope(worst_roll), slope(2 * worst_roll)}});
  results.note = "The level error is a difference of extremes and not quite normal: its u is that of " +
                 std::to_string(adjust::kDraws) +
                 " draws from the fitted distribution, and so is the chance to be within tolerance.";
  document.add(std::move(results));

  Table inputs{"What goes in", columns("input|>stated u|^type|evaluated from"), {}};
  std::vector<std::string> seen;
  for (const book::BookedReading& each : last.booked.readings) {
    const std::string channel = each.reading.instrument + ' ' + std::string(say::word(each.reading.channel));
    if (std::find(seen.begin(), seen.end(), channel) != seen.end()) continue;
    seen.push_back(channel);
    const auto shown = [&](double u) {
      return each.reading.channel == Channel::distance ? sigma(u) : slope(u);
    };
    inputs.rows.push_back({{"one reading, " + channel, shown(each.reading.sigma), "B",
                            "kit sheet (certificate or maker's statement)"}});
    for (const job::Repeats& repeats : fit.repeats)
      if (name_of(repeats.channel) == channel)
        inputs.rows.push_back(
            {{"    the same, from repeats", shown(repeats.pooled_sigma), "A",
              std::to_string(repeats.degrees_of_freedom) + " degrees of freedom; " +
                  std::string(say::word(repeats.verdict)) + ", p " + p_words(repeats.p_value)}});
    const auto checked = std::find_if(last.booked.checks.zeros.begin(), last.booked.checks.zeros.end(),
                                      [&](const job::CheckedZero& it) { return it.channel == channel; });
    const sheet::KitChannel* const in_kit =
        kit != nullptr ? kit->find(each.reading.instrument, each.reading.channel) : nullptr;
    if (checked != last.booked.checks.zeros.end())
      inputs.rows.push_back({{"zero error, " + channel, shown(checked->sigma), "A, B",
                              "zero check of " + say::date_of(checked->time) + ", and how well it keeps"}});
    else if (in_kit != nullptr && in_kit->zero_sigma > 0)
      inputs.rows.push_back(
          {{"zero error, " + channel, shown(in_kit->zero_sigma), "B", "kit sheet; then both faces"}});
  }
  inputs.rows.push_back(
      {{"tilt of the laser datum", slope(run.priors.datum_tilt_sigma),
        last.booked.checks.tilts.empty() ? "B" : "A, B",
        last.booked.checks.tilts.empty() ? "run sheet" : "run sheet, and the datum check"}});
  inputs.rows.push_back({{"stiffness, springs, loads, bow, supports", "see above", "B",
                          "run sheet and, where there are, earlier surveys"}});
  document.add(std::move(inputs));
  document.add(
      Paragraph{"Readings and what was assumed are fitted together by weighted least squares to the shape "
                "that beam theory predicts; the "
                "uncertainty of every result follows from the covariance of that fit, correlations included "
                "(GUM 5.2). Repeats (type A, GUM 4.2) "
                "test the stated uncertainties (type B, GUM 4.3); they do not replace them.",
                "How it is combined."});
  document.add(Paragraph{"", "What the model assumes"});
  document.add(
      Items{{"A straight run that bends and turns elastically by small amounts (bending with shear, torsion "
             "without warping); members, springs and "
             "loads as in the run sheet, each with the uncertainty stated there.",
             "Readings independent of each other and normal; a zero error that stays the same during a "
             "survey; a laser datum that is a plane.",
             "Nothing moves and no load changes while a survey is read. Warmth bends the run only where the "
             "sheet says so."}});
  document.add(
      Paragraph{"chi-squared " + fixed(fit.self_test.chi_squared, 1) + " with " +
                    std::to_string(fit.self_test.degrees_of_freedom) + " readings used, p " +
                    p_words(fit.self_test.p_value) + "; largest normalised residual " +
                    fixed(fit.self_test.largest_normalised, 2) + ". " +
                    (holds ? "The fit holds: readings, predicted shape and stated uncertainties agree."
                           : "The fit does NOT hold: the uncertainties stated here are too small, or "
                             "something is not as assumed."),
                "The fit's test of itself:"});
  if (!fit.causes.empty()) {
    Table causes{"Likelier causes", columns(">weight|cause"), {}};
    for (const job::LikelierCause& cause : fit.causes)
      if (causes.rows.size() < 8)
        causes.rows.push_back({{say::percent(cause.weight), typeset(say::cause_words(cause, run.show))}});
    document.add(std::move(causes));
  }
}

void Writer::readings() {
  document.add(Heading{"Every reading"});
  Table table{"Readings of survey " + last.booked.record.begun.id + ", in the order in which they were taken",
              columns(">entry|time|by|>at|edge|^face|>value|>sigma|>resi- dual|>norm.|unit|used?"),
              {}};
  table.size = 0.78;
  const bool metric = run.show == sheet::Show::metric;
  const auto shown = [&](Channel channel, double value) {
    return channel == Channel::distance ? number(value) : bare(slope(value));
  };
  std::size_t judged = 0;
  std::string group;
  for (const book::BookedReading& each : last.booked.readings) {
    const sheet::ReadingEntry& reading = each.reading;
    const bool distance = reading.channel == Channel::distance;
    const std::string day = reading.time.substr(0, 10);
    if (day != group) {
      group = day;
      table.rows.push_back({{day.empty() ? "no time" : day + " (UTC)"}, true});
    }
    Row row{{std::to_string(each.number), reading.time.size() > 18 ? reading.time.substr(11, 8) : "",
             instrument_mark(kit, reading.instrument) + ' ' + std::string(say::word(reading.channel)) +
                 (distance && !reading.set_up.empty() ? ", set-up " + reading.set_up : ""),
             reading.mark.empty() ? place(reading.at_m) : "mark " + reading.mark,
             std::string(say::word(reading.edge)),
             distance            ? ""
             : reading.face == 1 ? "1"
                                 : "2",
             shown(reading.channel, reading.value), shown(reading.channel, reading.sigma)}};
    std::string used;
    if (each.kept) {
      const fit::Judgement<double>& judgement = fit.judgements.at(judged++);
      row.cells.push_back(shown(reading.channel, judgement.residual));
      row.cells.push_back(fixed(judgement.normalised, 2));
      row.aside = judgement.verdict != fit::Verdict::kept;
      used = row.aside ? "no: " + say::aside_words(judgement) : "yes";
    } else {
      row.cells.insert(row.cells.end(), {"-", "-"});
      row.aside = true;
      used = "no: set aside by hand" + (each.reason.empty() ? "" : ", \"" + each.reason + '"');
    }
    row.cells.push_back(distance ? fine_unit(run.show) : metric ? "mm/m" : "in/ft");
    for (const book::NumberedEntry& entry : papers.entries) {
      const auto* const corrected = std::get_if<book::Corrected>(&entry.entry.content);
      if (corrected == nullptr || corrected->reading != each.number) continue;
      used += "; corrected by entry " + std::to_string(entry.number) +
              (corrected->reason.empty() ? "" : ", \"" + corrected->reason + '"');
      const sheet::ReadingEntry& was = each.taken.reading;
      std::string changed;
      const auto add = [&](const std::string& text) { changed += (changed.empty() ? "" : ", ") + text; };
      if (was.at_m != reading.at_m || was.mark != reading.mark)
        add(was.mark.empty() ? "at " + place(was.at_m) : "mark " + was.mark);
      if (was.value != reading.value) add("value " + shown(was.channel, was.value));
      if (was.face != reading.face) add(std::string("face ") + (was.face == 1 ? "1" : "2"));
      if (was.edge != reading.edge) add(std::string(say::word(was.edge)) + " edge");
      if (was.set_up != reading.set_up) add("set-up " + was.set_up);
      if (!changed.empty()) used += " (as taken: " + changed + ')';
    }
    row.cells.push_back(used);
    table.rows.push_back(std::move(row));
  }
  table.note =
      "Residual: value less what the fit predicts, of readings not used as well. Norm.: residual over its "
      "own standard deviation. In italics: "
      "not used. The level book holds the raw samples behind each.";
  document.add(std::move(table));
}

}  // namespace

Document as_built(const AsBuilt& from, Paper paper) {
  Writer writer(from);
  const book::SurveyRecord& record = from.history.last().booked.record;
  writer.document = begin("As-built record", from.run, "survey " + record.begun.id, from.record, paper);
  writer.title();
  writer.result();
  writer.drawings();
  writer.levels();
  writer.forces();
  writer.moves();
  writer.hung();
  writer.supports();
  writer.instruments();
  writer.set_ups();
  writer.learned();
  writer.taught();
  writer.uncertainty();
  writer.document.add(Heading{"Cautions"});
  add_cautions(writer.document);
  writer.document.add(Heading{"Seal and level book"});
  add_record(writer.document, from.record, record.last);
  writer.readings();
  return std::move(writer.document);
}

}  // namespace hangtrue::report

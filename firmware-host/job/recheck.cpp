#include "firmware-host/job/recheck.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <limits>

#include <nlohmann/json.hpp>

#include "core/beam/creep.hpp"
#include "core/change/change.hpp"
#include "core/change/drift_course.hpp"
#include "core/change/trend.hpp"
#include "core/fit/distribution.hpp"
#include "firmware-host/job/sheet_changes.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/table.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::job {

namespace {

// Of two causes that explain as well within this much chi-squared (95 % of one degree of freedom), the readings do not decide.
constexpr double kAsWell = 3.84;
constexpr double kTwins = 0.999;     // likeness beyond which two changes are one to the readings
constexpr double kCreepSigma = 0.3;  // relative, of the expected drift: core/beam/creep.hpp
constexpr int kLeastStations = 3;
constexpr double kHighest = std::numeric_limits<double>::infinity();
constexpr double kDrift_m = 2e-6;  // expected drift below this is none

using beam::ParameterKind;

struct Candidate {
  ChangeKind kind{};
  int index = 0;  // support, load, bow, mark
  std::string name;
  double wide = 0;
  int unknown = -1;  // of the fit
};

int rank_of(ChangeKind kind) {
  // Supports settle and turn, contents change; beams and walls seldom do. Common practice, no source.
  switch (kind) {
    case ChangeKind::rise:
      return 0;
    case ChangeKind::pitch:
    case ChangeKind::roll:
      return 1;
    case ChangeKind::load:
      return 2;
    case ChangeKind::mark:
    case ChangeKind::bending:
    case ChangeKind::torsion:
      return 3;
    case ChangeKind::bow:
      return 4;
  }
  return 5;
}

sheet::Complaint stands_in_the_way(const std::string& where, const std::string& key, const std::string& found,
                                   const std::string& expected) {
  return {where, 0, key, found, expected};
}

double days_between(const std::string& from, const std::string& to) {
  const auto a = time_of(from), b = time_of(to);
  if (!a || !b) return 0;
  return std::chrono::duration<double, std::ratio<86400>>(*b - *a).count();
}

std::vector<sheet::ReadingEntry> kept(const BookedSurvey& survey) {
  std::vector<sheet::ReadingEntry> entries;
  for (const book::BookedReading& each : survey.readings)
    if (each.kept) entries.push_back(each.reading);
  return entries;
}

std::vector<double> stations_read(const std::vector<sheet::ReadingEntry>& entries) {
  std::vector<double> at;
  for (const sheet::ReadingEntry& each : entries)
    if (each.mark.empty()) at.push_back(each.at_m);
  std::sort(at.begin(), at.end());
  at.erase(std::unique(at.begin(), at.end(), [](double a, double b) { return b - a < 1e-3; }), at.end());
  return at;
}

std::string places_words(const std::vector<double>& at, sheet::Show show) {
  std::string words;
  for (const double each : at) words += (words.empty() ? "" : ", ") + sheet::show_place(each, show);
  return words.empty() ? "none" : words;
}

// "+1.25 mm" in the unit of the change, or its sigma.
std::string amount(ChangeKind kind, double value, sheet::Show show) {
  switch (kind) {
    case ChangeKind::rise:
    case ChangeKind::mark:
    case ChangeKind::bow:
      return sheet::show_fine(value, show);
    case ChangeKind::pitch:
    case ChangeKind::roll:
      return sheet::show_slope(value, show);
    default: {
      char text[32];
      std::snprintf(text, sizeof text, "%.1f %%", 100 * value);
      return text;
    }
  }
}

std::string number(double value, int decimals) {
  char text[32];
  std::snprintf(text, sizeof text, "%.*f", decimals, value);
  return text;
}

std::string chance_words(double p) {
  char text[32];
  if (p >= 0.0001)
    std::snprintf(text, sizeof text, "%.2g", p);
  else
    return "< 0.0001";
  return text;
}

std::string cause_sentence(const ChangeSeen& change, double value, double sigma, bool heights_compared,
                           sheet::Show show) {
  const std::string by =
      " by " + amount(change.kind, std::abs(value), show) + " +- " + amount(change.kind, sigma, show);
  const std::string who = change.support.empty() ? change.name : change.support;
  switch (change.kind) {
    case ChangeKind::rise:
      return who + (value < 0 ? " sank" : " rose") + by +
             (heights_compared ? "" : " against the other supports");
    case ChangeKind::pitch:
      return who + " turned in the vertical plane" + by + (value < 0 ? ", far side down" : ", far side up");
    case ChangeKind::roll:
      return who + " turned about the run's axis" + by + (value < 0 ? ", left edge down" : ", left edge up");
    case ChangeKind::bending:
      return std::string("the run bends ") + (value < 0 ? "softer" : "stiffer") + by;
    case ChangeKind::torsion:
      return std::string("the run twists ") + (value < 0 ? "softer" : "stiffer") + by;
    case ChangeKind::load:
      return who + (value < 0 ? " is lighter" : " is heavier") + by;
    case ChangeKind::bow:
      return "the run itself bent" + by + " (" + change.name + ')';
    case ChangeKind::mark:
      return who.substr(0, who.find(':')) + (value < 0 ? " stands lower" : " stands higher") + by +
             ", or all supports the other way";
  }
  return who + by;
}

// "2027-11-03", so many days after an instant.
std::string date_after(const std::string& time, double days) {
  const auto from = time_of(time);
  if (!from) return "?";
  return say::date_of(*from + std::chrono::duration_cast<book::Time::duration>(
                                  std::chrono::duration<double, std::ratio<86400>>(days)));
}

// The line, when the limit is reached, and the words. False where there are too few surveys.
bool finish(Trend& trend, const std::string& began, sheet::Show show) {
  const auto line = change::fit_line(trend.days, trend.value, trend.sigma);
  if (!line || line->degrees_of_freedom < 1) return false;
  constexpr double kYear_days = 365.25;
  trend.per_year = line->rate * kYear_days;
  trend.per_year_sigma = line->rate_sigma * kYear_days;
  trend.p_value = std::erfc(std::abs(line->rate / line->rate_sigma) / std::sqrt(2.0));
  trend.misfit_p = fit::chi_squared_tail(line->misfit, line->degrees_of_freedom);
  const bool goes = trend.p_value < 1 - kRecheckConfidence;
  trend.words = trend.what + (goes ? " changes by " : ": no trend is told from none, ") +
                sheet::show_fine(trend.per_year, show) + " +- " +
                sheet::show_fine(trend.per_year_sigma, show) + " a year";
  if (trend.misfit_p < 1 - kRecheckConfidence) trend.words += " (it does not go evenly)";
  if (trend.limit) {
    const std::string limit = sheet::show_fine(*trend.limit, show);
    const double now = trend.days.back();
    if (trend.value.back() >= *trend.limit) {
      trend.words += "; it is past " + limit + " already";
    } else {
      const change::Crossing reached = change::crossing(*line, *trend.limit, now, kRecheckConfidence);
      trend.reached_from_days = reached.from_days;
      trend.reached_to_days = reached.to_days;
      if (!reached.from_days)
        trend.words += "; " + limit + " is not in sight";
      else if (reached.to_days)
        trend.words += "; going on so, it reaches " + limit + " between " +
                       date_after(began, *reached.from_days) + " and " + date_after(began, *reached.to_days) +
                       " (95 %)";
      else
        trend.words += "; " + limit + " is reached not before " + date_after(began, *reached.from_days) +
                       ", if at all (95 %)";
    }
  }
  trend.words += '.';
  return true;
}

// What the forecast adds to a reading, as core/survey/observation.hpp has it; on the mean of faces and zero.
double drift_of(const beam::CreepForecast<double>& forecast, const survey::Reading<double>& reading,
                double length_m, double width_m) {
  if (reading.mark >= 0) return 0;
  const double x = std::clamp(reading.at_m, 0.0, length_m), y = int(reading.edge) * width_m / 2;
  switch (reading.channel) {
    case Channel::slope: {
      const double base = reading.base_m > 0 ? std::min(reading.base_m, length_m) : length_m * 1e-5;
      const double first = std::clamp(x - base / 2, 0.0, length_m - base);
      return reading.face * (forecast.height(first + base, y).value - forecast.height(first, y).value) / base;
    }
    case Channel::roll:
      return reading.face * forecast.roll(x).value;
    case Channel::distance:
      return forecast.height(x, y).value;
    case Channel::temperature:
    case Channel::station:
      break;
  }
  return 0;
}

class Comparison {
 public:
  Comparison(const book::Book& book, const sheet::RunSheet& run) : book_(book), given_(run) {}

  RecheckOrComplaint compare(const std::string& from_id, const std::string& to_id) {
    if (auto complaint = find(from_id, to_id)) return {std::nullopt, std::move(complaint)};
    if (auto complaint = fit_earlier()) return {std::nullopt, std::move(complaint)};
    if (result_.reason.empty()) {
      expect_drift();
      if (auto complaint = fit_later()) return {std::nullopt, std::move(complaint)};
      describe_stations();
      judge();
      judge_drift();
      follow_trends();
    }
    gather_remarks();
    return {std::move(result_), std::nullopt};
  }

 private:
  template <class Value>
  [[nodiscard]] std::optional<sheet::Complaint> broken(const Result<Value, book::Fault>& result) const {
    if (result.ok()) return std::nullopt;
    return stands_in_the_way("level book", "", result.fault().says, "a level book that can be read");
  }

  std::optional<sheet::Complaint> find(const std::string& from_id, const std::string& to_id);
  std::optional<sheet::Complaint> same_run();
  std::optional<sheet::Complaint> same_supports() const;
  std::optional<sheet::Complaint> fit_earlier();
  [[nodiscard]] std::optional<sheet::Complaint> too_few(const book::SurveyRecord& record,
                                                        const BookedSurvey& survey) const;
  void expect_drift();
  std::optional<sheet::Complaint> fit_later();
  void list_candidates();
  [[nodiscard]] static beam::Parameter parameter_of(const Candidate& candidate);
  void judge();
  void linearise_at_no_change();
  void changes_of(bool with_drift, change::Changes& out);
  [[nodiscard]] ChangeSeen seen(int j, std::span<const int> beside) const;
  [[nodiscard]] std::vector<int> others_than(std::size_t k) const;
  void name_cause(std::size_t k);
  [[nodiscard]] bool height_told(int j, const std::vector<int>& others) const;
  void note_twins();
  void describe_stations();
  void judge_drift();
  void follow_trends();
  void gather_remarks();

  const book::Book& book_;
  const sheet::RunSheet& given_;
  std::unique_ptr<sheet::RunSheet> run_;  // of the later survey, by which both are read
  std::vector<book::SurveyRecord> surveys_;
  book::SurveyRecord from_record_, to_record_;
  int from_stage_ = 0, to_stage_ = 0;
  Story earlier_;
  std::unique_ptr<CarriedState> taught_;
  std::unique_ptr<sheet::KitSheet> kit_;
  BookedSurvey later_;
  std::unique_ptr<SurveyFit> session_;
  std::vector<Candidate> candidates_;
  std::unique_ptr<change::Changes> changes_ = std::make_unique<change::Changes>();
  std::vector<beam::Piece<double>> soft_pieces_;
  std::vector<double> forecast_storage_;
  std::optional<beam::CreepForecast<double>> forecast_;
  std::vector<double> lasting_share_;
  std::vector<int> named_;  // of the candidates
  double detectable_sigmas_ = 0;
  struct Place {
    double at_m = 0, across_m = 0;
  } highest_, lowest_;      // now
  double drift_share_ = 0;  // of the final creep, between the two surveys
  Recheck result_;
};

std::optional<sheet::Complaint> Comparison::find(const std::string& from_id, const std::string& to_id) {
  auto all = book_.surveys();
  if (auto complaint = broken(all)) return complaint;
  surveys_ = std::move(all).value();
  const auto named = [&](const std::string& id, const char* option,
                         book::SurveyRecord& out) -> std::optional<sheet::Complaint> {
    std::string known;
    int count = 0;
    for (const book::SurveyRecord& each : surveys_) {
      if (each.begun.id == id) {
        out = each;
        return std::nullopt;
      }
      if (++count <= 20) known += (known.empty() ? "" : ", ") + each.begun.id;
    }
    if (count > 20) known += " and " + std::to_string(count - 20) + " more";
    return stands_in_the_way(
        "level book", option, '"' + id + '"',
        known.empty() ? "a survey, but the book holds none" : "a survey of the book: " + known);
  };
  if (auto complaint = named(from_id, "--from", from_record_)) return complaint;
  if (auto complaint = named(to_id, "--to", to_record_)) return complaint;
  if (from_record_.number == to_record_.number)
    return stands_in_the_way("level book", "--to", '"' + to_id + "\", the survey of --from itself",
                             "a later survey of the same run");
  if (from_record_.number > to_record_.number)
    return stands_in_the_way("level book", "--from",
                             '"' + from_id + "\", which is later than \"" + to_id + '"',
                             "--from " + to_id + " --to " + from_id);
  if (auto complaint = same_run()) return complaint;
  from_stage_ = run_->stage(from_record_.begun.stage);
  to_stage_ = run_->stage(to_record_.begun.stage);
  for (const book::SurveyRecord* each : {&from_record_, &to_record_})
    if (run_->stage(each->begun.stage) < 0)
      return stands_in_the_way("survey " + each->begun.id, "stage", '"' + each->begun.stage + '"',
                               "a stage of the run sheet: " + say::stages_of(*run_));
  result_.from = from_id;
  result_.to = to_id;
  result_.from_time = from_record_.time;
  result_.to_time = to_record_.time;
  result_.from_stage = from_stage_;
  result_.to_stage = to_stage_;
  return same_supports();
}

std::optional<sheet::Complaint> Comparison::same_run() {
  const auto parsed = [&](const book::SurveyRecord& survey,
                          std::unique_ptr<sheet::RunSheet>& out) -> std::optional<sheet::Complaint> {
    const auto entry = book_.entry(survey.begun.run);
    if (auto complaint = broken(entry)) return complaint;
    const auto* const text = std::get_if<book::RunText>(&entry.value().content);
    if (text == nullptr)
      return stands_in_the_way("level book", "entry " + std::to_string(survey.begun.run), "no run sheet",
                               "the run sheet of survey " + survey.begun.id);
    sheet::RunSheetOrComplaints read = sheet::parse_run_sheet(text->text, text->file + " (in the book)");
    if (!read.sheet) return read.complaints.front();
    out = std::make_unique<sheet::RunSheet>(std::move(*read.sheet));
    return std::nullopt;
  };
  std::unique_ptr<sheet::RunSheet> earlier;
  if (auto complaint = parsed(to_record_, run_)) return complaint;
  if (auto complaint = parsed(from_record_, earlier)) return complaint;
  const auto compare = [&](const sheet::RunSheet& a, const sheet::RunSheet& b, const std::string& of_a,
                           const std::string& of_b) -> std::optional<sheet::Complaint> {
    std::string matter;
    for (const SheetChange& change : sheet_changes(a, b)) {
      if (change.matters)
        matter += (matter.empty() ? "" : "; ") + change.words;
      else
        result_.remarks.push_back("The run sheet " + of_b + " differs from that " + of_a + ": " +
                                  change.words + ". It does not touch what is compared.");
    }
    if (matter.empty()) return std::nullopt;
    return stands_in_the_way("run sheet " + of_b, "", matter, "the same run as in the sheet " + of_a);
  };
  if (auto complaint =
          compare(*earlier, *run_, "of survey " + from_record_.begun.id, "of survey " + to_record_.begun.id))
    return complaint;
  return compare(*run_, given_, "of survey " + to_record_.begun.id, "given (" + given_.file + ")");
}

// A support that comes or goes between the two locks in a shape that nobody read.
std::optional<sheet::Complaint> Comparison::same_supports() const {
  const int first = std::min(from_stage_, to_stage_), last = std::max(from_stage_, to_stage_);
  const std::uint32_t supports = run_->beam_stages[std::size_t(first)].supports;
  for (int s = first + 1; s <= last; ++s)
    if (run_->beam_stages[std::size_t(s)].supports != supports)
      return stands_in_the_way("survey " + to_record_.begun.id, "stage",
                               '"' + to_record_.begun.stage + "\", whose supports are not those of \"" +
                                   from_record_.begun.stage + '"',
                               "two surveys at stages with the same supports all the way between them");
  return std::nullopt;
}

std::optional<sheet::Complaint> Comparison::fit_earlier() {
  auto story = tell_story(book_, *run_, from_record_);
  if (auto complaint = broken(story)) return complaint;
  earlier_ = std::move(story).value();
  const Chapter& from = earlier_.last();
  if (from.complaint) return from.complaint;
  if (!from.moved.empty()) {
    const bool marked = std::any_of(from.booked.cards.begin(), from.booked.cards.end(),
                                    [](const book::BookedCard& card) { return !card.made.empty(); });
    std::string who;
    for (const std::string& each : from.moved) who += (who.empty() ? "" : ", ") + each;
    if (marked)
      return stands_in_the_way("survey " + from_record_.begun.id, "--from",
                               "moves made after its readings, by its card: " + who,
                               "the survey that was made after these moves");
    result_.remarks.push_back("Survey " + from_record_.begun.id +
                              " has a card with moves that nobody marked as made (" + who +
                              "): if they were made, they show here as movement.");
  }
  for (const book::SurveyRecord& each : surveys_)
    if (each.number > from_record_.number && each.number < to_record_.number && each.moves > 0 &&
        each.begun.run == to_record_.begun.run)
      return stands_in_the_way("survey " + each.begun.id, "--from",
                               "moves made by its card, between the two surveys", "a survey later than that");
  if (auto complaint = too_few(from_record_, from.booked)) return complaint;
  if (!from.trouble.empty()) {
    result_.reason =
        "Survey " + from_record_.begun.id + " is no ground to compare with: " + from.trouble + '.';
    return std::nullopt;
  }
  taught_ = lasting_for(*earlier_.lasting.back(), Forget::zeros);
  return std::nullopt;
}

std::optional<sheet::Complaint> Comparison::too_few(const book::SurveyRecord& record,
                                                    const BookedSurvey& survey) const {
  const std::vector<double> at = stations_read(kept(survey));
  if (int(at.size()) >= kLeastStations) return std::nullopt;
  return stands_in_the_way(
      "survey " + record.begun.id, "readings",
      "readings kept at " + std::to_string(at.size()) + " places: " + places_words(at, run_->show),
      "at least " + std::to_string(kLeastStations) + " places along the run");
}

// Creep under the lasting loads since the first survey of the story, for what of it falls between the two.
void Comparison::expect_drift() {
  ExpectedDrift& drift = result_.drift;
  drift.days = days_between(from_record_.time, to_record_.time);
  const std::string& loaded = earlier_.chapters.front().booked.record.time;
  drift_share_ = change::creep_share(days_between(loaded, to_record_.time)) -
                 change::creep_share(days_between(loaded, from_record_.time));
  drift.height_m.assign(run_->stations_m.size(), 0);
  drift.sigma_m = drift.height_m;
  const bool creeps = std::any_of(run_->pieces.begin(), run_->pieces.end(), [](const auto& piece) {
    return piece.bending_creep > 0 || piece.torsion_creep > 0 || piece.shear_creep > 0;
  });
  if (!creeps || !(drift_share_ > 0)) return;
  const beam::Run<double> view = run_->run();
  soft_pieces_.resize(beam::CreepForecast<double>::pieces_needed(view));
  forecast_storage_.resize(beam::CreepForecast<double>::storage_needed(view));
  auto forecast = beam::CreepForecast<double>::create(view, soft_pieces_, forecast_storage_, kCreepSigma);
  const beam::State<double> state = earlier_.last().session->fitted().state();
  SolvedRun as_built(*run_);
  for (const sheet::LoadEntry& load : run_->loads) lasting_share_.push_back(load.permanent_share);
  if (!forecast.ok() || as_built.trouble() || !as_built.solver().solve(state) ||
      !forecast.value().solve(to_stage_, state, lasting_share_, as_built.solver())) {
    result_.remarks.push_back("What creep is expected could not be worked out; none was taken off.");
    return;
  }
  forecast_.emplace(std::move(forecast).value());
  double most = 0;
  for (std::size_t i = 0; i < run_->stations_m.size(); ++i) {
    const beam::Drift<double> at = forecast_->height(run_->stations_m[i]);
    drift.height_m[i] = drift_share_ * at.value;
    drift.sigma_m[i] = kCreepSigma * std::abs(drift.height_m[i]);
    most = std::max(most, std::abs(drift.height_m[i]));
  }
  if (most < kDrift_m) {
    forecast_.reset();
    return;
  }
  const double first = drift.height_m.front(), last = drift.height_m.back();
  const double length = run_->stations_m.back() - run_->stations_m.front();
  for (std::size_t i = 0; i < run_->stations_m.size(); ++i) {
    const double part = length > 0 ? (run_->stations_m[i] - run_->stations_m.front()) / length : 0;
    const double sag = drift.height_m[i] - first - part * (last - first);
    if (std::abs(sag) > std::abs(drift.sag_m)) drift.sag_m = sag;
  }
  drift.sag_sigma_m = kCreepSigma * std::abs(drift.sag_m);
  char share[16];
  std::snprintf(share, sizeof share, "%.0f %%", 100 * drift_share_);
  drift.reasons.push_back(
      std::string("wood-based parts creep under the lasting loads: ") + share +
      " of what comes in the end (k_def of EN 1995-1-1 by material and service class; its "
      "course in time is common practice)");
}

void Comparison::list_candidates() {
  const auto add = [&](ChangeKind kind, int index, std::string name, double wide) {
    candidates_.push_back({kind, index, std::move(name), wide, -1});
  };
  const beam::Stage& stage = run_->beam_stages[std::size_t(to_stage_)];
  for (int i = 0; i < int(run_->supports.size()); ++i) {
    if (!stage.lists_support(i)) continue;
    const beam::Support<double>& support = run_->beam_supports[std::size_t(i)];
    const std::string& name = run_->supports[std::size_t(i)].name;
    if (support.rise.held) add(ChangeKind::rise, i, name + ": rise", kWide_m);
    if (support.pitch.held) add(ChangeKind::pitch, i, name + ": pitch", kWide_rad);
    if (support.roll.held) add(ChangeKind::roll, i, name + ": roll", kWide_rad);
  }
  add(ChangeKind::bending, 0, "bending stiffness", kWideStiffness);
  add(ChangeKind::torsion, 0, "torsion stiffness", kWideStiffness);
  for (int i = 0; i < int(run_->loads.size()); ++i)
    if (stage.lists_load(i)) add(ChangeKind::load, i, "load " + run_->loads[std::size_t(i)].name, kWideLoad);
  for (int i = 0; i < run_->priors.bows; ++i)
    add(ChangeKind::bow, i, "bow " + std::to_string(i + 1), kWide_m);
}

std::optional<sheet::Complaint> Comparison::fit_later() {
  auto kit = booked_kit(book_, *run_, to_record_);
  if (auto complaint = broken(kit)) return complaint;
  kit_ = std::move(kit).value();
  if (!kit_)
    return stands_in_the_way("survey " + to_record_.begun.id, "kit", "no kit sheet that can be read",
                             "a kit sheet in the book");
  auto later = booked_survey(book_, *run_, *kit_, to_record_);
  if (auto complaint = broken(later)) return complaint;
  later_ = std::move(later).value();
  if (auto complaint = too_few(to_record_, later_)) return complaint;

  for (const sheet::Mark& mark : run_->marks) {
    const auto read = [&](const BookedSurvey& survey) {
      return std::any_of(
          survey.readings.begin(), survey.readings.end(),
          [&](const book::BookedReading& each) { return each.kept && each.reading.mark == mark.name; });
    };
    if (read(earlier_.last().booked) && read(later_)) result_.marks.push_back(mark.name);
  }
  result_.heights_compared = !result_.marks.empty();

  list_candidates();
  ChangesSince since;
  for (const Candidate& each : candidates_) since.changes.push_back({parameter_of(each), {0, each.wide}});
  since.mark_sigma_m = result_.heights_compared ? kStable_m : 0;
  const std::vector<sheet::ReadingEntry> entries = kept(later_);
  if (forecast_) {
    for (const survey::Reading<double>& reading :
         sheet::make_survey(entries, kit_.get(), run_->marks).readings)
      since.drift.push_back(drift_share_ * drift_of(*forecast_, reading, run_->length_m, run_->width_m));
    since.drift_share_sigma = kCreepSigma;
  }
  session_ = std::make_unique<SurveyFit>(*run_, kit_.get(), to_stage_, taught_.get());
  session_->take_checks(later_.checks);
  session_->expect_changes(std::move(since));
  for (const sheet::ReadingEntry& each : entries) session_->add(each);
  if (const auto done = session_->fit(); !done) return say::complaint(*run_, done.fault());
  return std::nullopt;
}

beam::Parameter Comparison::parameter_of(const Candidate& candidate) {
  const auto index = std::int16_t(candidate.index);
  switch (candidate.kind) {
    case ChangeKind::rise:
      return {ParameterKind::move_rise, index};
    case ChangeKind::pitch:
      return {ParameterKind::move_pitch, index};
    case ChangeKind::roll:
      return {ParameterKind::move_roll, index};
    case ChangeKind::bending:
      return {ParameterKind::bending, 0};
    case ChangeKind::torsion:
      return {ParameterKind::torsion, 0};
    case ChangeKind::load:
      return {ParameterKind::load, index};
    case ChangeKind::bow:
    case ChangeKind::mark:
      break;
  }
  return {ParameterKind::bow, index};
}

// The changes are tested where there are none: linearised at what the earlier survey left, since along what can hardly be
// told apart (a heavier load, a softer beam) the fit with all of them free goes far. Which readings count, that fit says.
void Comparison::linearise_at_no_change() {
  const std::vector<fit::Judgement<double>>& judged = session_->report().judgements;
  std::vector<std::uint8_t> aside;
  for (const fit::Judgement<double>& each : judged) aside.push_back(each.verdict != fit::Verdict::kept);
  std::vector<fit::Judgement<double>> unused(judged.size());
  session_->fitted().set_options({kHighest, 1});
  (void)session_->fitted().run(session_->survey().readings, aside, unused);
}

// The changes as the fit has them, and beside them the share of the drift, for what is said of it alone.
void Comparison::judge() {
  const fit::UnknownList<double>& unknowns = session_->unknowns();
  for (int m = 0; m < int(run_->marks.size()); ++m)
    candidates_.push_back(
        {ChangeKind::mark, m, "mark " + run_->marks[std::size_t(m)].name + ": height", kWide_m, -1});
  for (Candidate& each : candidates_) {
    const fit::Unknown wanted =
        each.kind == ChangeKind::mark
            ? fit::Unknown{fit::UnknownKind::mark_change, {}, std::int16_t(each.index)}
            : fit::Unknown{fit::UnknownKind::change, parameter_of(each), 0};
    for (int u = 0; u < unknowns.count; ++u)
      if (unknowns.unknown[u] == wanted) each.unknown = u;
  }
  std::erase_if(candidates_, [](const Candidate& each) { return each.unknown < 0; });
  linearise_at_no_change();
  changes_of(false, *changes_);

  const change::GlobalTest global = changes_->global();
  result_.statistic = global.statistic;
  result_.degrees_of_freedom = global.degrees_of_freedom;
  result_.p_value = global.p_value;
  detectable_sigmas_ = changes_->detectable_sigmas(kRecheckConfidence, kRecheckPower);
  for (int j = 0; j < int(candidates_.size()); ++j) result_.seen.push_back(seen(j, {}));
  note_twins();

  std::vector<int> rank;
  for (const Candidate& each : candidates_) rank.push_back(rank_of(each.kind));
  const change::Named named = changes_->name(kRecheckConfidence, rank, kAsWell);
  named_.assign(named.change, named.change + named.count);
  for (std::size_t k = 0; k < named_.size(); ++k) name_cause(k);

  const std::string test = "chi-squared " + number(global.statistic, 1) + " with " +
                           std::to_string(global.degrees_of_freedom) + " degrees of freedom, p " +
                           (global.p_value < 0.0001 ? "" : "= ") + chance_words(global.p_value);
  if (session_->report().self_test.outcome == fit::TestOutcome::fails ||
      session_->report().status == fit::Status::not_settled) {
    result_.answer = RecheckAnswer::cannot_tell;
    result_.reason = "The readings of survey " + result_.to +
                     " contradict each other, whatever may have moved: its fit does not hold. Look at those "
                     "farthest off, and read again.";
  } else if (global.degrees_of_freedom == 0) {
    result_.answer = RecheckAnswer::cannot_tell;
    result_.reason = "Too little was read to see any change.";
  } else if (global.p_value >= 1 - kRecheckConfidence) {
    result_.answer = RecheckAnswer::nothing_moved;
    result_.reason = "Nothing moved beyond what was expected and what the readings scatter (" + test + ").";
  } else if (named_.empty()) {
    result_.answer = RecheckAnswer::moved_somehow;
    result_.reason = "Something moved, and no single change stands out enough to be named (" + test +
                     "). Read more places.";
  } else {
    result_.answer = RecheckAnswer::moved;
    for (const Cause& cause : result_.causes)
      result_.reason += (result_.reason.empty() ? "" : "; ") + cause.words;
    if (!result_.reason.empty()) result_.reason[0] = char(std::toupper(result_.reason[0]));
    result_.reason += " (" + test + ").";
    if (result_.heights_compared)
      result_.reason += " By the marks the run as a whole is " +
                        sheet::show_fine(std::abs(result_.common_m), run_->show) + " +- " +
                        sheet::show_fine(result_.common_sigma_m, run_->show) +
                        (result_.common_m < 0 ? " lower." : " higher.");
    if (named.rest.degrees_of_freedom > 0 && named.rest.p_value < 1 - kRecheckConfidence)
      result_.reason +=
          " That does not explain all of it: what is left has p " + chance_words(named.rest.p_value) + '.';
  }
  if (result_.answer == RecheckAnswer::cannot_tell) result_.causes.clear();
}

void Comparison::changes_of(bool with_drift, change::Changes& out) {
  std::vector<int> columns;
  std::vector<double> wide, prior;
  for (const Candidate& each : candidates_) {
    columns.push_back(each.unknown);
    wide.push_back(each.wide);
    prior.push_back(each.kind == ChangeKind::mark ? kStable_m : each.wide);
  }
  if (with_drift) {
    columns.push_back(session_->unknowns().count - 1);  // the last of all
    wide.push_back(1);
    prior.push_back(kCreepSigma);
  }
  std::vector<double> triangle(columns.size() * columns.size()), right(columns.size());
  session_->fitted().information(columns, triangle, right);
  (void)out.begin(int(columns.size()), wide, prior, triangle, right);
}

ChangeSeen Comparison::seen(int j, std::span<const int> beside) const {
  const Candidate& candidate = candidates_[std::size_t(j)];
  const change::Single single = changes_->single(j, beside);
  ChangeSeen result;
  result.name = candidate.name;
  if (candidate.kind <= ChangeKind::roll) result.support = run_->supports[std::size_t(candidate.index)].name;
  result.kind = candidate.kind;
  result.can_be_seen = single.seen;
  if (!single.seen) return result;
  result.value = single.value;
  result.sigma = single.sigma;
  result.p_value = single.p_value;
  result.p_corrected = change::corrected(single.p_value, changes_->looked_at());
  result.smallest_detectable = detectable_sigmas_ * changes_->single(j).sigma;
  return result;
}

std::vector<int> Comparison::others_than(std::size_t k) const {
  std::vector<int> others = named_;
  others.erase(others.begin() + std::ptrdiff_t(k));
  return others;
}

// Where that one support rose and that another sank explain as well, the one that sank: supports settle.
void Comparison::name_cause(std::size_t k) {
  const std::vector<int> others = others_than(k);
  const double best = changes_->explains(named_);
  const auto instead_of = [&](int j) {
    std::vector<int> set = named_;
    set[k] = j;
    return set;
  };
  const auto as_well = [&](int j) {
    return std::find(named_.begin(), named_.end(), j) == named_.end() && changes_->single(j, others).seen &&
           changes_->explains(instead_of(j)) > best - kAsWell;
  };
  int& chosen = named_[k];
  if (candidates_[std::size_t(chosen)].kind == ChangeKind::rise && changes_->single(chosen, others).value > 0)
    for (int j = 0; j < int(candidates_.size()); ++j)
      if (candidates_[std::size_t(j)].kind == ChangeKind::rise && as_well(j) &&
          changes_->single(j, others).value < 0) {
        chosen = j;
        break;
      }
  Cause cause;
  cause.change = seen(chosen, others);
  const bool rises = candidates_[std::size_t(chosen)].kind == ChangeKind::rise;
  const bool tied = rises && height_told(chosen, others);
  for (int j = 0; j < int(candidates_.size()); ++j) {
    const bool other_rise = rises && !tied && candidates_[std::size_t(j)].kind == ChangeKind::rise &&
                            std::find(named_.begin(), named_.end(), j) == named_.end();
    if (as_well(j) || other_rise) cause.or_else.push_back(candidates_[std::size_t(j)].name);
  }
  cause.words = cause_sentence(cause.change, cause.change.value, cause.change.sigma, tied, run_->show);
  result_.causes.push_back(std::move(cause));
}

// Whether marks tell the height of a support that moved, not only where it stands against the others: they do where it
// stands out with any mark's height left open.
bool Comparison::height_told(int j, const std::vector<int>& others) const {
  if (!result_.heights_compared) return false;
  const double alone = changes_->single(j, others).value;
  for (int m = 0; m < int(candidates_.size()); ++m) {
    if (candidates_[std::size_t(m)].kind != ChangeKind::mark) continue;
    if (std::abs(alone) < 5 * changes_->single(m, others).sigma) return false;
  }
  return true;
}

void Comparison::note_twins() {
  for (int i = 0; i < int(candidates_.size()); ++i)
    for (int j = i + 1; j < int(candidates_.size()); ++j)
      if (std::abs(changes_->likeness(i, j)) > kTwins)
        result_.cannot_be_told_apart.push_back(candidates_[std::size_t(i)].name + " and " +
                                               candidates_[std::size_t(j)].name);
}

void Comparison::describe_stations() {
  fit::Fit<double>& fitted = session_->fitted();
  const auto unknowns = std::size_t(session_->unknowns().count);
  const std::size_t stations = run_->stations_m.size();
  std::vector<double> drift_row(unknowns);
  double share = 0;
  if (forecast_) {
    fitted.factor_row(int(unknowns) - 1, drift_row);
    share = fitted.estimate(int(unknowns) - 1).value;
  }
  std::vector<double> rows(stations * unknowns), mean(unknowns);
  const auto row = [&](std::size_t i) { return std::span(rows).subspan(i * unknowns, unknowns); };
  double mean_from = 0, mean_change = 0;
  for (std::size_t i = 0; i < stations; ++i) {
    const double x = run_->stations_m[i];
    StationChange each;
    each.at_m = x;
    std::vector<double> unused(unknowns);
    const auto height = fitted.height(x, 0, false, unused);
    const auto change = fitted.height(x, 0, true, row(i));
    // Read at both times: the difference of the two. At another stage: what the changes add.
    const bool same_stage = from_stage_ == to_stage_;
    const fit::StationShape<double>& then = earlier_.last().session->report().stations[i];
    const auto roll = fitted.roll(x, !same_stage, unused);
    if (!height.ok() || !change.ok() || !roll.ok()) return;
    for (std::size_t u = 0; u < unknowns; ++u) {
      row(i)[u] += result_.drift.height_m[i] * drift_row[u];
      mean[u] += row(i)[u] / double(stations);
      each.roll_sigma_rad += unused[u] * unused[u];
    }
    each.roll_sigma_rad = std::hypot(std::sqrt(each.roll_sigma_rad), same_stage ? then.roll_sigma_rad : 0.0);
    each.roll_change_rad = roll.value() - (same_stage ? then.roll_rad : 0.0);
    each.from_m = height.value() - change.value();
    each.change_m = change.value() + share * result_.drift.height_m[i];
    mean_from += each.from_m / double(stations);
    mean_change += each.change_m / double(stations);
    result_.stations.push_back(each);
  }
  for (std::size_t i = 0; i < stations; ++i) {
    StationChange& each = result_.stations[i];
    each.from_m -= mean_from;
    if (!result_.heights_compared) each.change_m -= mean_change;
    each.to_m = each.from_m + each.change_m;
    double variance = 0;
    for (std::size_t u = 0; u < unknowns; ++u) {
      const double entry = row(i)[u] - (result_.heights_compared ? 0 : mean[u]);
      variance += entry * entry;
    }
    each.sigma_m = std::sqrt(variance);
  }

  // Both edges: highest less lowest, at the stage of the later survey.
  struct Point {
    double at = 0, across = 0, height = 0;
  };
  Point low, high;
  double low_from = kHighest, high_from = -kHighest;
  low.height = kHighest;
  high.height = -kHighest;
  for (std::size_t i = 0; i < stations; ++i)
    for (const double across : {run_->width_m / 2, -run_->width_m / 2}) {
      std::vector<double> unused(unknowns);
      const auto now = fitted.height(run_->stations_m[i], across, false, unused);
      const auto change = fitted.height(run_->stations_m[i], across, true, unused);
      if (!now.ok() || !change.ok()) return;
      const double before = now.value() - change.value();
      const double height = now.value() + share * result_.drift.height_m[i];
      low_from = std::min(low_from, before);
      high_from = std::max(high_from, before);
      if (height < low.height) low = {run_->stations_m[i], across, height};
      if (height > high.height) high = {run_->stations_m[i], across, height};
    }
  result_.level_error_from_m = high_from - low_from;
  result_.level_error_to_m = high.height - low.height;
  std::vector<double> a(unknowns), b(unknowns);
  if (!fitted.height(high.at, high.across, false, a).ok() ||
      !fitted.height(low.at, low.across, false, b).ok())
    return;
  double variance = 0;
  for (std::size_t u = 0; u < unknowns; ++u) variance += (a[u] - b[u]) * (a[u] - b[u]);
  result_.level_error_sigma_m = std::sqrt(variance);
  if (result_.heights_compared) {
    result_.common_m = mean_change;
    for (const double entry : mean) result_.common_sigma_m += entry * entry;
    result_.common_sigma_m = std::sqrt(result_.common_sigma_m);
  }
  result_.past_tolerance = to_stage_ >= run_->tolerance.stage && run_->tolerance.level_m > 0 &&
                           result_.level_error_to_m > run_->tolerance.level_m;
  if (result_.past_tolerance)
    result_.remarks.push_back(
        "The level error now, " + sheet::show_fine(result_.level_error_to_m, run_->show) + ", is past the " +
        sheet::show_fine(run_->tolerance.level_m, run_->show) + " that the sheet allows.");
  highest_ = {high.at, high.across};
  lowest_ = {low.at, low.across};
}

void Comparison::judge_drift() {
  ExpectedDrift& drift = result_.drift;
  if (!forecast_) {
    drift.verdict = DriftVerdict::none_expected;
    drift.words = std::string("No movement was expected: ") +
                  (drift_share_ > 0 ? "nothing in the run creeps." : "no time has passed.");
    return;
  }
  auto with_drift = std::make_unique<change::Changes>();
  changes_of(true, *with_drift);
  std::vector<int>
      moved;  // supports and marks that did; a softer beam or a heavier load would be the creep itself
  for (const int j : named_)
    if (rank_of(candidates_[std::size_t(j)].kind) <= rank_of(ChangeKind::roll) ||
        candidates_[std::size_t(j)].kind == ChangeKind::mark)
      moved.push_back(j);
  const change::Single measured = with_drift->single(int(candidates_.size()), moved);
  const std::string expected = "sag by creep " + sheet::show_fine(drift.sag_m, run_->show) + " +- " +
                               sheet::show_fine(drift.sag_sigma_m, run_->show) + " in " +
                               number(drift.days, 0) + " days";
  if (!measured.seen) {
    drift.verdict = DriftVerdict::cannot_tell;
    drift.words = "Expected: " + expected + "; too little for these readings to tell whether it came.";
    return;
  }
  drift.share = 1 + measured.value;
  drift.share_sigma = measured.sigma;
  const double off = measured.value / std::hypot(measured.sigma, kCreepSigma);
  drift.verdict = off < -1.96  ? DriftVerdict::less
                  : off > 1.96 ? DriftVerdict::more
                               : DriftVerdict::as_expected;
  drift.words = "Expected: " + expected +
                "; measured: " + sheet::show_fine(drift.share * drift.sag_m, run_->show) + " +- " +
                sheet::show_fine(drift.share_sigma * std::abs(drift.sag_m), run_->show) + ", " +
                (drift.verdict == DriftVerdict::less   ? "less than expected."
                 : drift.verdict == DriftVerdict::more ? "more than expected."
                                                       : "as expected.");
}

// Each survey of the same stage by itself: nothing of where supports stood, nor of zero errors, goes from one to the next, so
// that their errors are as good as independent.
void Comparison::follow_trends() {
  if (result_.answer == RecheckAnswer::cannot_tell) return;
  std::vector<const book::SurveyRecord*> at_stage;
  for (const book::SurveyRecord& each : surveys_)
    if (each.number >= from_record_.number && each.number <= to_record_.number && each.kept > 0 &&
        each.begun.stage == to_record_.begun.stage && each.begun.run == to_record_.begun.run)
      at_stage.push_back(&each);
  if (at_stage.size() < 3) return;
  if (at_stage.size() > kMostChapters)
    at_stage.erase(at_stage.begin() + 1, at_stage.end() - std::ptrdiff_t(kMostChapters - 1));

  struct Wanted {
    Trend trend;
    Place high, low;
  };
  std::vector<Wanted> wanted;
  for (const int j : named_) {
    const Candidate& candidate = candidates_[std::size_t(j)];
    if (candidate.kind != ChangeKind::rise) continue;
    const double at = run_->beam_supports[std::size_t(candidate.index)].at_m;
    double against = at;
    for (int i = 0; i < int(run_->supports.size()); ++i) {
      const double other = run_->beam_supports[std::size_t(i)].at_m;
      if (run_->beam_stages[std::size_t(to_stage_)].lists_support(i) &&
          std::abs(other - at) > std::abs(against - at))
        against = other;
    }
    if (against == at) continue;
    Wanted each{{}, {at, 0}, {against, 0}};
    each.trend.what =
        run_->supports[std::size_t(candidate.index)].name + ": height against the farthest support";
    wanted.push_back(std::move(each));
  }
  if (highest_.at_m != lowest_.at_m || highest_.across_m != lowest_.across_m) {
    Wanted each{{}, highest_, lowest_};
    each.trend.what = "level error, " + sheet::show_place(highest_.at_m, run_->show) + " above " +
                      sheet::show_place(lowest_.at_m, run_->show);
    if (run_->tolerance.level_m > 0) each.trend.limit = run_->tolerance.level_m;
    wanted.push_back(std::move(each));
  }

  const std::unique_ptr<CarriedState> lasts =
      lasting_for(*earlier_.lasting.back(), Forget::offsets_and_zeros);
  for (const book::SurveyRecord* record : at_stage) {
    const auto kit = booked_kit(book_, *run_, *record);
    if (!kit.ok() || !kit.value()) continue;
    const auto booked = booked_survey(book_, *run_, *kit.value(), *record);
    if (!booked.ok()) continue;
    SurveyFit session(*run_, kit.value().get(), to_stage_, lasts.get());
    session.take_checks(booked.value().checks);
    for (const sheet::ReadingEntry& entry : kept(booked.value())) session.add(entry);
    if (!session.fit() || session.report().self_test.outcome == fit::TestOutcome::fails) continue;
    const auto unknowns = std::size_t(session.unknowns().count);
    std::vector<double> a(unknowns), b(unknowns);
    for (Wanted& each : wanted) {
      const auto high = session.fitted().height(each.high.at_m, each.high.across_m, false, a);
      const auto low = session.fitted().height(each.low.at_m, each.low.across_m, false, b);
      if (!high.ok() || !low.ok()) continue;
      double variance = 0;
      for (std::size_t u = 0; u < unknowns; ++u) variance += (a[u] - b[u]) * (a[u] - b[u]);
      each.trend.surveys.push_back(record->begun.id);
      each.trend.days.push_back(days_between(from_record_.time, record->time));
      each.trend.value.push_back(high.value() - low.value());
      each.trend.sigma.push_back(std::sqrt(variance));
    }
  }
  for (Wanted& each : wanted)
    if (finish(each.trend, from_record_.time, run_->show)) result_.trends.push_back(std::move(each.trend));
}

void Comparison::gather_remarks() {
  if (from_stage_ != to_stage_)
    result_.remarks.push_back("The surveys are of two stages: what stands as before is survey " +
                              result_.from + " carried over to stage \"" + to_record_.begun.stage +
                              "\" with the loads of the run sheet, and was not read so.");
  const auto take = [&](const char* which, const std::vector<Warning>& warnings) {
    for (const Warning& warning : warnings)
      result_.remarks.push_back(which + say::warning(warning, run_->show));
  };
  take("Earlier survey: ", earlier_.last().booked.checks.warnings);
  take("Later survey: ", later_.checks.warnings);
  const auto temperature = [](const BookedSurvey& survey) -> std::optional<double> {
    double sum = 0;
    int count = 0;
    for (const book::BookedReading& each : survey.readings)
      if (each.taken.temperature_C) sum += *each.taken.temperature_C, ++count;
    if (count == 0) return std::nullopt;
    return sum / count;
  };
  const auto before = temperature(earlier_.last().booked), now = temperature(later_);
  if (before && now && std::abs(*now - *before) > kTemperatureFar_C)
    result_.remarks.push_back("The instruments were at " + say::temperature_words(*before, run_->show) +
                              " then and at " + say::temperature_words(*now, run_->show) +
                              " now: rods and posts of other length than the bracket's wall may have grown.");
}

}  // namespace

RecheckOrComplaint recheck(const book::Book& book, const sheet::RunSheet& run, const std::string& from_id,
                           const std::string& to_id) {
  return Comparison(book, run).compare(from_id, to_id);
}

std::string change_words(ChangeKind kind, double value, sheet::Show show) {
  return amount(kind, value, show);
}

namespace {

// As if alone it would have to be more than such a thing can be.
bool absurd(const ChangeSeen& change) {
  const bool share = change.kind == ChangeKind::load || change.kind == ChangeKind::bending ||
                     change.kind == ChangeKind::torsion;
  return share && (change.value < -0.95 || change.value > 1.5);
}

nlohmann::ordered_json change_json(const ChangeSeen& change) {
  nlohmann::ordered_json json{{"name", change.name}, {"can_be_seen", change.can_be_seen}};
  if (!change.can_be_seen) return json;
  json["value"] = change.value;
  json["sigma"] = change.sigma;
  json["p_value"] = change.p_value;
  json["p_corrected"] = change.p_corrected;
  json["smallest_detectable"] = change.smallest_detectable;
  return json;
}

}  // namespace

nlohmann::ordered_json recheck_json(const sheet::RunSheet& run, const Recheck& recheck) {
  using Json = nlohmann::ordered_json;
  Json causes = Json::array(), changes = Json::array(), stations = Json::array(), trends = Json::array();
  for (const Cause& cause : recheck.causes) {
    Json one = change_json(cause.change);
    one["or_else"] = cause.or_else;
    one["words"] = cause.words;
    causes.push_back(std::move(one));
  }
  for (const ChangeSeen& change : recheck.seen) changes.push_back(change_json(change));
  for (const StationChange& each : recheck.stations)
    stations.push_back({{"at_m", each.at_m},
                        {"from_m", each.from_m},
                        {"to_m", each.to_m},
                        {"change_m", each.change_m},
                        {"change_sigma_m", each.sigma_m},
                        {"roll_change_rad", each.roll_change_rad},
                        {"roll_change_sigma_rad", each.roll_sigma_rad}});
  for (const Trend& trend : recheck.trends) {
    Json one{{"what", trend.what},
             {"surveys", trend.surveys},
             {"days", trend.days},
             {"value_m", trend.value},
             {"sigma_m", trend.sigma},
             {"per_year_m", trend.per_year},
             {"per_year_sigma_m", trend.per_year_sigma},
             {"p_value", trend.p_value},
             {"misfit_p_value", trend.misfit_p}};
    one["limit_m"] = trend.limit ? Json(*trend.limit) : Json();
    one["reached_from_days"] = trend.reached_from_days ? Json(*trend.reached_from_days) : Json();
    one["reached_to_days"] = trend.reached_to_days ? Json(*trend.reached_to_days) : Json();
    one["words"] = trend.words;
    trends.push_back(std::move(one));
  }
  return {{"run", run.title},
          {"from", recheck.from},
          {"to", recheck.to},
          {"stage_from", run.stages[std::size_t(recheck.from_stage)]},
          {"stage_to", run.stages[std::size_t(recheck.to_stage)]},
          {"days", recheck.drift.days},
          {"answer", say::word(recheck.answer)},
          {"reason", recheck.reason},
          {"chi_squared", recheck.statistic},
          {"degrees_of_freedom", recheck.degrees_of_freedom},
          {"p_value", recheck.p_value},
          {"heights_compared", recheck.heights_compared},
          {"marks", recheck.marks},
          {"causes", std::move(causes)},
          {"changes", std::move(changes)},
          {"cannot_be_told_apart", recheck.cannot_be_told_apart},
          {"expected_drift",
           {{"reasons", recheck.drift.reasons},
            {"sag_m", recheck.drift.sag_m},
            {"sag_sigma_m", recheck.drift.sag_sigma_m},
            {"measured_share", recheck.drift.share},
            {"measured_share_sigma", recheck.drift.share_sigma},
            {"verdict", say::word(recheck.drift.verdict)},
            {"words", recheck.drift.words}}},
          {"stations", std::move(stations)},
          {"level_error_from_m", recheck.level_error_from_m},
          {"level_error_to_m", recheck.level_error_to_m},
          {"level_error_to_sigma_m", recheck.level_error_sigma_m},
          {"past_tolerance", recheck.past_tolerance},
          {"trends", std::move(trends)},
          {"remarks", recheck.remarks}};
}

std::string recheck_view(const sheet::RunSheet& run, const Recheck& recheck) {
  const auto fine = [&](double length) { return sheet::show_fine(length, run.show); };
  std::string text = say::heading("RECHECK  " + run.title);
  text += say::folded("From survey " + recheck.from + " (" + run.stages[std::size_t(recheck.from_stage)] +
                      ", " + recheck.from_time.substr(0, 10) + ") to survey " + recheck.to + " (" +
                      run.stages[std::size_t(recheck.to_stage)] + ", " + recheck.to_time.substr(0, 10) +
                      "), " + number(recheck.drift.days, 0) + " days.");
  std::string answer(say::word(recheck.answer));
  for (char& letter : answer) letter = char(std::toupper(static_cast<unsigned char>(letter)));
  text += "\nWhat moved?  " + answer + '\n' + say::folded(recheck.reason);
  for (const Cause& cause : recheck.causes) {
    if (cause.or_else.empty()) continue;
    std::string others;
    for (const std::string& other : cause.or_else) others += (others.empty() ? "" : "; ") + other;
    text += say::folded("  In the place of " + cause.change.name +
                            " these would explain the readings as well: " + others + '.',
                        4);
  }
  text += say::folded("Expected by itself: " + recheck.drift.words);
  for (const std::string& reason : recheck.drift.reasons) text += say::folded("  " + reason, 4);
  std::string marks;
  for (const std::string& mark : recheck.marks) marks += (marks.empty() ? "" : ", ") + mark;
  text += say::folded(
      recheck.heights_compared
          ? "Heights are compared, tied by the stable marks that both surveys read: " + marks + '.'
          : std::string("No stable mark was read in both surveys, so only shape, slope and roll are "
                        "compared: which of two supports moved, and whether all moved, cannot be told."));
  text += '\n' + say::right_set("at", 14) + say::right_set("before", 13) + say::right_set("now", 13) +
          say::right_set("change", 13) + say::right_set("+-", 11) + say::right_set("roll change", 16) + '\n';
  for (const StationChange& each : recheck.stations)
    text += say::right_set(sheet::show_place(each.at_m, run.show), 14) +
            say::right_set(fine(each.from_m), 13) + say::right_set(fine(each.to_m), 13) +
            say::right_set(fine(each.change_m), 13) + say::right_set(fine(each.sigma_m), 11) +
            say::right_set(say::fine_slope_words(each.roll_change_rad, run.show), 16) + '\n';
  text += say::folded(std::string("Heights are less the mean of the earlier survey") +
                      (recheck.heights_compared ? "" : ", changes less their mean") + "; +- is one sigma.");
  if (!recheck.stations.empty()) {
    say::Curve before{'.', "before", {}, {}}, now{'#', "now", {}, {}};
    for (const StationChange& each : recheck.stations) {
      before.at_m.push_back(each.at_m);
      before.height_m.push_back(each.from_m);
      now.at_m.push_back(each.at_m);
      now.height_m.push_back(each.to_m);
    }
    text += say::profile(run, {before, now}) + '\n';
    text += say::folded("Level error at this stage: " + fine(recheck.level_error_from_m) + " before, " +
                        fine(recheck.level_error_to_m) + " +- " + fine(recheck.level_error_sigma_m) + " now" +
                        (run.tolerance.level_m > 0
                             ? "; the sheet allows " + fine(run.tolerance.level_m) + " at stage \"" +
                                   run.stages[std::size_t(run.tolerance.stage)] + '"'
                             : std::string()) +
                        '.');
  }
  text += '\n' + say::column("each change, as if alone", 30) + say::right_set("value", 13) +
          say::right_set("sigma", 12) + say::right_set("chance", 10) + say::right_set("would show", 14) +
          '\n';
  for (const ChangeSeen& change : recheck.seen) {
    text += say::column(change.name, 30);
    if (change.can_be_seen && absurd(change))
      text += say::right_set("would not explain what was read", 50);
    else if (change.can_be_seen)
      text += say::right_set(' ' + amount(change.kind, change.value, run.show), 13) +
              say::right_set(' ' + amount(change.kind, change.sigma, run.show), 12) +
              say::right_set(chance_words(change.p_corrected), 10) +
              say::right_set(amount(change.kind, change.smallest_detectable, run.show), 14);
    else
      text += say::right_set("cannot be seen by these readings", 50);
    text += '\n';
  }
  text += say::folded(
      "Chance: that chance alone would show as much in any of them. Would show: the smallest that this pair "
      "of "
      "surveys would have found in four cases of five.");
  for (const std::string& pair : recheck.cannot_be_told_apart)
    text += say::folded("These readings do not tell apart: " + pair + '.', 4);
  for (const Trend& trend : recheck.trends)
    text += say::folded("Trend over " + std::to_string(trend.days.size()) + " surveys: " + trend.words, 4);
  for (const std::string& remark : recheck.remarks) text += say::folded("Note: " + remark, 6);
  return text + '\n' +
         say::folded(
             "This speaks of movement, not of strength: where a support has moved, keep people from under "
             "the run "
             "until somebody licensed for it has looked at anchors, bolts and framing.");
}

}  // namespace hangtrue::job

namespace hangtrue::say {

std::string_view word(job::RecheckAnswer answer) {
  switch (answer) {
    case job::RecheckAnswer::nothing_moved:
      return "nothing moved";
    case job::RecheckAnswer::moved:
      return "moved";
    case job::RecheckAnswer::moved_somehow:
      return "moved somehow";
    case job::RecheckAnswer::cannot_tell:
      break;
  }
  return "cannot tell";
}

std::string_view word(job::DriftVerdict verdict) {
  switch (verdict) {
    case job::DriftVerdict::none_expected:
      return "none expected";
    case job::DriftVerdict::as_expected:
      return "as expected";
    case job::DriftVerdict::less:
      return "less";
    case job::DriftVerdict::more:
      return "more";
    case job::DriftVerdict::cannot_tell:
      break;
  }
  return "cannot tell";
}

}  // namespace hangtrue::say

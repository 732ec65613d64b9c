#include "tests/trials_of_the_recheck/pairs.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <filesystem>
#include <map>
#include <memory>
#include <random>
#include <stdexcept>
#include <thread>

#include <unistd.h>

#include "core/beam/creep.hpp"
#include "core/change/drift_course.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/recheck.hpp"
#include "tests/trials_of_the_hold_point/dense_run.hpp"

namespace hangtrue::recheck_trials {

using beam::kMotions;
using beam::Motion;
using hold_trials::DenseRun;
using hold_trials::Ground;
using hold_trials::StageShape;
using hold_trials::State;
using hold_trials::TrialSheet;
using hold_trials::TrueRun;

namespace {

constexpr std::array<std::string_view, kHappened> kNames{
    "nothing",    "sink",          "pitch",         "roll",          "load x1.3 to 3",
    "later load", "unlisted load", "stiffness 0.9", "stiffness 0.7", "soft spring",
    "two",        "creep",         "creep, sink",   "two marks",     "mark, sink"};

class Draw {
 public:
  explicit Draw(std::uint64_t seed) : engine_(seed) {}
  double between(double low, double high) { return low + (high - low) * share_(engine_); }
  double evenly_in_ln(double low, double high) { return std::exp(between(std::log(low), std::log(high))); }
  double sign() { return between(0, 1) < 0.5 ? -1 : 1; }
  int below(std::size_t count) { return std::min(int(between(0, 1) * double(count)), int(count) - 1); }

 private:
  std::mt19937_64 engine_;
  std::uniform_real_distribution<double> share_{0, 1};
};

// ---- grounds ---------------------------------------------------------------------------------------------------------

// Glued laminated timber: EN 14080, GL24h (from memory).
const std::string kWood = R"(
[prior]
bending = 0.04
torsion = 0.10
bow = "0.8 mm"
datum_tilt = "0.2 mm/m"
[material.wood]
E = "11.5 GPa"
G = "0.65 GPa"
density = "420 kg/m3"
creep = { material = "glued laminated timber", service_class = 1 }
[[mark]]
name = "lintel"
at = "-300 mm"
)";
const std::string kWoodenShelf = R"(
title = "Wooden shelf"
length = "4200 mm"
width = "380 mm"
stations = { every = "300 mm" }
tolerance = { level = "4 mm", stage = "in use" }
member = [ { name = "spine", from = "0 mm", to = "4200 mm", material = "wood", section = { shape = "solid rectangle", depth = "200 mm", width = "90 mm" } } ]
load = [
  { name = "carcasses", from = "0 mm", to = "4200 mm", mass = "80 kg", across = "20 mm", sigma = 0.05 },
  { name = "books", from = "300 mm", to = "3900 mm", mass = "120 kg", sigma = 0.10, permanent = 0.6 } ]
support = [
  { name = "wall bracket", at = "0 mm", rise = "12 kN/mm", pitch = "600 kN m/rad", roll = "300 kN m/rad", prior = { rise = "2 mm", pitch = "2 mm/m", roll = "2 mm/m", spring = 0.15 } },
  { name = "east rod", at = "3900 mm", rise = "9 kN/mm", pitch = "free", roll = "free", holds = "pull", prior = { rise = "2 mm", spring = 0.15 } } ]
stage = [
  { name = "dressed", supports = ["wall bracket", "east rod"], loads = ["spine", "carcasses"] },
  { name = "in use", supports = ["wall bracket", "east rod"], loads = ["spine", "carcasses", "books"] } ]
)";
const std::string kWoodenRow = R"(
title = "Wooden row"
length = "5600 mm"
width = "350 mm"
stations = { every = "350 mm" }
tolerance = { level = "4 mm", stage = "in use" }
member = [ { name = "rail", from = "0 mm", to = "5600 mm", material = "wood", section = { shape = "solid rectangle", depth = "180 mm", width = "80 mm" } } ]
load = [
  { name = "cases", from = "0 mm", to = "5600 mm", mass = "110 kg", across = "15 mm", sigma = 0.05 },
  { name = "stores", from = "350 mm", to = "5250 mm", mass = "150 kg", sigma = 0.10, permanent = 0.5 } ]
support = [
  { name = "bracket", at = "0 mm", rise = "15 kN/mm", pitch = "free", roll = "200 kN m/rad", prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "post", at = "3150 mm", rise = "20 kN/mm", pitch = "free", roll = "200 kN m/rad", prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "far post", at = "5600 mm", rise = "20 kN/mm", pitch = "free", roll = "200 kN m/rad", prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } } ]
stage = [
  { name = "dressed", supports = ["bracket", "post", "far post"], loads = ["rail", "cases"] },
  { name = "in use", supports = ["bracket", "post", "far post"], loads = ["rail", "cases", "stores"] } ]
)";
const std::string kMark = "\n[[mark]]\nname = \"lintel\"\nat = \"-12 in\"\n";

const std::string kMoreMarks =
    "\n[[mark]]\nname = \"door head\"\nat = \"-24 in\"\n[[mark]]\nname = \"pillar\"\nat = \"30 in\"\n";

bool is_of_marks(Happened what) { return what == Happened::two_marks || what == Happened::mark_sink; }

int stage_of(const Ground& ground) { return ground.finished - 1; }

// ---- what happens ----------------------------------------------------------------------------------------------------

// The run as it really is at the later visit, where it may carry what no sheet of this stage lists.
struct World {
  beam::Run<double> view;
  std::vector<beam::LoadPart<double>> parts;
  std::vector<beam::Stage> stages;
  TrueRun before, truth;  // until then, and since: supports that stand do not engage anew
  explicit World(const Ground& ground, const TrueRun& from)
      : view(ground.view),
        parts(ground.view.load_parts.begin(), ground.view.load_parts.end()),
        stages(ground.view.stages.begin(), ground.view.stages.end()),
        before(from),
        truth(from) {}
  std::optional<std::vector<StageShape>> solve(const Ground& ground) {
    view.load_parts = parts;
    view.stages = stages;
    return DenseRun(view, ground.run.stations_m).solve(before, ground.finished, &truth, ground.finished - 1);
  }
};

double weight_on(const Ground& ground) {
  double all = 0;
  for (std::size_t l = 0; l < ground.run.loads.size(); ++l)
    if (ground.view.stages[std::size_t(stage_of(ground))].lists_load(int(l)))
      all += ground.run.loads[l].weight_N;
  return all;
}

constexpr std::array kMotionNames{": rise", ": pitch", ": roll"};

// One support of the stage that holds that motion; -1: none. `sprung`: with a spring.
int a_support(const Ground& ground, Motion motion, bool sprung, Draw& draw,
              const std::vector<Done1>& not_of) {
  std::vector<int> choices;
  for (int i = 0; i < int(ground.run.supports.size()); ++i) {
    const auto& held = ground.run.beam_supports[std::size_t(i)].restraint(motion);
    const std::string& called = ground.run.supports[std::size_t(i)].name;
    const bool taken = std::any_of(not_of.begin(), not_of.end(),
                                   [&](const Done1& each) { return each.name.starts_with(called + ":"); });
    if (ground.view.stages[std::size_t(stage_of(ground))].lists_support(i) && held.held && !taken &&
        (!sprung || held.compliance > 0))
      choices.push_back(i);
  }
  return choices.empty() ? -1 : choices[std::size_t(draw.below(choices.size()))];
}

bool move(const Ground& ground, Motion motion, double by, Draw& draw, World& world,
          std::vector<Done1>& done) {
  const int support = a_support(ground, motion, false, draw, done);
  if (support < 0) return false;
  world.truth.state.move[support][motion] = by;
  done.push_back({ground.run.supports[std::size_t(support)].name + kMotionNames[std::size_t(motion)], by});
  return true;
}

bool soften(const Ground& ground, Draw& draw, World& world, std::vector<Done1>& done) {
  const Motion motion = kMotions[std::size_t(draw.below(kMotions.size()))];
  const int support = a_support(ground, motion, true, draw, done);
  if (support < 0) return false;
  const double by = std::log(draw.evenly_in_ln(0.2, 0.6));
  world.truth.state.log_spring[support][motion] += by;
  const std::string moved =
      ground.run.supports[std::size_t(support)].name + kMotionNames[std::size_t(motion)];
  done.push_back({moved + " spring", by});
  return true;
}

bool add_load(const Ground& ground, Draw& draw, World& world, std::vector<Done1>& done) {
  std::vector<int> choices;
  for (std::size_t l = 0; l < ground.run.loads.size(); ++l)
    if (ground.view.stages[std::size_t(stage_of(ground))].lists_load(int(l)) &&
        !ground.run.loads[l].is_member && ground.run.loads[l].weight_N > weight_on(ground) / 10)
      choices.push_back(int(l));
  if (choices.empty()) return false;
  const int load = choices[std::size_t(draw.below(choices.size()))];
  const double times = draw.evenly_in_ln(1.3, 3);
  done.push_back({"load " + ground.run.loads[std::size_t(load)].name,
                  (times - 1) * world.truth.state.load_factor[load]});
  world.truth.state.load_factor[load] *= times;
  return true;
}

bool bring_later_load(const Ground& ground, World& world, std::vector<Done1>& done) {
  const beam::Stage &now = ground.view.stages[std::size_t(stage_of(ground))],
                    &later = ground.view.stages[std::size_t(ground.finished)];
  for (std::size_t l = 0; l < ground.run.loads.size(); ++l) {
    if (now.lists_load(int(l)) || !later.lists_load(int(l)) || ground.run.loads[l].weight_N <= 0) continue;
    world.stages[std::size_t(stage_of(ground))].loads |= std::uint64_t(1) << l;
    done.push_back({"load " + ground.run.loads[l].name, world.truth.state.load_factor[l]});
    return true;
  }
  return false;
}

bool bring_unlisted_load(const Ground& ground, Draw& draw, World& world, std::vector<Done1>& done) {
  const double weight = weight_on(ground) * draw.evenly_in_ln(0.1, 0.5);
  const double at = ground.run.stations_m[std::size_t(1 + draw.below(ground.run.stations_m.size() - 2))];
  world.parts.push_back({world.view.loads, beam::LoadKind::point, at, at, weight, weight, 0});
  world.truth.state.load_factor[world.view.loads] = 1;
  for (int s = stage_of(ground); s < int(world.stages.size()); ++s)
    world.stages[std::size_t(s)].loads |= std::uint64_t(1) << world.view.loads;
  ++world.view.loads;
  done.push_back({"", weight});
  return true;
}

bool happen(const Ground& ground, Happened what, Draw& draw, World& world, std::vector<Done1>& done) {
  const auto turn = [&] { return draw.sign() * draw.evenly_in_ln(0.5e-3, 10e-3); };
  switch (what) {
    case Happened::nothing:
    case Happened::creep:
    case Happened::two_marks:
      return true;
    case Happened::sink:
    case Happened::creep_sink:
    case Happened::mark_sink:
      return move(ground, Motion::rise, -draw.evenly_in_ln(0.3e-3, 3e-3), draw, world, done);
    case Happened::pitch:
      return move(ground, Motion::pitch, turn(), draw, world, done);
    case Happened::roll:
      return move(ground, Motion::roll, turn(), draw, world, done);
    case Happened::load:
      return add_load(ground, draw, world, done);
    case Happened::later_load:
      return bring_later_load(ground, world, done);
    case Happened::unlisted_load:
      return bring_unlisted_load(ground, draw, world, done);
    case Happened::stiffness_09:
    case Happened::stiffness_07: {
      const double times = what == Happened::stiffness_09 ? 0.9 : 0.7;
      done.push_back({"bending stiffness", times - 1});
      world.truth.state.bending_factor *= times;
      return true;
    }
    case Happened::soft_spring:
      return soften(ground, draw, world, done);
    case Happened::two: {
      constexpr std::array kOf{Happened::sink, Happened::pitch, Happened::roll, Happened::load};
      const int first = draw.below(kOf.size()), second = (first + 1 + draw.below(kOf.size() - 1)) % 4;
      return happen(ground, kOf[std::size_t(first)], draw, world, done) &&
             happen(ground, kOf[std::size_t(second)], draw, world, done);
    }
    case Happened::count:
      break;
  }
  return false;
}

// The most that any edge moved.
double shown(const Ground& ground, const StageShape& before, const StageShape& after) {
  double most = 0;
  for (const double x : ground.run.stations_m)
    for (const double across : {ground.run.width_m / 2, -ground.run.width_m / 2})
      most = std::max(
          most, std::abs(ground.dense.height(after, x, across) - ground.dense.height(before, x, across)));
  return most;
}

// ---- creep -----------------------------------------------------------------------------------------------------------

// What creep comes to in the end at the stage, by the dense model: the run under its lasting loads, soft less stiff.
class Creep {
 public:
  Creep(const Ground& ground, const TrueRun& truth) {
    std::vector<beam::Piece<double>> soft(ground.view.pieces.size());
    beam::soften<double>(ground.view.pieces, 1, soft);
    beam::Run<double> run = ground.view;
    run.pieces = soft;
    TrueRun lasting = truth;
    for (std::size_t l = 0; l < ground.run.loads.size(); ++l)
      lasting.state.load_factor[l] *= ground.run.loads[l].permanent_share;
    const auto later = DenseRun(run, ground.run.stations_m).solve(lasting, ground.finished);
    const auto first = ground.dense.solve(lasting, ground.finished);
    const auto at = std::size_t(stage_of(ground));
    if (!later || !first) throw std::runtime_error("a wooden run that nothing holds");
    bend_ = (*later)[at].bend - (*first)[at].bend;
    twist_ = (*later)[at].twist - (*first)[at].twist;
  }
  void add(double days, StageShape& to) const {
    to.bend += change::creep_share(days) * bend_;
    to.twist += change::creep_share(days) * twist_;
  }

 private:
  Eigen::VectorXd bend_, twist_;
};

// ---- the book --------------------------------------------------------------------------------------------------------

class Book {
 public:
  explicit Book(const Ground& ground) {
    static std::atomic<int> number{0};
    directory_ = std::filesystem::temp_directory_path() /
                 ("hangtrue-pairs-" + std::to_string(::getpid()) + "-" + std::to_string(number++));
    std::filesystem::create_directories(directory_);
    book_.emplace(book::Book::open((directory_ / "pair.levelbook").string()).value());
    run_ = book_->append(book::Entry{book::RunText{"run.toml", ground.sheet.run}}).value();
    kit_ = book_->append(book::Entry{book::KitText{"kit.toml", hold_trials::kit_text(ground.sheet, true)}})
               .value();
  }
  ~Book() {
    book_.reset();
    std::filesystem::remove_all(directory_);
  }
  Book(const Book&) = delete;
  Book& operator=(const Book&) = delete;

  void survey(const std::string& id, const std::string& stage, double days,
              const std::vector<sheet::ReadingEntry>& readings,
              const std::vector<book::TriedByHand>& tried = {}) {
    const book::Time begun = std::chrono::sys_days(std::chrono::year(2026) / 11 / 5) + std::chrono::hours(9) +
                             std::chrono::duration_cast<std::chrono::seconds>(
                                 std::chrono::duration<double, std::ratio<86400>>(days));
    std::vector<book::Entry> entries{{book::SurveyBegun{id, stage, run_, kit_}, std::nullopt, begun}};
    const book::Number number = last_ + 1;
    int seconds = 0;
    for (const sheet::ReadingEntry& each : readings) {
      book::Taken taken;
      taken.reading = each;
      const book::Time time = begun + std::chrono::seconds(20 * seconds++);
      taken.reading.time = book::rfc3339(time);
      taken.samples = 10;
      entries.push_back({taken, number, time});
    }
    for (const book::TriedByHand& each : tried) entries.push_back({each, number, begun});
    entries.push_back({book::SurveyClosed{}, number, begun});
    const auto appended = book_->append(entries);
    if (!appended.ok()) throw std::runtime_error(appended.fault().says);
    last_ += book::Number(entries.size());
  }
  [[nodiscard]] const book::Book& book() const { return *book_; }

 private:
  std::filesystem::path directory_;
  std::optional<book::Book> book_;
  book::Number run_ = 0, kit_ = 0, last_ = 2;
};

int fits_that_hold(const book::Book& book, const sheet::RunSheet& run) {
  const auto surveys = book.surveys();
  const auto history = job::fit_history(book, run, surveys.value().back());
  int hold = 0;
  for (const job::FittedSurvey& each : history.value().surveys) hold += !each.not_taught;
  return hold;
}

// The line through the true values, weighed as the trend weighs them, beside the stated one.
bool within(const job::Trend& trend, const Ground& ground, const std::vector<StageShape>& shapes) {
  const auto* const level = std::get_if<job::LevelError>(&trend.of);
  if (level == nullptr || trend.value.size() != shapes.size()) return false;
  double w = 0, wt = 0, wy = 0, wtt = 0, wty = 0;
  for (std::size_t i = 0; i < shapes.size(); ++i) {
    const double weight = 1 / (trend.sigma[i] * trend.sigma[i]), t = trend.days[i];
    double nearest = 1e9, y = 0;
    // The trend's points stand at either edge; of the four pairs the one that it took.
    for (const double a : {0.5, -0.5})
      for (const double b : {0.5, -0.5}) {
        const double value = ground.dense.height(shapes[i], level->high_at_m, a * ground.run.width_m) -
                             ground.dense.height(shapes[i], level->low_at_m, b * ground.run.width_m);
        if (std::abs(value - trend.value[i]) < nearest) nearest = std::abs(value - trend.value[i]), y = value;
      }
    w += weight, wt += weight * t, wy += weight * y, wtt += weight * t * t, wty += weight * t * y;
  }
  const double rate = 365.25 * (w * wty - wt * wy) / (w * wtt - wt * wt);
  return std::abs(rate - trend.per_year) < 2 * trend.per_year_sigma;
}

std::string reason(const sheet::RunSheet& run, const job::Recheck& recheck) {
  return say::reason(run, recheck);
}

// Processor time of this thread.
double thread_s() {
  timespec now{};
  ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return double(now.tv_sec) + 1e-9 * double(now.tv_nsec);
}

void compare(const Ground& ground, const Book& book, const std::string& from, const std::string& to,
             Played& played) {
  const double begun = thread_s();
  auto made = job::recheck(book.book(), ground.run, from, to);
  played.took_s = thread_s() - begun;
  played.compared = made.ok();
  played.says =
      made.ok() ? reason(ground.run, made.value()) : say::complaint(ground.run, made.fault()).text();
  if (made.ok()) played.recheck = std::move(made).value();
}

// What a person finds who tries every one-way support by hand.
std::vector<book::TriedByHand> tried_by_hand(const Ground& ground, const StageShape& shape) {
  std::vector<book::TriedByHand> tried;
  for (std::size_t i = 0; i < ground.run.supports.size(); ++i)
    if (ground.run.beam_supports[i].one_way() &&
        ground.view.stages[std::size_t(stage_of(ground))].lists_support(int(i)))
      tried.push_back({ground.run.supports[i].name, ((shape.bearing >> i) & 1u) != 0});
  return tried;
}

// Surveys on the day itself, and after these.
constexpr double kYear = 365, kHalfYear = 180;

std::optional<Played> play_creep(const Ground& ground, Happened what, std::uint64_t seed, State state) {
  Draw draw(seed * 0x9E3779B97F4A7C15u + 177);
  Played played{.what = what, .seed = seed};
  const auto at = std::size_t(state.stage);
  const std::string& stage = ground.run.stages[at];
  const Creep creep(ground, state.truth);
  World world(ground, state.truth);
  if (!happen(ground, what, draw, world, played.truth)) return std::nullopt;
  const auto still = state.shapes;
  const auto after = world.solve(ground);
  if (!after) return std::nullopt;
  std::vector<StageShape> seen;
  Book book(ground);
  for (const auto& [id, days] : {std::pair{"1", 0.0}, {"2", kHalfYear}, {"3", kHalfYear + kYear}}) {
    state.shapes = days > kHalfYear ? *after : still;
    creep.add(days, state.shapes[at]);
    seen.push_back(state.shapes[at]);
    book.survey(id, stage, days, hold_trials::read_on_a_visit(ground, state, 3 * seed + seen.size()));
  }
  compare(ground, book, "2", "3", played);
  played.surveys = 3;
  played.hold = fits_that_hold(book.book(), ground.run);
  const auto all = job::recheck(book.book(), ground.run, "1", "3");
  if (all.ok())
    for (const job::Trend& trend : all.value().trends)
      if (std::holds_alternative<job::LevelError>(trend.of)) {
        played.trend = true;
        played.trend_within = within(trend, ground, seen);
      }
  return played;
}

void move_marks(const Ground& ground, Happened what, Draw& draw, State& state, std::vector<Done1>& done) {
  const int marks = int(ground.run.marks.size()), first = draw.below(std::size_t(marks));
  for (int k = 0; k < (what == Happened::two_marks ? 2 : 1); ++k) {
    const auto mark = std::size_t((first + k) % marks);
    const double by = draw.sign() * draw.evenly_in_ln(2e-3, 8e-3);
    state.mark_height_m[mark] += by;
    done.push_back({"mark " + ground.run.marks[mark].name + ": height", by});
  }
}

std::optional<Played> play_year(const Ground& ground, Happened what, std::uint64_t seed, bool tried,
                                const State& state) {
  const auto at = std::size_t(state.stage);
  constexpr int kTries = 100;
  for (int attempt = 0; attempt < kTries; ++attempt) {
    Draw draw((seed * 0x9E3779B97F4A7C15u + std::uint64_t(what)) * 1009 + std::uint64_t(attempt));
    Played played{.what = what, .seed = seed};
    World world(ground, state.truth);
    if (!happen(ground, what, draw, world, played.truth)) continue;
    State later = state;
    const auto shapes = world.solve(ground);
    if (!shapes) continue;
    later.shapes = *shapes;
    if (later.shapes[at].bearing != state.shapes[at].bearing) continue;
    if (!played.truth.empty() && shown(ground, state.shapes[at], later.shapes[at]) < kLeastShown_m) continue;
    if (is_of_marks(what)) move_marks(ground, what, draw, later, played.truth);
    Book book(ground);
    const std::string& stage = ground.run.stages[at];
    const auto nuts = tried ? tried_by_hand(ground, state.shapes[at]) : std::vector<book::TriedByHand>();
    book.survey("1", stage, 0, hold_trials::read_on_a_visit(ground, state, 2 * seed), nuts);
    book.survey("2", stage, kYear, hold_trials::read_on_a_visit(ground, later, 2 * seed + 1), nuts);
    compare(ground, book, "1", "2", played);
    return played;
  }
  return std::nullopt;
}

}  // namespace

std::string_view name(Happened what) { return kNames[std::size_t(what)]; }

bool is_of_wood(const Ground& ground) { return ground.run.pieces.front().bending_creep > 0; }

std::vector<Ground> recheck_grounds() {
  std::vector<Ground> grounds;
  grounds.reserve(hold_trials::trial_sheets().size() + 2);
  std::string both;
  for (TrialSheet sheet : hold_trials::trial_sheets()) {
    if (sheet.kit.find("laser") != std::string::npos) sheet.run += kMark;
    if (sheet.name == "cabinet row") both = sheet.kit;
    grounds.emplace_back(sheet);
  }
  grounds.emplace_back(TrialSheet{"wooden shelf", kWoodenShelf + kWood, both, {}, "dressed"});
  grounds.emplace_back(TrialSheet{"wooden row", kWoodenRow + kWood, both, {}, "dressed"});
  return grounds;
}

bool Played::right(bool as_well) const {
  if (!compared || recheck.causes.size() < truth.size()) return false;
  std::vector<bool> used(truth.size());
  const auto is = [&](const job::UnknownId& id, const Done1& of) {
    const std::string called = job::name_of(job::changed_quantity(id));
    return of.name.empty() ? called.starts_with("unlisted load") : called == of.name;
  };
  for (std::size_t k = 0; k < truth.size(); ++k) {
    const job::Cause& cause = recheck.causes[k];
    bool found = false;
    for (std::size_t t = 0; t < truth.size() && !found; ++t) {
      if (used[t]) continue;
      found = is(cause.change.id, truth[t]) ||
              (as_well && std::any_of(cause.or_else.begin(), cause.or_else.end(),
                                      [&](const job::UnknownId& id) { return is(id, truth[t]); }));
      if (found) used[t] = true;
    }
    if (!found) return false;
  }
  return true;
}

std::vector<double> Played::z() const {
  std::vector<double> all;
  for (const job::Cause& cause : recheck.causes)
    for (const Done1& of : truth)
      if (job::name_of(job::changed_quantity(cause.change.id)) == of.name)
        all.push_back((cause.change.change.value - of.size) / cause.change.change.sigma);
  return all;
}

std::optional<Played> play(const Ground& ground, Happened what, std::uint64_t seed, bool tried) {
  const bool creeps = what == Happened::creep || what == Happened::creep_sink;
  if (creeps != is_of_wood(ground)) return std::nullopt;
  if (is_of_marks(what) && !ground.has_laser()) return std::nullopt;
  std::optional<Ground> marked;
  if (is_of_marks(what)) {
    TrialSheet sheet = ground.sheet;
    sheet.run += kMoreMarks;
    marked.emplace(sheet);
  }
  const Ground& on = marked ? *marked : ground;
  const auto state = hold_trials::draw_unread(on, stage_of(on), seed);
  if (!state) return std::nullopt;
  if (creeps) return play_creep(on, what, seed, *state);
  return play_year(on, what, seed, tried, *state);
}

std::vector<Played> play_all(std::span<const Ground> grounds, std::span<const Happened> kinds, int each,
                             std::uint64_t first_seed, int workers, bool tried) {
  std::vector<std::optional<Played>> played(kinds.size() * std::size_t(each));
  std::atomic<std::size_t> next{0};
  const auto work = [&] {
    for (std::size_t i = next++; i < played.size(); i = next++) {
      const std::uint64_t seed = first_seed + i % std::size_t(each);
      for (std::size_t turn = 0; turn < grounds.size() && !played[i]; ++turn) {
        const std::size_t kind = i / std::size_t(each),
                          sheet = (std::size_t(seed) + 5 * kind + turn) % grounds.size();
        played[i] = play(grounds[sheet], kinds[kind], seed, tried);
        if (played[i]) played[i]->sheet = sheet;
      }
    }
  };
  std::vector<std::thread> threads;
  for (int w = 1; w < workers; ++w) threads.emplace_back(work);
  work();
  for (std::thread& one : threads) one.join();
  std::vector<Played> result;
  for (auto& one : played)
    if (one) result.push_back(std::move(*one));
  return result;
}

LongBook long_book(const Ground& ground, int surveys, std::uint64_t seed) {
  const auto state = hold_trials::draw_unread(ground, stage_of(ground), seed);
  if (!state) throw std::runtime_error("that sheet has no such state");
  Book book(ground);
  // A book's times end with 2199; zero errors last for a fortnight, and those of the last surveys are each their own.
  double days = 0;
  for (int k = 1; k <= surveys; ++k) {
    days += k + 30 < surveys ? 6 : 15;
    book.survey(std::to_string(k), ground.run.stages[std::size_t(state->stage)], days,
                hold_trials::read_on_a_visit(ground, *state, seed * 1'000'003 + std::uint64_t(k)));
  }
  LongBook told;
  const auto time = [&](int from, std::string& says) {
    const double begun = thread_s();
    const auto made = job::recheck(book.book(), ground.run, std::to_string(from), std::to_string(surveys));
    says = made.ok() ? reason(ground.run, made.value()) : say::complaint(ground.run, made.fault()).text();
    return thread_s() - begun;
  };
  told.first_to_last_s = time(1, told.first_to_last);
  told.last_two_s = time(surveys - 1, told.last_two);
  return told;
}

void print_table(std::ostream& out, std::span<const Played> played) {
  struct Row {
    int pairs = 0, refused = 0, cannot = 0, nothing = 0, somehow = 0, first = 0, as_well = 0, more = 0, z = 0,
        within = 0, named = 0, beside = 0, surveys = 0, hold = 0, trends = 0, trends_within = 0;
    double squares = 0, took_s = 0, slowest_s = 0;
  };
  std::map<Happened, Row> rows;
  Row changed;
  for (const Played& each : played) {
    const bool a_change = !each.truth.empty() && each.surveys == 0;
    for (Row* const row : {&rows[each.what], a_change ? &changed : nullptr}) {
      if (row == nullptr) continue;
      ++row->pairs;
      row->refused += !each.compared;
      row->cannot += each.compared && each.recheck.answer == job::RecheckAnswer::cannot_tell;
      row->nothing += each.compared && !each.alarm();
      row->somehow += each.compared && each.recheck.answer == job::RecheckAnswer::moved_somehow;
      row->first += !each.truth.empty() && each.right(false);
      row->as_well += !each.truth.empty() && each.right(true);
      row->more += each.recheck.causes.size() > each.truth.size();
      for (const job::Cause& cause : each.recheck.causes) {
        ++row->named;
        row->beside += int(cause.or_else.size());
      }
      for (const double z : each.z()) {
        ++row->z;
        row->within += std::abs(z) < 2;
        row->squares += z * z;
      }
      row->surveys += each.surveys;
      row->hold += each.hold;
      row->trends += each.trend;
      row->trends_within += each.trend_within;
      row->took_s += each.took_s;
      row->slowest_s = std::max(row->slowest_s, each.took_s);
    }
  }
  const auto print = [&](std::string_view called, const Row& row) {
    char text[240];
    std::snprintf(
        text, sizeof text,
        "%-16s %5d %5d %6d %7d %7d | %6d %6d %6d %6.1f | %5d %6.1f %6.2f | %4d/%-4d %4d %4d | %6.0f %6.0f\n",
        std::string(called).c_str(), row.pairs, row.refused, row.cannot, row.nothing, row.somehow, row.first,
        row.as_well, row.more, row.named > 0 ? 1 + double(row.beside) / row.named : 0.0, row.z,
        row.z > 0 ? 100.0 * row.within / row.z : 0.0, row.z > 0 ? std::sqrt(row.squares / row.z) : 0.0,
        row.hold, row.surveys, row.trends, row.trends_within, 1e3 * row.took_s / std::max(row.pairs, 1),
        1e3 * row.slowest_s);
    out << text;
  };
  out << "                 pairs refus cannot nothing somehow |  first aswell   more  group |     z   <2s %  "
         "rms z "
         "|  "
         "hold/of  trend band | ms mean    max\n";
  for (const auto& [what, row] : rows) print(name(what), row);
  print("all changes", changed);
  out << R"(
cannot, nothing, somehow   answered "cannot tell", "nothing moved", "moved somehow"
first, aswell              the true causes named first; or at least among what is said to explain as well
more                       more causes named than there were
group                      how many stand together as as likely, the one that is named first included: mean over what is named
z, <2s, rms z              stated sizes of rightly named causes; of them within 2 sigma; r.m.s. of (stated - true) / sigma
hold/of, trend, band       wood: fits that hold; level error's trend found from 1 to 3; its rate within 2 sigma of the true one
ms                         of one recheck, of processor time
)";
}

}  // namespace hangtrue::recheck_trials

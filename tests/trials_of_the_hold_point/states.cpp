#include "tests/trials_of_the_hold_point/states.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <random>

namespace hangtrue::hold_trials {

using beam::kMotions;
using beam::Motion;
using survey::Edge;

namespace {

constexpr std::array<std::string_view, kKinds> kNames{"right, level",         "right, level, early",
                                                      "right, unlevel",       "right, unlevel, early",
                                                      "right, bearing sets",  "right, walk not closed",
                                                      "slip early",           "slip late",
                                                      "slip in closing",      "slip, not closed",
                                                      "datum knocked",        "one stray",
                                                      "strays together",      "stop misplaced",
                                                      "two stations only",    "takes degrees",
                                                      "takes percent",        "takes in/ft",
                                                      "takes inches",         "sign swapped",
                                                      "wrong though checked", "soft bracket",
                                                      "from the other end",   "lift hangs free",
                                                      "load forgotten",       "load doubled",
                                                      "faces of a stop",      "face of one reading"};

class Draw {
 public:
  explicit Draw(std::uint64_t seed) : engine_(seed) {}
  double normal() { return normal_(engine_); }
  double between(double low, double high) { return low + (high - low) * share_(engine_); }
  /// Low, high and what lies between, each as likely.
  int whole(int low, int high) { return low + int(between(0, 1) * (high - low + 1) * (1 - 1e-12)); }
  bool chance(double p) { return between(0, 1) < p; }
  double sign() { return chance(0.5) ? 1 : -1; }
  template <class Values>
  auto one_of(const Values& values) {
    return values[std::size_t(whole(0, int(std::size(values)) - 1))];
  }

 private:
  std::mt19937_64 engine_;
  std::normal_distribution<double> normal_;
  std::uniform_real_distribution<double> share_{0, 1};
};

// ---- what is true of the run -----------------------------------------------------------------------------------------

bool listed(const Ground& ground, int from, int to, int support) {
  for (int s = from; s <= to; ++s)
    if (ground.view.stages[std::size_t(s)].lists_support(support)) return true;
  return false;
}

// Offsets of supports up to the survey, springs, factors, bow: by the priors. Misfits to come are left at nothing.
TrueRun from_priors(const Ground& ground, int stage, Draw& draw) {
  TrueRun truth;
  beam::State<double>& state = truth.state;
  const sheet::RunSheet& run = ground.run;
  for (int i = 0; i < int(run.supports.size()); ++i)
    for (const Motion m : kMotions) {
      const sheet::SupportEntry& support = run.supports[std::size_t(i)];
      if (!run.beam_supports[std::size_t(i)].restraint(m).held) continue;
      state.log_spring[i][m] = support.log_spring_sigma[m] * draw.normal();
      if (listed(ground, 0, stage, i))
        state.offset[i][m] = support.offset_mean[m] + support.offset_sigma[m] * draw.normal();
    }
  state.bending_factor = 1 + run.priors.bending_sigma * draw.normal();
  state.torsion_factor = 1 + run.priors.torsion_sigma * draw.normal();
  for (std::size_t l = 0; l < run.loads.size(); ++l)
    state.load_factor[l] = 1 + run.loads[l].sigma * draw.normal();
  for (int k = 0; k < run.priors.bows; ++k)
    state.bow_m[k] = run.priors.bow_sigma_m / ((k + 1) * (k + 1)) * draw.normal();
  state.move_stage = stage;
  truth.which = std::uint32_t(draw.whole(0, 5));  // 6 is divided by 1, 2 and 3 equilibria alike
  return truth;
}

// How later supports meet the run: their misfit; where pulled home, how far their own zero is off.
void draw_fit_up(const Ground& ground, int stage, Draw& draw, TrueRun& truth) {
  const sheet::RunSheet& run = ground.run;
  for (int i = 0; i < int(run.supports.size()); ++i) {
    if (listed(ground, 0, stage, i)) continue;
    const sheet::SupportEntry& support = run.supports[std::size_t(i)];
    for (const Motion m : kMotions)
      if (run.beam_supports[std::size_t(i)].restraint(m).held)
        truth.state.offset[i][m] = support.fit_up_sigma[int(m)] * draw.normal();
  }
}

double finished_error(const Ground& ground, const std::vector<StageShape>& shapes) {
  return level_error(ground.dense, shapes.back(), ground.run.stations_m, ground.run.width_m,
                     ground.run.tolerance.target_height_m);
}

bool all_bear(const Ground& ground, int from_stage, const std::vector<StageShape>& shapes) {
  for (int s = from_stage; s < int(shapes.size()); ++s)
    if (shapes[std::size_t(s)].bearing != ground.view.stages[std::size_t(s)].supports) return false;
  return true;
}

Eigen::VectorXd check_points(const Ground& ground, const StageShape& shape) {
  Eigen::VectorXd heights(Eigen::Index(2 * ground.run.stations_m.size()));
  Eigen::Index row = 0;
  for (const double x : ground.run.stations_m)
    for (const double across : {ground.run.width_m / 2, -ground.run.width_m / 2})
      heights(row++) = ground.dense.height(shape, x, across);
  return heights.array() - heights.mean();
}

double prior_sigma(const Ground& ground, int support, Motion motion) {
  return ground.run.supports[std::size_t(support)].offset_sigma[int(motion)];
}

// Sets the offsets of what is engaged at the survey so that the finished run is as level as they can make it, then some of the
// way back. False where that does not reach well within the tolerance with every support bearing.
bool make_level(const Ground& ground, int stage, Draw& draw, TrueRun& truth) {
  struct Knob {
    int support;
    Motion motion;
  };
  std::vector<Knob> knobs;
  for (int i = 0; i < int(ground.run.supports.size()); ++i)
    if (ground.view.stages[std::size_t(stage)].lists_support(i))
      for (const Motion m : kMotions)
        if (ground.run.beam_supports[std::size_t(i)].restraint(m).held) knobs.push_back({i, m});
  constexpr double kStep = 1e-3;
  for (int round = 0; round < 3; ++round) {
    const auto now = ground.dense.solve(truth, ground.finished);
    if (!now) return false;
    const Eigen::VectorXd heights = check_points(ground, now->back());
    Eigen::MatrixXd by(heights.size(), Eigen::Index(knobs.size()));
    for (std::size_t k = 0; k < knobs.size(); ++k) {
      TrueRun moved = truth;
      moved.state.offset[knobs[k].support][knobs[k].motion] += kStep;
      const auto then = ground.dense.solve(moved, ground.finished);
      if (!then) return false;
      by.col(Eigen::Index(k)) = (check_points(ground, then->back()) - heights) / kStep;
    }
    // Level to a twentieth of the tolerance, but no offset farther from its prior than that needs: a state that the sheet's own
    // priors rule out is no right one.
    const double level = std::pow(0.05 * ground.run.tolerance.level_m, 2);
    Eigen::MatrixXd normal = by.transpose() * by / level;
    Eigen::VectorXd right = by.transpose() * heights / level;
    for (std::size_t k = 0; k < knobs.size(); ++k) {
      const double weight = 1 / std::pow(prior_sigma(ground, knobs[k].support, knobs[k].motion), 2);
      normal(Eigen::Index(k), Eigen::Index(k)) += weight;
      right(Eigen::Index(k)) += weight * truth.state.offset[knobs[k].support][knobs[k].motion];
    }
    const Eigen::VectorXd change = -normal.ldlt().solve(right);
    for (std::size_t k = 0; k < knobs.size(); ++k)
      truth.state.offset[knobs[k].support][knobs[k].motion] += change(Eigen::Index(k));
  }
  const double tolerance = ground.run.tolerance.level_m;
  for (double back = 0.25; back > 0.02; back /= 2) {
    TrueRun tried = truth;
    for (const Knob& knob : knobs)
      tried.state.offset[knob.support][knob.motion] +=
          back * tolerance * draw.normal() / (knob.motion == Motion::rise ? 1 : ground.run.length_m / 3);
    const auto shapes = ground.dense.solve(tried, ground.finished);
    if (!shapes || finished_error(ground, *shapes) > 0.6 * tolerance || !all_bear(ground, stage, *shapes))
      continue;
    const bool likely = std::all_of(knobs.begin(), knobs.end(), [&](const Knob& knob) {
      return std::abs(tried.state.offset[knob.support][knob.motion]) <
             2 * prior_sigma(ground, knob.support, knob.motion);
    });
    if (!likely) continue;
    truth = tried;
    return true;
  }
  return false;
}

// ---- what a person reads ---------------------------------------------------------------------------------------------

struct Stop {
  int station;  // noted
  bool closing;
};

// The instruments as they are, and the walk as it goes.
class Walk {
 public:
  Walk(const Ground& ground, const State& state, Draw& draw) : ground_(ground), state_(state), draw_(draw) {
    for (const sheet::KitInstrument& instrument : ground.checked.instruments)
      for (const sheet::KitChannel& channel : instrument.channels)
        zeros_.push_back({instrument.name, channel.gives, channel.zero_sigma * draw.normal()});
    stations_.resize(ground.run.stations_m.size());
    for (std::size_t i = 0; i < stations_.size(); ++i) stations_[i] = int(i);
  }

  // What may be wrong; set before read().
  std::vector<StageShape> shapes_before;  // the run until `from_reading`; empty: it does not move
  int from_reading = 0;
  double knock_height_m = 0,
         knock_tilt = 0;  // of the datum, from `knock_from` on, among readings of the first set-up
  int knock_from = 0;
  int misplaced_station = -1, misplaced_by = 0, misplaced_visit = 0;
  bool mirrored = false;
  std::array<double, 3> factor{1, 1, 1};  // on what slope, roll and distance give
  int faces_swapped_at = -1;              // station, when it is first read

  void read_only_at(std::vector<int> stations) { stations_ = std::move(stations); }

  /// How many readings the walk will have, and how many of them before it closes.
  struct Length {
    int all, before_closing;
  };
  [[nodiscard]] Length length() {
    Walk counted = *this;
    Length length{0, -1};
    counted.counting_ = &length;
    counted.read();
    length.all = int(counted.entries_.size());
    if (length.before_closing < 0) length.before_closing = length.all;
    return length;
  }

  [[nodiscard]] const std::vector<TrueZero>& zeros() const { return zeros_; }
  [[nodiscard]] const std::vector<TrueDatum>& datums() const { return datums_; }

  std::vector<sheet::ReadingEntry> read() {
    const sheet::KitInstrument* const inclinometer = find(Channel::slope);
    const sheet::KitInstrument* const laser = find(Channel::distance);
    for (const int station : stations_) stop(*inclinometer, station);
    if (laser != nullptr)
      for (int set_up = 0; set_up < 2; ++set_up) {
        datums_.push_back({set_up == 0 ? "A" : "B", draw_.between(-1.5, -0.9),
                           ground_.run.priors.datum_tilt_sigma * draw_.normal()});
        shoot_marks(*laser);
        for (const int station : stations_) shoot(*laser, station);
        if (state_.closed)
          for (const int station : closing()) shoot(*laser, station);
        shoot_marks(*laser);
      }
    if (counting_ != nullptr) counting_->before_closing = int(entries_.size());
    if (state_.closed)
      for (const int station : closing()) stop(*inclinometer, station);
    return entries_;
  }

 private:
  [[nodiscard]] const sheet::KitInstrument* find(Channel gives) const {
    for (const sheet::KitInstrument& each : ground_.checked.instruments)
      for (const sheet::KitChannel& channel : each.channels)
        if (channel.gives == gives) return &each;
    return nullptr;
  }
  [[nodiscard]] std::vector<int> closing() const {
    if (stations_.size() < 3) return stations_;
    return {stations_.front(), stations_[stations_.size() / 2], stations_.back()};
  }
  // Where the instrument then really stands.
  double arrive(int station) {
    const int stations = int(ground_.run.stations_m.size());
    const int visit = visits_[std::size_t(station)]++;
    int real = mirrored ? stations - 1 - station : station;
    if (station == misplaced_station && visit == misplaced_visit)
      real = std::clamp(real + misplaced_by, 0, stations - 1);
    faces_swapped_ = station == faces_swapped_at && visit == 0;
    return ground_.run.stations_m[std::size_t(real)];
  }
  [[nodiscard]] const StageShape& shape() const {
    const bool before = !shapes_before.empty() && int(entries_.size()) < from_reading;
    return (before ? shapes_before : state_.shapes)[std::size_t(state_.stage)];
  }
  [[nodiscard]] double zero_of(const std::string& instrument, Channel channel) const {
    for (const auto& each : zeros_)
      if (each.instrument == instrument && each.channel == channel) return each.zero;
    return 0;
  }

  void stop(const sheet::KitInstrument& instrument, int station) {
    const double x = arrive(station), length = ground_.run.length_m;
    for (const int face : {1, -1})
      for (const sheet::KitChannel& channel : instrument.channels) {
        double seen;
        if (channel.gives == Channel::slope) {
          const double first = std::clamp(x - channel.base_m / 2, 0.0, length - channel.base_m);
          seen =
              (ground_.dense.height(shape(), first + channel.base_m) - ground_.dense.height(shape(), first)) /
              channel.base_m;
        } else {
          seen = ground_.dense.roll(shape(), x);
        }
        if (mirrored) seen = -seen;
        note(instrument, channel, station, face, Edge::middle, "", face * seen);
      }
  }

  void shoot(const sheet::KitInstrument& instrument, int station) {
    const sheet::KitChannel& channel = instrument.channels.front();
    const double x = arrive(station);
    for (const Edge edge : {Edge::left, Edge::right}) {
      const double across = int(edge) * ground_.run.width_m / 2 * (mirrored ? -1 : 1);
      const TrueDatum& placed = datums_.back();
      double datum = placed.height_m + placed.tilt_rad * x;
      if (datums_.size() == 1 && shots_++ >= knock_from) datum += knock_height_m + knock_tilt * x;
      note(instrument, channel, station, 1, edge, placed.set_up,
           ground_.dense.height(shape(), x, across) - datum);
    }
  }

  void shoot_marks(const sheet::KitInstrument& instrument) {
    const TrueDatum& placed = datums_.back();
    for (std::size_t m = 0; m < ground_.run.marks.size(); ++m) {
      const double at = ground_.run.marks[m].at_m;
      note(instrument, instrument.channels.front(), 0, 1, Edge::middle, placed.set_up,
           state_.mark_height_m[m] - placed.height_m - placed.tilt_rad * at);
      entries_.back().at_m = at;
      entries_.back().mark = ground_.run.marks[m].name;
    }
  }

  void note(const sheet::KitInstrument& instrument, const sheet::KitChannel& channel, int station, int face,
            Edge edge, std::string set_up, double seen) {
    const double scale = factor[channel.gives == Channel::slope ? 0 : channel.gives == Channel::roll ? 1 : 2];
    sheet::ReadingEntry entry;
    char time[32];
    const int seconds = 20 * int(entries_.size());
    std::snprintf(time, sizeof time, "2026-11-05T%02d:%02d:%02dZ", 9 + seconds / 3600, seconds / 60 % 60,
                  seconds % 60);
    entry.time = time;
    entry.set_up = std::move(set_up);
    entry.instrument = instrument.name;
    entry.channel = channel.gives;
    entry.at_m = ground_.run.stations_m[std::size_t(station)];
    entry.face = faces_swapped_ ? -face : face;
    entry.edge = edge;
    entry.sigma = channel.sigma;
    entry.base_m = channel.base_m;
    entry.value = scale * (seen + zero_of(instrument.name, channel.gives) + channel.sigma * draw_.normal());
    entries_.push_back(std::move(entry));
  }

  const Ground& ground_;
  const State& state_;
  Draw& draw_;
  std::vector<TrueZero> zeros_;
  std::vector<TrueDatum> datums_;
  std::vector<int> stations_;
  std::vector<sheet::ReadingEntry> entries_;
  Length* counting_ = nullptr;
  int shots_ = 0;
  std::vector<int> visits_ = std::vector<int>(ground_.run.stations_m.size());  // by station
  bool faces_swapped_ = false;
};

// ---- kinds -----------------------------------------------------------------------------------------------------------

bool early(Kind kind, Draw& draw) {
  switch (kind) {
    case Kind::level_early:
    case Kind::unlevel_early:
      return true;
    case Kind::level:
    case Kind::unlevel:
    case Kind::slip_not_closed:
      return false;
    default:
      return draw.chance(0.3);
  }
}

bool wants_level(Kind kind, Draw& draw) {
  switch (kind) {
    case Kind::level:
    case Kind::level_early:
      return true;
    case Kind::unlevel:
    case Kind::unlevel_early:
    case Kind::bearing:
    case Kind::lift_hangs_free:
      return false;
    default:
      return draw.chance(0.6);  // what would be told ready matters most
  }
}

// One-way supports of the survey's stage, some of them so low that they hang free.
bool let_hang_free(const Ground& ground, int stage, bool at_least_one, Draw& draw, TrueRun& truth) {
  const std::uint32_t at_stage = ground.view.stages[std::size_t(stage)].supports;
  for (int i = 0; i < int(ground.run.supports.size()); ++i)
    if (((at_stage >> i) & 1u) != 0 && ground.run.beam_supports[std::size_t(i)].one_way() && draw.chance(0.5))
      truth.state.offset[i].rise -= draw.between(1e-3, 10e-3);
  const auto shapes = ground.dense.solve(truth, ground.finished);
  return shapes && (!at_least_one || (*shapes)[std::size_t(stage)].bearing != at_stage);
}

// A bracket called rigid that yields: a part of the run's own flexibility there, with everything finished engaged.
bool soften(const Ground& ground, int stage, Draw& draw, TrueRun& truth) {
  struct Choice {
    int support;
    Motion motion;
    double flexibility;
  };
  std::vector<Choice> choices;
  const std::uint32_t engaged = ground.view.stages[std::size_t(ground.finished)].supports;
  for (int i = 0; i < int(ground.run.supports.size()); ++i)
    for (const Motion m : kMotions) {
      const auto& restraint = ground.run.beam_supports[std::size_t(i)].restraint(m);
      if (!restraint.held || restraint.compliance > 0 || !listed(ground, 0, stage, i)) continue;
      if (((engaged >> i) & 1u) == 0) continue;
      if (const auto own = ground.dense.flexibility(engaged, i, m)) choices.push_back({i, m, *own});
    }
  if (choices.empty()) return false;
  const Choice soft = draw.one_of(choices);
  truth.added_compliance[soft.support][soft.motion] = draw.between(0.02, 0.2) * soft.flexibility;
  return true;
}

// A load that is on at the survey, and matters: a tenth of all that is on.
bool mistake_load(const Ground& ground, int stage, double factor, Draw& draw, TrueRun& truth) {
  std::vector<int> choices;
  double all = 0;
  for (std::size_t l = 0; l < ground.run.loads.size(); ++l)
    if (ground.view.stages[std::size_t(stage)].lists_load(int(l))) all += ground.run.loads[l].weight_N;
  for (std::size_t l = 0; l < ground.run.loads.size(); ++l)
    if (ground.view.stages[std::size_t(stage)].lists_load(int(l)) && !ground.run.loads[l].is_member &&
        ground.run.loads[l].weight_N > all / 10)
      choices.push_back(int(l));
  if (choices.empty()) return false;
  truth.state.load_factor[draw.one_of(choices)] *= factor;
  return true;
}

// One support that is engaged moves: up to what would be two tolerances, or as much of an angle over a third of the run.
bool slip(const Ground& ground, int stage, Draw& draw, TrueRun& truth) {
  std::vector<std::pair<int, Motion>> choices;
  for (int i = 0; i < int(ground.run.supports.size()); ++i)
    for (const Motion m : kMotions)
      if (ground.view.stages[std::size_t(stage)].lists_support(i) &&
          ground.run.beam_supports[std::size_t(i)].restraint(m).held)
        choices.push_back({i, m});
  const auto [support, motion] = draw.one_of(choices);
  const double size = draw.between(0.1, 2) * ground.run.tolerance.level_m * (draw.chance(0.7) ? -1 : 1);
  truth.state.move[support][motion] = motion == Motion::rise ? size : size / (ground.run.length_m / 3);
  return ground.dense.solve(truth, ground.finished).has_value();
}

void mistake_units(Kind kind, Draw& draw, const Ground& ground, Walk& walk) {
  if (kind == Kind::wrong_though_checked)
    kind = draw.one_of(std::array{Kind::takes_degrees, Kind::takes_percent, Kind::takes_in_per_ft,
                                  Kind::takes_inches, Kind::sign_swapped});
  constexpr double kDegree = 57.29577951308232, kInch = 0.0254;
  const double sheet_unit = !ground.run.show.is_metric() ? 12 : 1000;  // in/ft or mm/m of one radian
  std::array<double, 3>& factor = walk.factor;
  switch (kind) {
    case Kind::takes_degrees:
      factor[0] = factor[1] = kDegree / sheet_unit;
      break;
    case Kind::takes_percent:
      factor[0] = factor[1] = 100 / sheet_unit;
      break;
    case Kind::takes_in_per_ft:  // or mm/m where the sheet has in/ft
      factor[0] = factor[1] = sheet_unit == 12 ? 1000.0 / 12 : 12.0 / 1000;
      break;
    case Kind::takes_inches:
      factor[2] = sheet_unit == 12 ? 1000 * kInch : 1 / (1000 * kInch);
      break;
    default:  // one channel's sign, or both
      if (const int which = draw.whole(0, 2); which < 2)
        factor[std::size_t(which)] = -1;
      else
        factor[0] = factor[1] = -1;
      break;
  }
}

// What only the walk or the noting does wrong. False where the ground cannot have it.
bool misread(Kind kind, const Ground& ground, Draw& draw, Walk& walk) {
  const int stations = int(ground.run.stations_m.size());
  switch (kind) {
    case Kind::datum_knocked:
      if (!ground.has_laser()) return false;
      walk.knock_from =
          draw.whole(2, 2 * stations + 4);  // the last of the first set-up's shots but one at the latest
      if (draw.chance(0.7))
        walk.knock_height_m = draw.sign() * draw.between(0.3e-3, 5e-3);
      else
        walk.knock_tilt = draw.sign() * draw.between(0.2e-3, 3e-3);
      return true;
    case Kind::stop_misplaced:
      walk.misplaced_station = draw.whole(0, stations - 1);
      walk.misplaced_visit = draw.whole(0, ground.has_laser() ? 2 : 0);
      walk.misplaced_by = draw.whole(1, 3) * (walk.misplaced_station < 3               ? 1
                                              : walk.misplaced_station >= stations - 3 ? -1
                                                                                       : int(draw.sign()));
      return true;
    case Kind::two_stations: {
      const int first = draw.whole(0, stations - 2);
      walk.read_only_at({first, draw.whole(first + 1, stations - 1)});
      return true;
    }
    case Kind::takes_inches:
      if (!ground.has_laser()) return false;
      [[fallthrough]];
    case Kind::takes_degrees:
    case Kind::takes_percent:
    case Kind::takes_in_per_ft:
    case Kind::sign_swapped:
    case Kind::wrong_though_checked:
      mistake_units(kind, draw, ground, walk);
      return true;
    case Kind::from_other_end:
      walk.mirrored = true;
      return true;
    case Kind::face_of_a_stop:
      walk.faces_swapped_at = draw.whole(0, stations - 1);
      return true;
    default:
      return true;
  }
}

// Strays and one wrong face: readings already taken.
void spoil(Kind kind, Draw& draw, std::vector<sheet::ReadingEntry>& readings) {
  const int last = int(readings.size()) - 1;
  const auto stray = [&](sheet::ReadingEntry& entry, double sigmas) { entry.value += sigmas * entry.sigma; };
  if (kind == Kind::one_stray)
    stray(readings[std::size_t(draw.whole(0, last))],
          draw.sign() * std::exp(draw.between(std::log(4), std::log(300))));
  if (kind == Kind::strays_together) {
    const int many = draw.whole(3, std::max(3, last / 6));
    const int first = draw.chance(0.3) ? last + 1 - many : draw.whole(0, last + 1 - many);
    const bool alike = draw.chance(0.5);
    const double size = draw.sign() * std::exp(draw.between(std::log(4), std::log(100)));
    for (int i = first; i < first + many; ++i)
      stray(readings[std::size_t(i)], alike ? size : size * draw.normal());
  }
  if (kind == Kind::face_of_one) {
    std::vector<int> turned;
    for (int i = 0; i <= last; ++i)
      if (readings[std::size_t(i)].channel != Channel::distance) turned.push_back(i);
    readings[std::size_t(draw.one_of(turned))].face *= -1;
  }
}

int slip_instant(Kind kind, const Walk::Length& length, Draw& draw) {
  switch (kind) {
    case Kind::slip_early:
      return draw.whole(1, length.before_closing / 2);
    case Kind::slip_in_closing:
      return draw.whole(length.before_closing, length.all - 1);
    default:
      return draw.whole(length.before_closing / 2, length.before_closing - 1);
  }
}

}  // namespace

std::string_view name(Kind kind) { return kNames[std::size_t(kind)]; }
bool is_right(Kind kind) { return kind <= Kind::not_closed; }

Ground::Ground(const TrialSheet& from)
    : sheet(from),
      run(read_run(from)),
      checked(read_kit(from, run, true)),
      unchecked(read_kit(from, run, false)),
      view(run.run()),
      dense(view, run.stations_m),
      finished(run.tolerance.stage) {}

bool Ground::has_laser() const { return checked.find("laser", Channel::distance) != nullptr; }

bool Ground::lists_one_way(int from_stage, int to_stage) const {
  for (int i = 0; i < int(run.supports.size()); ++i)
    if (run.beam_supports[std::size_t(i)].one_way() && listed(*this, from_stage, to_stage, i)) return true;
  return false;
}

std::optional<State> draw(const Ground& ground, Kind kind, std::uint64_t seed) {
  constexpr int kTries = 200;
  Draw draw(seed * 0x9E3779B97F4A7C15u + std::uint64_t(kind) + 1);
  State state;
  state.kind = kind;
  state.seed = seed;
  state.closed = kind != Kind::not_closed && kind != Kind::slip_not_closed;
  state.scale_checked = kind < Kind::takes_degrees || kind > Kind::sign_swapped;
  const bool slips = kind >= Kind::slip_early && kind <= Kind::slip_not_closed;

  for (int attempt = 0; attempt < kTries; ++attempt) {
    const bool still_early = kind == Kind::lift_hangs_free || early(kind, draw);
    state.stage = ground.run.stage(still_early ? draw.one_of(ground.sheet.early) : ground.sheet.engaged);
    if (kind == Kind::bearing && !ground.lists_one_way(state.stage, state.stage)) continue;
    state.truth = from_priors(ground, state.stage, draw);
    if (kind == Kind::soft_bracket && !soften(ground, state.stage, draw, state.truth)) continue;
    if (kind == Kind::load_forgotten && !mistake_load(ground, state.stage, 0, draw, state.truth)) continue;
    if (kind == Kind::load_doubled && !mistake_load(ground, state.stage, 2, draw, state.truth)) continue;
    if (wants_level(kind, draw) && !make_level(ground, state.stage, draw, state.truth)) continue;
    if ((kind == Kind::bearing || kind == Kind::lift_hangs_free) &&
        !let_hang_free(ground, state.stage, kind == Kind::lift_hangs_free, draw, state.truth))
      continue;
    draw_fit_up(ground, state.stage, draw, state.truth);
    const auto before = ground.dense.solve(state.truth, ground.finished);
    if (!before) continue;
    if (slips && !slip(ground, state.stage, draw, state.truth)) continue;
    auto after = ground.dense.solve(state.truth, ground.finished);
    if (!after) continue;
    state.shapes = std::move(*after);

    Walk walk(ground, state, draw);
    if (!misread(kind, ground, draw, walk)) return std::nullopt;
    if (slips) {
      walk.shapes_before = *before;
      walk.from_reading = slip_instant(kind, walk.length(), draw);
    }
    state.readings = walk.read();
    state.zeros = walk.zeros();
    state.datums = walk.datums();
    spoil(kind, draw, state.readings);
    return state;
  }
  return std::nullopt;
}

std::optional<State> draw_unread(const Ground& ground, int stage, std::uint64_t seed) {
  Draw draw(seed * 0x9E3779B97F4A7C15u + 77);
  State state;
  state.seed = seed;
  state.stage = stage;
  state.truth = from_priors(ground, stage, draw);
  for (std::size_t m = 0; m < ground.run.marks.size(); ++m)
    state.mark_height_m.push_back(draw.between(-0.5, 0.5));
  auto shapes = ground.dense.solve(state.truth, ground.finished);
  if (!shapes) return std::nullopt;
  state.shapes = std::move(*shapes);
  return state;
}

std::vector<sheet::ReadingEntry> read_on_a_visit(const Ground& ground, const State& state,
                                                 std::uint64_t seed) {
  Draw draw(seed * 0x9E3779B97F4A7C15u + 78);
  return Walk(ground, state, draw).read();
}

}  // namespace hangtrue::hold_trials

// random_run.hpp: random runs for property tests. The same seed gives the same runs everywhere: only the engine's own
// numbers are used, no library distribution.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <random>
#include <set>
#include <vector>

#include "tests/core/beam/run_builder.hpp"

namespace hangtrue::beam::test {

class Random {
 public:
  explicit Random(unsigned seed) : engine_(seed) {}
  double between(double low, double high) {
    return low + (high - low) * (static_cast<double>(engine_()) / 4294967296.0);
  }
  /// Low, high and what lies between, each as likely.
  int whole(int low, int high) { return low + static_cast<int>(between(0, 1) * (high - low + 1)); }
  bool chance(double probability) { return between(0, 1) < probability; }
  /// Spread over the decades between.
  double over_decades(double low, double high) { return std::exp(between(std::log(low), std::log(high))); }

 private:
  std::mt19937 engine_;
};

struct RandomRunOptions {
  bool one_way = false;     // some supports only push or pull (they then hold no pitch)
  bool pulled_home = true;  // some supports are pulled home
  bool distortions = true;  // warmth and couples among the loads
  bool staged = true;       // several stages, supports and loads coming and going
  int bows = 2;
  bool warping = false;  // pieces warp, supports hold the warp, the shear centre lies to one side
  bool across = false;   // supports stand beside the axis, some as pairs that alone hold the roll
};

/// Moves supports from the axis, and makes one or both of the two that stay a pair at one place.
inline void stand_aside(Random& random, RunBuilder<double>& run, bool one_way) {
  for (Support<double>& support : run.supports) {
    if (random.chance(0.7)) support.across_m = random.between(-0.3, 0.3);
    if (support.one_way()) support.roll = {};  // else there may be no equilibrium, or several
  }
  const int pairs = random.whole(1, 2);
  for (int i = 0; i < pairs; ++i) {
    Support<double>& left = run.supports[static_cast<std::size_t>(i)];
    left.across_m = random.between(0.05, 0.3);
    left.roll = {};
    Support<double> right = left;
    right.across_m = -random.between(0.05, 0.3);
    right.pitch = {};
    if (one_way && pairs == 1 && random.chance(0.5))  // else it could spin
      right.holds = random.chance(0.5) ? Holds::push : Holds::pull;
    run.add(right);
  }
}

/// A run of a few pieces on two supports that stay, and up to three that come and go.
inline RunBuilder<double> random_run(Random& random, const RandomRunOptions& options = {}) {
  RunBuilder<double> run;
  const double length = run.length_m = random.between(2, 6);
  run.bows = options.bows;

  std::set<double> cuts;
  for (int i = random.whole(0, 4); i > 0; --i) cuts.insert(length * random.between(0.05, 0.95));
  cuts.insert(length);
  for (const double to : cuts)
    run.pieces.push_back(
        {to, random.over_decades(2e3, 2e5), random.over_decades(5e2, 5e4),
         random.chance(0.3) ? std::numeric_limits<double>::infinity() : random.over_decades(1e5, 1e7)});

  // Places on a grid of twentieths, so that no two supports stand closer than that.
  const auto restraint = [&](double softest, double stiffest) {
    Restraint<double> made =
        random.chance(0.4) ? rigid<double>() : spring(random.over_decades(softest, stiffest));
    made.pulled_home = options.pulled_home && random.chance(0.15);
    return made;
  };
  std::set<int> taken;
  const auto place = [&](int from, int to) {
    int at = random.whole(from, to);
    while (!taken.insert(at).second) at = random.whole(from, to);
    return length * at / 20;
  };
  const int others = random.whole(0, 3);
  for (int i = 0; i < 2 + others; ++i) {
    const bool stays = i < 2;
    Support<double> support;
    support.at_m = i == 0 ? place(0, 6) : i == 1 ? place(13, 20) : place(0, 20);
    if (stays || random.chance(0.8)) support.rise = restraint(1e5, 1e7);
    if (random.chance(0.3)) support.pitch = restraint(1e3, 1e5);
    if (stays || random.chance(0.5)) support.roll = restraint(1e3, 1e5);
    if (options.one_way && !stays && support.rise.held) {
      support.holds = random.chance(0.5) ? Holds::push : Holds::pull;
      support.pitch = {};
    }
    run.add(support);
  }

  if (options.across) stand_aside(random, run, options.one_way);
  if (options.warping) {
    run.shear_centre_m = random.chance(0.5) ? 0 : random.between(-0.2, 0.2);
    for (Piece<double>& piece : run.pieces)
      if (random.chance(0.8)) piece.warping_N_m4 = piece.torsion_N_m2 * random.over_decades(0.05, 5);
    for (Support<double>& support : run.supports) {
      support.holds_warping = !support.one_way() && random.chance(0.4);
      if (support.one_way() && run.shear_centre_m != 0) support.roll = {};  // as above
    }
  }

  for (int load = random.whole(2, 6); load > 0; --load) {
    if (options.distortions && random.chance(0.15)) {
      const double from = length * random.between(0, 0.5);
      run.add_warmth(from, from + length * random.between(0.1, 0.5), random.between(-0.003, 0.003));
      continue;
    }
    const int index = run.loads++;
    for (int part = random.whole(1, 3); part > 0; --part) {
      const double from = random.chance(0.2) ? 0 : length * random.between(0, 0.9);
      const double to = random.chance(0.2) ? length : from + (length - from) * random.between(0.1, 1);
      const double across = random.between(-0.2, 0.2);
      if (options.distortions && random.chance(0.2))
        run.load_parts.push_back({index, LoadKind::couple, from, from, random.between(-100, 100), 0, 0});
      else if (random.chance(0.4))
        run.load_parts.push_back({index, LoadKind::point, from, from, random.between(20, 400), 0, across});
      else
        run.load_parts.push_back(
            {index, LoadKind::spread, from, to, random.between(0, 300), random.between(0, 300), across});
    }
  }

  const auto stays = [&](std::size_t i) { return options.across && i >= 2 + std::size_t(others); };
  const int stages = options.staged ? random.whole(1, 4) : 1;
  for (int s = 0; s < stages; ++s) {
    Stage stage;
    for (std::size_t i = 0; i < run.supports.size(); ++i)
      if (i < 2 || stays(i) || !options.staged || random.chance(0.7)) stage.supports |= 1u << i;
    for (int l = 0; l < run.loads; ++l)
      if (!options.staged || random.chance(0.7)) stage.loads |= std::uint64_t{1} << l;
    run.stages.push_back(stage);
  }
  return run;
}

/// Offsets and moves of millimetres and milliradians, factors some per cent off, springs up to half off.
inline State<double> random_state(Random& random, const RunBuilder<double>& run) {
  State<double> state;
  const auto motions = [&](double length, double angle) {
    return Motions<double>{random.between(-length, length), random.between(-angle, angle),
                           random.between(-angle, angle)};
  };
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    state.offset[i] = motions(0.004, 0.003);
    state.move[i] = motions(0.003, 0.002);
    state.log_spring[i] = motions(0.4, 0.4);
    state.give[i] = {random.between(0, 1e-6), random.between(0, 1e-5), random.between(0, 1e-5)};
  }
  state.bending_factor = random.between(0.8, 1.2);
  state.torsion_factor = random.between(0.8, 1.2);
  for (int l = 0; l < run.loads; ++l) state.load_factor[l] = random.between(0.7, 1.3);
  for (int k = 0; k < run.bows; ++k) state.bow_m[k] = random.between(-0.002, 0.002);
  state.move_stage = random.whole(-1, static_cast<int>(run.stages.size()) - 1);
  return state;
}

/// Everything a solver says, at evenly spaced places (inside the stretch between nodes almost surely) and supports.
struct Picture {
  enum Quantity {
    height,
    slope,
    rotation,
    roll,
    moment,
    shear,
    torque,
    bimoment,
    force,
    couple,
    support_torque,
    count
  };
  std::array<std::vector<double>, count> values;

  static Picture of(const Solver<double>& solver, const RunBuilder<double>& run) {
    Picture picture;
    for (int stage = 0; stage < static_cast<int>(run.stages.size()); ++stage) {
      for (int i = 0; i < kPlaces; ++i) picture.add(solver.at(stage, place(run, i)));
      for (int i = 0; i < static_cast<int>(run.supports.size()); ++i) picture.add(solver.support(stage, i));
    }
    return picture;
  }
  /// 64ths, odd ones: never on the twentieths where supports stand, and the same from either end.
  static constexpr int kPlaces = 32;
  static double place(const RunBuilder<double>& run, int i) { return run.length_m * (i + 0.5) / kPlaces; }
  void add(const Section<double>& section) {
    values[height].push_back(section.height_m);
    values[slope].push_back(section.slope_rad);
    values[rotation].push_back(section.rotation_rad);
    values[roll].push_back(section.roll_rad);
    values[moment].push_back(section.moment_Nm);
    values[shear].push_back(section.shear_N);
    values[torque].push_back(section.torque_Nm);
    values[bimoment].push_back(section.bimoment_Nm2);
  }
  void add(const SupportAction<double>& action) {
    values[force].push_back(action.force_N);
    values[couple].push_back(action.moment_Nm);
    values[support_torque].push_back(action.torque_Nm);
  }

  /// a * this + b * other.
  [[nodiscard]] Picture mixed(double a, double b, const Picture& other) const {
    Picture sum = *this;
    for (int q = 0; q < count; ++q)
      for (std::size_t i = 0; i < values[q].size(); ++i)
        sum.values[q][i] = a * values[q][i] + b * other.values[q][i];
    return sum;
  }
  /// Greatest magnitude of a quantity, everywhere and in all stages.
  [[nodiscard]] double size(int quantity) const {
    double greatest = 0;
    for (const double value : values[quantity]) greatest = std::max(greatest, std::abs(value));
    return greatest;
  }
};

/// Differences are measured against the greatest value of their quantity, with a floor far below anything of meaning on
/// site: a nanometre, a nanoradian, a micronewton.
inline void expect_same(const Picture& found, const Picture& expected, double tolerance) {
  static constexpr const char* names[] = {"height",
                                          "slope",
                                          "rotation",
                                          "roll",
                                          "moment",
                                          "shear",
                                          "torque",
                                          "bimoment",
                                          "force of a support",
                                          "couple of a support",
                                          "torque of a support"};
  for (int q = 0; q < Picture::count; ++q) {
    ASSERT_EQ(found.values[q].size(), expected.values[q].size());
    // Torques are differences of forces on arms of decimetres.
    const bool turning = q == Picture::torque || q == Picture::bimoment || q == Picture::support_torque;
    const double floor = q <= Picture::roll ? 1e-9 : turning ? 0.1 * expected.size(Picture::force) : 1e-6;
    const double allowed = std::max(tolerance * std::max(found.size(q), expected.size(q)), floor * tolerance);
    for (std::size_t i = 0; i < found.values[q].size(); ++i)
      EXPECT_NEAR(found.values[q][i], expected.values[q][i], allowed) << names[q] << ", entry " << i;
  }
}

}  // namespace hangtrue::beam::test

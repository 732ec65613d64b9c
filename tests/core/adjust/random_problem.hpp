// random_problem.hpp: small random problems with fixed seeds, and the exhaustive search that they are checked with.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <functional>
#include <memory>
#include <random>
#include <tuple>
#include <utility>
#include <vector>

#include "core/adjust/workspace.hpp"

namespace hangtrue::adjust::test {

/// A problem with the arrays that it looks at.
template <class Scalar = double>
struct Owned {
  std::vector<Scalar> height_m;
  std::vector<ForceLimit<Scalar>> forces;
  std::vector<std::vector<PieceKind<Scalar>>> kinds;
  std::vector<Stock<Scalar>> stocks;
  std::vector<Place<Scalar>> places;
  std::vector<beam::Motions<std::vector<Scalar>>> on_height, on_force;
  Problem<Scalar> problem;

  /// To be called once the vectors stand.
  Problem<Scalar>& look() {
    for (std::size_t s = 0; s < stocks.size(); ++s) stocks[s].kinds = kinds[s];
    for (std::size_t p = 0; p < places.size(); ++p) {
      places[p].on_height = {on_height[p].rise, on_height[p].pitch, on_height[p].roll};
      places[p].on_force = {on_force[p].rise, on_force[p].pitch, on_force[p].roll};
    }
    problem.height_m = height_m;
    problem.forces = forces;
    problem.stocks = stocks;
    problem.places = places;
    return problem;
  }
};

class Random {
 public:
  explicit Random(unsigned seed) : engine_(seed) {}
  int whole(int from, int to) { return from + int(engine_() % unsigned(to - from + 1)); }
  double real(double from, double to) {
    return from + (to - from) * (double(engine_()) + 0.5) / 4294967296.0;
  }
  bool chance(double p) { return real(0, 1) < p; }

 private:
  std::mt19937 engine_;
};

/// 1 to 3 places of every kind, one or two scarce stocks, sometimes force limits, a target, travel from above zero.
inline std::unique_ptr<Owned<>> random_problem(unsigned seed) {
  Random random(seed);
  auto owned = std::make_unique<Owned<>>();
  const int points = random.whole(2, 12), forces = random.chance(0.5) ? random.whole(1, 3) : 0;
  for (int j = 0; j < points; ++j) owned->height_m.push_back(random.real(-4e-3, 1e-3));
  for (int f = 0; f < forces; ++f) {
    ForceLimit<double> limit;
    limit.now_N = random.real(-50, 800);
    limit.least_N = 20;
    if (random.chance(0.5)) limit.greatest_N = random.real(600, 1500);
    owned->forces.push_back(limit);
  }
  const double thick[] = {0.5e-3, 1e-3, 0.0254 / 32, 1.5e-3, 3e-3, 0.0254 / 128};
  const int stocks = random.whole(1, 2);
  for (int s = 0; s < stocks; ++s) {
    std::vector<PieceKind<double>> kinds;
    for (int k = random.whole(1, 3); k > 0; --k)
      kinds.push_back({thick[random.whole(0, 5)], random.whole(0, 4)});
    owned->kinds.push_back(kinds);
    Stock<double> stock;
    stock.most = random.whole(1, 2);
    if (random.chance(0.3)) stock.highest_m = random.real(1e-3, 5e-3);
    owned->stocks.push_back(stock);
  }
  const int places = random.whole(1, 3);
  bool plate = false;
  for (int p = 0; p < places; ++p) {
    Place<double> place;
    place.support = 7 - p;
    const int kind = random.whole(0, 9);
    place.rise_from_m = random.chance(0.2) ? 0.4e-3 : 0;
    place.rise_to_m = random.real(2e-3, 8e-3);
    if (kind <= 1) {
      place.by = kind == 0 ? By::rod : By::lift;
      place.step_m = random.real(0.2e-3, 0.6e-3);
      place.step_turns = 0.25;
      place.rise_from_m = random.real(-2e-3, 0.5e-3);
      place.rise_to_m = random.real(0.5e-3, 2e-3);
    } else {
      place.stock = random.whole(0, stocks - 1);
      place.along_m = 0.12;
      place.across_m = 0.15;
      place.layout = Layout(random.whole(0, 3));
      const bool both = place.layout == Layout::corners;
      place.pitch = (both || place.layout == Layout::near_far) && random.chance(0.7);
      place.roll = (both || place.layout == Layout::left_right) && random.chance(0.7);
      if (place.pitch && place.roll) {
        if (plate) place.roll = false;  // one plate is enough for an exhaustive search
        plate = true;
      }
    }
    const auto column = [&](std::size_t rows, double size) {
      std::vector<double> out;
      for (std::size_t j = 0; j < rows; ++j)
        out.push_back(random.chance(0.1) ? 0.0 : random.real(-0.3, 1.0) * size);
      return out;
    };
    const std::size_t rows = std::size_t(points), limits = std::size_t(forces);
    owned->on_height.push_back({column(rows, 1), column(rows, 0.6), column(rows, 0.2)});
    owned->on_force.push_back({column(limits, 2e5), column(limits, 1e4), column(limits, 1e3)});
    owned->places.push_back(place);
  }
  Problem<double>& problem = owned->look();
  if (random.chance(0.3)) problem.target_m = random.real(-1e-3, 1e-3);
  return owned;
}

/// One way to set one place, found by trying all.
struct Option {
  double rise = 0, pitch = 0, roll = 0;
  int stock = -1, pieces = 0;
  std::vector<int> use;  // pieces of each kind of the stock
  bool touched = false;
};

inline std::vector<Option> all_options(const Problem<double>& problem, const Place<double>& place) {
  std::vector<Option> options;
  const double slack = 1e-9;
  if (place.by != By::shims) {
    for (int k = -2000; k <= 2000; ++k) {
      const double rise = k * place.step_m;
      if (rise >= place.rise_from_m - slack && rise <= place.rise_to_m + slack)
        options.push_back({rise, 0, 0, -1, 0, {}, k != 0});
    }
    return options;
  }
  const Stock<double>& stock = problem.stocks[std::size_t(place.stock)];
  std::vector<std::pair<double, std::vector<int>>> stacks;
  std::vector<int> count(stock.kinds.size(), 0);
  const std::function<void(std::size_t, int, double)> add = [&](std::size_t kind, int pieces, double height) {
    if (kind == count.size()) {
      if (height <= stock.highest_m + slack) stacks.emplace_back(height, count);
      return;
    }
    for (int c = 0; c <= stock.kinds[kind].count && pieces + c <= stock.most; ++c) {
      count[kind] = c;
      add(kind + 1, pieces + c, height + c * stock.kinds[kind].thickness_m);
    }
    count[kind] = 0;
  };
  add(0, 0, 0);

  const std::size_t n = place.layout == Layout::one ? 1 : place.layout == Layout::corners ? 4 : 2;
  std::vector<std::size_t> pick(n, 0);
  for (;;) {
    std::vector<double> t;
    Option option;
    option.stock = place.stock;
    option.use.assign(stock.kinds.size(), 0);
    for (std::size_t i = 0; i < n; ++i) {
      t.push_back(stacks[pick[i]].first);
      for (std::size_t k = 0; k < option.use.size(); ++k) {
        option.use[k] += stacks[pick[i]].second[k];
        option.pieces += stacks[pick[i]].second[k];
      }
      option.rise += t[i] / double(n);
      option.touched = option.touched || option.pieces > 0;
    }
    // Order: one; near, far; left, right; near left, near right, far left, far right.
    double pitch = 0, roll = 0, twist = 0;
    if (place.layout == Layout::near_far) pitch = t[1] - t[0];
    if (place.layout == Layout::left_right) roll = t[0] - t[1];
    if (place.layout == Layout::corners) {
      pitch = (t[2] + t[3] - t[0] - t[1]) / 2;
      roll = (t[0] + t[2] - t[1] - t[3]) / 2;
      twist = t[0] + t[3] - t[1] - t[2];
    }
    const bool allowed = std::abs(twist) <= 1e-9 && (place.pitch || std::abs(pitch) <= 1e-9) &&
                         (place.roll || std::abs(roll) <= 1e-9) && option.rise >= place.rise_from_m - slack &&
                         option.rise <= place.rise_to_m + slack;
    if (place.pitch) option.pitch = pitch / place.along_m;
    if (place.roll) option.roll = roll / place.across_m;
    if (allowed) options.push_back(option);
    std::size_t i = 0;
    while (i < n && ++pick[i] == stacks.size()) pick[i++] = 0;
    if (i == n) return options;
  }
}

struct Exhaustive {
  bool found = false;
  double least = 0, error = 0;
  int pieces = 0, touched = 0;
};

inline Exhaustive exhaustive_search(const Problem<double>& problem) {
  struct Found {
    double error;
    int pieces, touched;
  };
  std::vector<std::vector<Option>> options;
  for (const Place<double>& place : problem.places) options.push_back(all_options(problem, place));
  std::vector<Found> found;
  std::vector<std::vector<int>> left;
  for (const Stock<double>& stock : problem.stocks) {
    left.emplace_back();
    for (const PieceKind<double>& kind : stock.kinds) left.back().push_back(kind.count);
  }
  const auto add = [](const Influence<double>& influence, const Option& option, std::vector<double> values) {
    for (std::size_t j = 0; j < values.size(); ++j)
      values[j] += influence.rise[j] * option.rise + influence.pitch[j] * option.pitch +
                   influence.roll[j] * option.roll;
    return values;
  };
  const std::function<void(std::size_t, std::vector<double>, std::vector<double>, int, int)> go =
      [&](std::size_t p, std::vector<double> heights, std::vector<double> forces, int pieces, int touched) {
        if (p == options.size()) {
          for (std::size_t f = 0; f < forces.size(); ++f)
            if (forces[f] < problem.forces[f].least_N || forces[f] > problem.forces[f].greatest_N) return;
          double low = heights[0], high = heights[0];
          for (const double h : heights) low = std::min(low, h), high = std::max(high, h);
          const double error =
              problem.target_m ? 2 * std::max(high - *problem.target_m, *problem.target_m - low) : high - low;
          found.push_back({error, pieces, touched});
          return;
        }
        for (const Option& option : options[p]) {
          bool fits = true;
          for (std::size_t k = 0; k < option.use.size(); ++k) {
            int& rest = left[std::size_t(option.stock)][k];
            rest -= option.use[k];
            fits = fits && rest >= 0;
          }
          if (fits)
            go(p + 1, add(problem.places[p].on_height, option, heights),
               add(problem.places[p].on_force, option, forces), pieces + option.pieces,
               touched + (option.touched ? 1 : 0));
          for (std::size_t k = 0; k < option.use.size(); ++k)
            left[std::size_t(option.stock)][k] += option.use[k];
        }
      };
  std::vector<double> forces;
  for (const ForceLimit<double>& force : problem.forces) forces.push_back(force.now_N);
  go(0, {problem.height_m.begin(), problem.height_m.end()}, forces, 0, 0);

  Exhaustive best;
  if (found.empty()) return best;
  best.found = true;
  best.least = std::min_element(found.begin(), found.end(), [](const Found& a, const Found& b) {
                 return a.error < b.error;
               })->error;
  const Found* chosen = nullptr;
  for (const Found& f : found) {
    if (f.error > best.least + problem.equal_within_m) continue;
    if (chosen == nullptr ||
        std::tie(f.pieces, f.touched, f.error) < std::tie(chosen->pieces, chosen->touched, chosen->error))
      chosen = &f;
  }
  best.error = chosen->error;
  best.pieces = chosen->pieces;
  best.touched = chosen->touched;
  return best;
}

}  // namespace hangtrue::adjust::test

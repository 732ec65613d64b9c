// The shim search beside exhaustive search, and its time for a long run.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <limits>
#include <memory>
#include <random>
#include <span>
#include <string>
#include <tuple>
#include <vector>

#include <benchmark/benchmark.h>

#include "core/adjust/search.hpp"
#include "core/adjust/workspace.hpp"
#include "core/beam/solver.hpp"
#include "tests/benchmark/side_by_side.hpp"

namespace hangtrue::bench {

namespace {

/// An invented run on `places` springy brackets, mounted a few millimetres askew (seeded), all shimmed from one stock.
class AskewRun {
 public:
  AskewRun(int places, std::vector<adjust::PieceKind<double>> kinds, int most, std::uint64_t seed)
      : kinds_(std::move(kinds)), stock_{.kinds = kinds_, .most = most} {
    std::mt19937_64 random(seed);
    std::uniform_real_distribution<double> uneven(-1, 1);
    const double length_m = 0.9 * (places - 1) + 0.2;
    const beam::Piece<double> piece{.to_m = length_m, .bending_N_m2 = 12'000, .torsion_N_m2 = 8'000};
    const beam::LoadPart<double> load{
        .load = 0, .kind = beam::LoadKind::spread, .from_m = 0, .to_m = length_m, .begin = 450, .end = 450};
    std::vector<beam::Support<double>> supports;
    beam::State<double> state;
    std::vector<beam::Parameter> moves;
    for (int i = 0; i < places; ++i) {
      supports.push_back({.at_m = 0.1 + 0.9 * i + (i % 2 == 0 ? 0 : 0.1 * uneven(random)),
                          .rise = {.held = true, .compliance = 1 / 1.5e6},
                          .pitch = {},
                          .roll = {.held = true}});
      state.offset[i].rise = 4e-3 * uneven(random);
      moves.push_back({beam::ParameterKind::move_rise, std::int16_t(i)});
    }
    state.move_stage = 0;
    const beam::Stage stage{.supports = (1u << places) - 1, .loads = 1};
    const beam::Run<double> run{.length_m = length_m,
                                .pieces = {&piece, 1},
                                .load_parts = {&load, 1},
                                .loads = 1,
                                .supports = supports,
                                .stages = {&stage, 1}};
    std::vector<double> storage(beam::Solver<double>::storage_needed(run, places));
    auto solver = beam::Solver<double>::create(run, places, storage);
    if (!solver || !solver.value().solve(state, moves)) std::abort();

    on_height_.assign(std::size_t(places), {});
    on_force_.assign(std::size_t(places), {});
    std::vector<double> by_move(std::size_t(places), 0.0);
    constexpr int kStations = 40;
    for (int station = 0; station <= kStations; ++station) {
      const double x_m = length_m * station / kStations;
      height_m_.push_back(solver.value().height(0, x_m));
      solver.value().height_derivatives(0, x_m, 0, by_move);
      for (std::size_t p = 0; p < by_move.size(); ++p) on_height_[p].push_back(by_move[p]);
    }
    for (int support = 0; support < places; ++support) {
      forces_.push_back({.support = support,
                         .stage = 0,
                         .now_N = solver.value().support(0, support).force_N,
                         .least_N = 20,
                         .greatest_N = 2'500});
      solver.value().force_derivatives(0, support, by_move);
      for (std::size_t p = 0; p < by_move.size(); ++p) on_force_[p].push_back(by_move[p]);
    }
    for (std::size_t p = 0; p < by_move.size(); ++p) {
      adjust::Place<double> place;
      place.support = int(p);
      place.rise_to_m = 25e-3;
      place.on_height.rise = on_height_[p];
      place.on_force.rise = on_force_[p];
      places_.push_back(place);
    }
    problem_.height_m = height_m_;
    problem_.forces = forces_;
    problem_.stocks = {&stock_, 1};
    problem_.places = places_;
  }
  AskewRun(const AskewRun&) = delete;
  AskewRun& operator=(const AskewRun&) = delete;

  [[nodiscard]] const adjust::Problem<double>& problem() const { return problem_; }

 private:
  std::vector<adjust::PieceKind<double>> kinds_;
  adjust::Stock<double> stock_;
  std::vector<double> height_m_;
  std::vector<std::vector<double>> on_height_, on_force_;
  std::vector<adjust::ForceLimit<double>> forces_;
  std::vector<adjust::Place<double>> places_;
  adjust::Problem<double> problem_;
};

struct Pile {
  double thickness_m = 0;
  int pieces = 0;
  std::vector<int> count;
};

/// Every stack that the stock allows, the empty one first.
std::vector<Pile> all_stacks(const adjust::Stock<double>& stock) {
  std::vector<Pile> piles{{0, 0, std::vector<int>(stock.kinds.size(), 0)}};
  for (std::size_t k = 0; k < stock.kinds.size(); ++k)
    for (std::size_t i = 0, before = piles.size(); i < before; ++i)
      for (int more = 1; more <= stock.kinds[k].count && piles[i].pieces + more <= stock.most; ++more) {
        Pile pile = piles[i];
        pile.thickness_m += more * stock.kinds[k].thickness_m;
        pile.pieces += more;
        pile.count[k] = more;
        piles.push_back(pile);
      }
  return piles;
}

struct Found {
  bool any = false;
  int pieces = 0, touched = 0;
  double error_m = 0;
};

/// Every choice of a stack a place, one after the other; the order of preference is the search's.
Found try_everything(const adjust::Problem<double>& problem) {
  const std::vector<Pile> piles = all_stacks(problem.stocks[0]);
  const std::size_t places = problem.places.size(), points = problem.height_m.size();
  std::vector<Found> kept;
  double least_m = std::numeric_limits<double>::infinity();
  std::vector<std::size_t> at(places, 0);
  std::vector<double> height_m(points);
  for (bool more = true; more;) {
    bool allowed = true;
    Found found{.any = true};
    for (std::size_t k = 0; k < problem.stocks[0].kinds.size(); ++k) {
      int used = 0;
      for (std::size_t p = 0; p < places; ++p) used += piles[at[p]].count[k];
      allowed = allowed && used <= problem.stocks[0].kinds[k].count;
    }
    for (std::size_t f = 0; allowed && f < problem.forces.size(); ++f) {
      double force_N = problem.forces[f].now_N;
      for (std::size_t p = 0; p < places; ++p)
        force_N += problem.places[p].on_force.rise[f] * piles[at[p]].thickness_m;
      allowed = force_N >= problem.forces[f].least_N && force_N <= problem.forces[f].greatest_N;
    }
    if (allowed) {
      for (std::size_t j = 0; j < points; ++j) {
        height_m[j] = problem.height_m[j];
        for (std::size_t p = 0; p < places; ++p)
          height_m[j] += problem.places[p].on_height.rise[j] * piles[at[p]].thickness_m;
      }
      for (const std::size_t i : at) {
        found.pieces += piles[i].pieces;
        found.touched += i != 0 ? 1 : 0;
      }
      const auto [low, high] = std::minmax_element(height_m.begin(), height_m.end());
      found.error_m = *high - *low;
      least_m = std::min(least_m, found.error_m);
      kept.push_back(found);
    }
    std::size_t p = 0;
    while (p < places && ++at[p] == piles.size()) at[p++] = 0;
    more = p < places;
  }
  Found best;
  for (const Found& each : kept) {
    if (each.error_m > least_m + problem.equal_within_m) continue;
    if (!best.any ||
        std::tie(each.pieces, each.touched, each.error_m) < std::tie(best.pieces, best.touched, best.error_m))
      best = each;
  }
  return best;
}

bool identical(const Found& found, const adjust::Choice<double>& choice) {
  if (!found.any) return choice.outcome == adjust::Outcome::none_keeps_limits;
  return choice.outcome == adjust::Outcome::proved_best && choice.pieces == found.pieces &&
         choice.moves == found.touched && std::abs(choice.level_error_after_m - found.error_m) <= 2e-9;
}

void compare_with_exhaustive(adjust::Workspace<double>& workspace) {
  constexpr int kSeeds = 30;
  const std::vector<adjust::PieceKind<double>> kinds = {{0.6e-3, 4}, {1.4e-3, 3}, {3.1e-3, 3}};
  int same = 0;
  std::vector<double> ours_s, other_s, ratios;
  for (int seed = 1; seed <= kSeeds; ++seed) {
    const AskewRun run(3, kinds, 3, std::uint64_t(seed));
    auto choice = adjust::choose(run.problem(), workspace);
    if (!choice) std::abort();
    same += identical(try_everything(run.problem()), choice.value()) ? 1 : 0;
    const Times times =
        side_by_side([&] { benchmark::DoNotOptimize(adjust::choose(run.problem(), workspace)); },
                     [&] { benchmark::DoNotOptimize(try_everything(run.problem())); }, 3);
    ours_s.push_back(times.ours_s);
    other_s.push_back(times.other_s);
    ratios.push_back(times.ratio);
  }
  print_row({"three places / everything tried", show_time(median(ours_s)), show_time(median(other_s)),
             show_ratio(median(ratios)), std::to_string(same) + " of " + std::to_string(kSeeds) + " same",
             "all the same", aim_if(same == kSeeds)});
}

void long_run(adjust::Workspace<double>& workspace) {
  constexpr int kSeeds = 40;
  // Thicknesses that hardly any two stacks share: the search has them all to tell apart.
  const std::vector<adjust::PieceKind<double>> kinds = {{0.5e-3, 10}, {0.8e-3, 8}, {2e-3, 6}, {5e-3, 2}};
  std::vector<double> seconds;
  int proved = 0;
  std::size_t stacks = 0;
  for (int seed = 1; seed <= kSeeds; ++seed) {
    const AskewRun run(6, kinds, 4, std::uint64_t(seed));
    stacks = all_stacks(run.problem().stocks[0]).size();
    std::vector<double> turns;
    for (int turn = 0; turn < 3; ++turn)
      turns.push_back(seconds_for([&] {
        auto choice = adjust::choose(run.problem(), workspace);
        if (!choice) std::abort();
        if (turn == 0 && choice.value().outcome == adjust::Outcome::proved_best) ++proved;
      }));
    seconds.push_back(median(turns));
  }
  const double worst = *std::max_element(seconds.begin(), seconds.end());
  const std::string what = "six places, " + std::to_string(stacks) + " stacks each: ";
  const std::string outcome = std::to_string(proved) + " of " + std::to_string(kSeeds) + " proved";
  const double middle = median(seconds);
  print_row({what + "median", show_time(middle), "", "", outcome, "under 50 ms",
             aim_if(middle < 50e-3 && proved == kSeeds)});
  print_row({what + "worst", show_time(worst), "", "", "", "under 50 ms", aim_if(worst < 50e-3)});
}

}  // namespace

void shim_search() {
  print_heading(
      "Shims: choose() and exhaustive search",
      {"Invented runs on brackets up to 4 mm askew, 41 check points, forces within limits, one stock for all "
       "places.",
       "Three places: 20 stacks each, 30 seeds; same: level error, pieces and places touched.",
       "Six places: 40 seeds, time of one search (median of three a seed), with proof that nothing is "
       "better."});
  const auto workspace = std::make_unique<adjust::Workspace<double>>();
  compare_with_exhaustive(*workspace);
  long_run(*workspace);
}

}  // namespace hangtrue::bench

// survey_bench.hpp: a small staged run, a truth drawn from its priors, and the survey an honest installer
// would make of it. All invented.
#pragma once

#include <gtest/gtest.h>

#include <memory>
#include <random>
#include <vector>

#include "core/fit/fit.hpp"
#include "tests/core/beam/run_builder.hpp"

namespace hangtrue::fit::test {

using beam::Parameter;
using beam::ParameterKind;
using survey::Edge;

enum Support { wall_bracket, east_rod };
enum Load { spine, carcasses, books };
enum Stage { hung, in_use };
enum Instrument { inclinometer, second_inclinometer, laser };  // channels with a zero error
inline constexpr double kLength_m = 4.2;
inline constexpr double kWidth_m = 0.38;

template <class Scalar>
beam::test::RunBuilder<Scalar> shelf() {
  auto run =
      beam::test::RunBuilder<Scalar>::uniform(Scalar(kLength_m), Scalar(8.0e4), Scalar(2.0e4), Scalar(1.5e7));
  run.add({0, beam::test::spring<Scalar>(Scalar(1.2e7)), beam::test::spring<Scalar>(Scalar(1.8e4)),
           beam::test::rigid<Scalar>(), beam::Holds::both});
  run.add({Scalar(3.9), beam::test::spring<Scalar>(Scalar(9e6)), {}, {}, beam::Holds::pull});
  run.add_uniform(Scalar(70));
  run.add_spread(0, Scalar(kLength_m), Scalar(145), Scalar(145), Scalar(0.02));
  run.add_spread(Scalar(0.5), Scalar(3.5), Scalar(500), Scalar(500));
  run.bows = 2;
  run.add_stage({wall_bracket, east_rod}, {spine, carcasses});
  run.add_stage({wall_bracket, east_rod}, {spine, carcasses, books});
  return run;
}

template <class Scalar>
Priors<Scalar> shelf_priors() {
  Priors<Scalar> priors;
  const auto sigma = [](double mean, double s) { return Prior<Scalar>{Scalar(mean), Scalar(s)}; };
  priors.offset[wall_bracket] = {sigma(0, 3e-3), sigma(0, 2e-3), sigma(0, 3e-3)};
  priors.offset[east_rod].rise = sigma(0, 5e-3);
  priors.bending = sigma(1, 0.05);
  priors.torsion = sigma(1, 0.1);
  priors.log_spring[wall_bracket] = {sigma(0, 0.1), sigma(0, 0.2), {}};
  priors.log_spring[east_rod].rise = sigma(0, 0.1);
  for (const int load : {spine, carcasses, books}) priors.load[load] = sigma(1, 0.05);
  priors.bow[0] = sigma(0, 5e-4);
  priors.bow[1] = sigma(0, 2e-4);
  priors.datum_height[0] = sigma(1.3, 5e-3);
  priors.datum_tilt[0] = sigma(0, 1e-4);
  priors.zero[inclinometer] = sigma(0, 3e-4);
  priors.zero[second_inclinometer] = sigma(0, 3e-4);
  priors.zero[laser] = sigma(0, 2e-4);
  return priors;
}

/// Slopes on both faces and roll at each station by the first inclinometer, roll by the second, a distance.
template <class Scalar>
std::vector<survey::Reading<Scalar>> shelf_survey(const std::vector<Scalar>& stations_m) {
  std::vector<survey::Reading<Scalar>> readings;
  const auto base = Scalar(0.25);
  for (const Scalar at : stations_m) {
    readings.push_back({Channel::slope, Edge::middle, 1, -1, inclinometer, at, base, 0, Scalar(3e-5)});
    readings.push_back({Channel::slope, Edge::middle, -1, -1, inclinometer, at, base, 0, Scalar(3e-5)});
    readings.push_back({Channel::roll, Edge::middle, 1, -1, second_inclinometer, at, 0, 0, Scalar(5e-5)});
    readings.push_back({Channel::distance, Edge::left, 1, 0, laser, at, 0, 0, Scalar(2e-4)});
    readings.push_back({Channel::distance, Edge::right, 1, 0, laser, at, 0, 0, Scalar(2e-4)});
  }
  return readings;
}

/// Everything a fit of the shelf needs, with its memory.
template <class Scalar>
struct Bench {
  beam::test::RunBuilder<Scalar> builder = shelf<Scalar>();
  beam::Run<Scalar> run = builder.run();
  Priors<Scalar> priors;
  UnknownList<Scalar> list;
  std::vector<Scalar> stations_m;
  std::vector<survey::Reading<Scalar>> readings;
  std::vector<Judgement<Scalar>> judgements;
  std::unique_ptr<beam::test::Bench<Scalar>> solver;
  std::vector<Scalar> storage;
  Problem<Scalar> problem;
  std::unique_ptr<Fit<Scalar>> fit = std::make_unique<Fit<Scalar>>();

  explicit Bench(const Priors<Scalar>& known = shelf_priors<Scalar>(), int stage = hung, int stations = 8)
      : priors(known) {
    for (int i = 0; i < stations; ++i)
      stations_m.push_back(Scalar(kLength_m) * Scalar(i) / Scalar(stations - 1));
    EXPECT_TRUE(build_unknowns(run, stage, in_use, priors, list));
    solver = std::make_unique<beam::test::Bench<Scalar>>(builder, kMaxUnknowns);
    problem = {.run = &run,
               .solver = &solver->solver(),
               .stage = stage,
               .finished_stage = in_use,
               .width_m = Scalar(kWidth_m),
               .stations_m = stations_m,
               .unknowns = &list,
               .carried = nullptr,
               .base = state_of_means(run, stage, priors),
               .kit = kit_of_means(priors),
               .options = {}};
    readings = shelf_survey(stations_m);
  }

  Bench(const Bench&) = delete;
  Bench& operator=(const Bench&) = delete;

  void begin() {
    storage.assign(Fit<Scalar>::storage_needed(list.count, static_cast<int>(readings.size()),
                                               static_cast<int>(stations_m.size())),
                   Scalar(0));
    const auto begun = fit->begin(problem, storage);
    ASSERT_TRUE(begun.ok()) << static_cast<int>(begun.fault().code);
  }

  Status run_fit(const std::vector<std::uint8_t>& by_hand = {}) {
    begin();
    judgements.assign(readings.size(), {});
    const auto status = fit->run(readings, by_hand, judgements);
    EXPECT_TRUE(status.ok());
    return status.ok() ? status.value() : Status::not_run;
  }

  int index(Unknown wanted) const {
    for (int j = 0; j < list.count; ++j)
      if (list.unknown[j] == wanted) return j;
    ADD_FAILURE() << "no such unknown";
    return 0;
  }
  int index(ParameterKind kind, int of = 0) const {
    return index(Unknown{UnknownKind::shape, {kind, static_cast<std::int16_t>(of)}, 0});
  }

  /// A truth: one value an unknown.
  std::vector<Scalar> means() const {
    std::vector<Scalar> truth;
    for (int j = 0; j < list.count; ++j) truth.push_back(list.prior[j].mean);
    return truth;
  }
  std::vector<Scalar> draw(std::mt19937& random) const {
    std::normal_distribution<double> normal;
    std::vector<Scalar> truth;
    for (int j = 0; j < list.count; ++j)
      truth.push_back(list.prior[j].mean + list.prior[j].sigma * Scalar(normal(random)));
    return truth;
  }

  /// Solves the run as it truly is; the kit as well.
  survey::KitState<Scalar> stand(const std::vector<Scalar>& truth) {
    beam::State<Scalar> state = problem.base;
    survey::KitState<Scalar> kit = problem.kit;
    for (int j = 0; j < list.count; ++j)
      assign(list.unknown[j], truth[static_cast<std::size_t>(j)], state, kit);
    solver->solve(state);
    return kit;
  }

  /// Fills in the values that the instruments would show, with their noise (none without `random`).
  void read(const std::vector<Scalar>& truth, std::mt19937* random) {
    const survey::KitState<Scalar> kit = stand(truth);
    const survey::Scene<Scalar> scene{&solver->solver(), problem.stage, run.length_m, problem.width_m};
    std::normal_distribution<double> normal;
    for (auto& reading : readings) {
      reading.value = survey::predicted(scene, reading, kit);
      if (random != nullptr) reading.value += reading.sigma * Scalar(normal(*random));
    }
  }
};

}  // namespace hangtrue::fit::test

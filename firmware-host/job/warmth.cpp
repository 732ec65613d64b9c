#include "firmware-host/job/warmth.hpp"

#include <algorithm>
#include <cmath>

#include "core/survey/observation.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

bool grows(const sheet::RunSheet& run, int stage, std::size_t support) {
  return run.supports[support].growth_m_per_K != 0 &&
         run.beam_stages[std::size_t(stage)].lists_support(int(support));
}

// What bears in each stage up to that one, held so: a rod that grows by micrometres does not change it.
void hold_bearing(const sheet::RunSheet& run, const beam::Solver<double>& solver, int stage,
                  beam::State<double>& state) {
  for (int s = 0; s <= stage; ++s)
    for (std::size_t i = 0; i < run.supports.size(); ++i)
      if (run.beam_supports[i].one_way() && run.beam_stages[std::size_t(s)].lists_support(int(i)) &&
          !solver.support(s, int(i)).engaged)
        state.lifted[s] |= 1u << i;
  state.bearing_given = stage + 1;
}

// What one kelvin does to each reading; empty where the run cannot be solved.
std::vector<double> by_kelvin(const sheet::RunSheet& run, int stage,
                              std::span<const survey::Reading<double>> readings) {
  SolvedRun solved(run);
  if (solved.trouble()) return {};
  beam::Solver<double>& solver = solved.solver();
  beam::State<double> state = state_of_sheet(run);
  hold_bearing(run, solver, stage, state);
  const survey::Scene<double> scene{&solver, stage, run.length_m, run.width_m};
  std::vector<double> effect(readings.size());
  state.move_stage = stage;
  for (const double sign : {-1.0, 1.0}) {
    for (std::size_t i = 0; i < run.supports.size(); ++i)
      state.move[i].rise = sign / 2 * run.supports[i].growth_m_per_K;
    if (!solver.solve(state)) return {};
    for (std::size_t r = 0; r < readings.size(); ++r)
      effect[r] += sign * survey::predicted<double>(scene, readings[r], {});
  }
  return effect;
}

}  // namespace

Warmth take_off_warmth(const sheet::RunSheet& run, int stage, std::span<const sheet::ReadingEntry> entries,
                       std::optional<double> stood_C, std::span<survey::Reading<double>> readings) {
  Warmth warmth;
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    if (grows(run, stage, i)) warmth.supports.push_back({run.supports[i].name, 0, 0});
  if (warmth.supports.empty()) return warmth;
  std::vector<double> read_C;
  for (const sheet::ReadingEntry& each : entries)
    if (each.temperature_C) read_C.push_back(*each.temperature_C);
  if (read_C.empty()) {
    warmth.stood_C = stood_C;
    warmth.should_be_read =
        !entries.empty() && warmth_to_come(run, stage).by_m > kWarmthMatters * run.tolerance.level_m;
    return warmth;
  }
  double mean_C = 0;
  for (const double each : read_C) mean_C += each / double(read_C.size());
  const double from_C = stood_C.value_or(mean_C);
  warmth.mean_C = mean_C;
  warmth.stood_C = from_C;
  warmth.coolest_C = *std::min_element(read_C.begin(), read_C.end());
  warmth.warmest_C = *std::max_element(read_C.begin(), read_C.end());
  for (Grown& each : warmth.supports) {
    const double growth = run.supports[std::size_t(run.support(each.support))].growth_m_per_K;
    if (!stood_C) continue;
    each.rise_m = growth * (mean_C - from_C);
    each.sigma_m =
        std::hypot(kExpansionSigma * each.rise_m, std::sqrt(2.0) * kRodTemperatureSigma_C * growth);
  }
  if (warmth.coolest_C == from_C && warmth.warmest_C == from_C) return warmth;
  const std::vector<double> effect = by_kelvin(run, stage, readings);
  for (std::size_t i = 0; i < effect.size(); ++i)
    readings[i].value -= effect[i] * (entries[i].temperature_C.value_or(mean_C) - from_C);
  return warmth;
}

WarmthToCome warmth_to_come(const sheet::RunSheet& run, int stage) {
  WarmthToCome most;
  double least = 0, largest = 0, size = 0;
  bool first = true;
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    if (!run.beam_stages[std::size_t(stage)].lists_support(int(i))) continue;
    const double growth = run.supports[i].growth_m_per_K;
    least = first ? growth : std::min(least, growth);
    largest = first ? growth : std::max(largest, growth);
    first = false;
    if (std::abs(growth) > size) {
      size = std::abs(growth);
      most.support = run.supports[i].name;
    }
  }
  most.by_m = kPlausibleWarmth_C * (largest - least);
  return most;
}

}  // namespace hangtrue::job

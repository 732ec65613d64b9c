#include "firmware-host/job/prediction.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace hangtrue::job {

std::vector<Place> places(const sheet::RunSheet& run, const beam::Solver<double>& solver) {
  constexpr double kSame_m = 1e-9;
  std::vector<Place> result;
  const std::span<const double> nodes = solver.nodes_m();
  std::size_t station = 0;
  for (std::size_t node = 0; node < nodes.size(); ++node) {
    for (; station < run.stations_m.size() && run.stations_m[station] < nodes[node] + kSame_m; ++station)
      if (std::abs(run.stations_m[station] - nodes[node]) > kSame_m)
        result.push_back({run.stations_m[station], beam::Side::right});
    if (solver.jumps(int(node))) result.push_back({nodes[node], beam::Side::left});
    result.push_back({nodes[node], solver.jumps(int(node)) || node + 1 < nodes.size() ? beam::Side::right
                                                                                      : beam::Side::left});
  }
  return result;
}

double across_m(const sheet::RunSheet& run, std::size_t point) {
  return point % 2 == 0 ? run.width_m / 2 : -run.width_m / 2;
}

std::vector<double> edge_heights(const sheet::RunSheet& run, const beam::Solver<double>& solver, int stage) {
  std::vector<double> heights(2 * run.stations_m.size());
  for (std::size_t point = 0; point < heights.size(); ++point)
    heights[point] = solver.height(stage, run.stations_m[point / 2], across_m(run, point));
  return heights;
}

double Span::ratio() const {
  return sag_m > 0 ? (to_m - from_m) / sag_m : std::numeric_limits<double>::infinity();
}

std::vector<Span> spans(const sheet::RunSheet& run, const beam::Solver<double>& solver, int stage) {
  std::vector<double> held;
  for (int i = 0; i < int(run.supports.size()); ++i)
    if (run.beam_supports[std::size_t(i)].rise.held && solver.support(stage, i).engaged)
      held.push_back(run.beam_supports[std::size_t(i)].at_m);
  std::sort(held.begin(), held.end());
  held.erase(std::unique(held.begin(), held.end()), held.end());

  std::vector<Span> result;
  if (held.empty()) return result;
  const auto height = [&](double x) { return solver.height(stage, x); };
  if (held.front() > 0) result.push_back({0, held.front(), height(held.front()) - height(0), true});
  for (std::size_t i = 0; i + 1 < held.size(); ++i) {
    const double a = held[i], b = held[i + 1], za = height(a), zb = height(b);
    double sag = 0;
    constexpr int kSteps = 200;
    for (int k = 1; k < kSteps; ++k) {
      const double x = a + (b - a) * k / kSteps;
      sag = std::max(sag, za + (zb - za) * (x - a) / (b - a) - height(x));
    }
    result.push_back({a, b, sag, false});
  }
  if (held.back() < run.length_m)
    result.push_back({held.back(), run.length_m, height(held.back()) - height(run.length_m), true});
  return result;
}

bool warps(const sheet::RunSheet& run) {
  return std::any_of(run.pieces.begin(), run.pieces.end(),
                     [](const beam::Piece<double>& piece) { return piece.warping_N_m4 > 0; });
}

std::optional<std::vector<std::string>> other_equilibrium(const sheet::RunSheet& run,
                                                          beam::Solver<double>& solver, int stage) {
  std::uint32_t lifted = 0;
  if (!solver.other_equilibrium(stage, lifted)) return std::nullopt;
  std::vector<std::string> names;
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    if (((lifted >> i) & 1u) != 0) names.push_back(run.supports[i].name);
  return names;
}

std::vector<double> bending_stress_Pa(const sheet::RunSheet& run, const beam::Solver<double>& solver,
                                      int stage) {
  std::vector<double> most(run.members.size(), 0.0);
  const std::vector<Place> where = places(run, solver);
  for (const sheet::BendingStress& stretch : run.bending_stresses)
    for (const Place& place : where) {
      if (place.at_m < stretch.from_m - 1e-9 || place.at_m > stretch.to_m + 1e-9) continue;
      const beam::Section<double> here = solver.at(stage, place.at_m, place.side);
      double& stress = most[std::size_t(stretch.member)];
      stress = std::max(stress, std::abs(here.moment_Nm * stretch.stress_Pa_per_Nm +
                                         here.bimoment_Nm2 * stretch.stress_Pa_per_Nm2));
    }
  return most;
}

}  // namespace hangtrue::job

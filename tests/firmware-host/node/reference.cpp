// reference.cpp: the invented run of the board's counting image, fitted and chosen for on the host in double precision, with the
// host's limits; prints what that image prints, a line each.
#include <cmath>
#include <cstdio>
#include <memory>
#include <vector>

#include "core/adjust/workspace.hpp"
#include "core/fit/fit.hpp"
#include "tests/firmware-host/node/invented_run.hpp"

namespace {

using namespace hangtrue;

beam::Restraint<double> wide(const beam::Restraint<float>& r) {
  return {r.held, r.compliance, r.pulled_home};
}
long long pm(double metres) { return std::llround(metres * 1e12); }

/// The run in double precision, and what its views look at.
struct Wide {
  std::vector<beam::Piece<double>> pieces;
  std::vector<beam::LoadPart<double>> parts;
  std::vector<beam::Support<double>> supports;
  std::vector<double> stations;
  beam::Run<double> run;

  explicit Wide(const node::PackedRun& packed) {
    for (const auto& p : packed.pieces.all())
      pieces.push_back({p.to_m, p.bending_N_m2, p.torsion_N_m2, p.shear_N});
    for (const auto& p : packed.load_parts.all())
      parts.push_back({p.load, p.kind, p.from_m, p.to_m, p.begin, p.end, p.across_m});
    for (const auto& s : packed.supports.all())
      supports.push_back({s.at_m, wide(s.rise), wide(s.pitch), wide(s.roll), s.holds, s.across_m});
    stations.assign(packed.stations_m.all().begin(), packed.stations_m.all().end());
    run = {packed.length_m,     pieces,     parts, packed.load_factor.count, supports,
           packed.stages.all(), packed.bows};
  }
};

}  // namespace

int main() {
  node::PackedRun packed;
  node::test::fill(packed);
  Wide wide_run(packed);
  fit::UnknownList<double> list;
  for (const node::PackedUnknown& each : packed.unknowns.all())
    if (!list.push(each.what, {each.prior.mean, each.prior.sigma})) return 1;
  std::vector<survey::Reading<double>> readings;
  for (int i = 0; i < 75; ++i) {
    const survey::Reading<float> r = node::test::reading(packed, i);
    readings.push_back({r.channel, r.edge, r.face, r.set_up, r.zero, r.at_m, r.base_m, r.value, r.sigma});
  }
  constexpr int kColumns = 32;
  std::vector<double> solver_storage(beam::Solver<double>::storage_needed(wide_run.run, kColumns));
  auto solver = beam::Solver<double>::create(wide_run.run, kColumns, solver_storage);
  if (!solver.ok()) return 1;
  auto problem = std::make_unique<fit::Problem<double>>();
  problem->run = &wide_run.run;
  problem->solver = &solver.value();
  problem->stage = packed.stage;
  problem->finished_stage = packed.finished_stage;
  problem->width_m = packed.width_m;
  problem->stations_m = wide_run.stations;
  problem->unknowns = &list;
  auto fitted = std::make_unique<fit::Fit<double>>();
  std::vector<double> fit_storage(fit::Fit<double>::storage_needed(list.count, 75, packed.stations_m.count));
  std::vector<fit::Judgement<double>> judgements(75);
  std::vector<fit::StationShape<double>> shapes(wide_run.stations.size());
  if (!fitted->begin(*problem, fit_storage).ok()) return 1;
  const auto ran = fitted->run(readings, {}, judgements);
  if (!ran.ok() || ran.value() != fit::Status::settled || !fitted->describe(shapes).ok()) return 1;

  beam::State<double> state = fitted->state();
  state.move_stage = packed.stage;
  const std::vector<beam::Parameter> moves{{beam::ParameterKind::move_rise, 1},
                                           {beam::ParameterKind::move_rise, 2}};
  if (!solver.value().solve(state, moves).ok()) return 1;
  const std::size_t points = 2 * wide_run.stations.size();
  std::vector<double> height(points), after(points), influence(2 * points), row(2);
  for (std::size_t p = 0; p < points; ++p) {
    const double across_m = (p % 2 == 0 ? 0.5 : -0.5) * double(packed.width_m);
    height[p] = solver.value().height(packed.finished_stage, wide_run.stations[p / 2], across_m);
    solver.value().height_derivatives(packed.finished_stage, wide_run.stations[p / 2], across_m, row);
    for (std::size_t m = 0; m < 2; ++m) influence[m * points + p] = row[m];
  }
  std::vector<adjust::Place<double>> places(2);
  for (std::size_t m = 0; m < 2; ++m) {
    const node::PackedAdjust& adjust = packed.adjust[m + 1];
    places[m].support = int(m) + 1;
    places[m].by = adjust.by == 2 ? adjust::By::rod : adjust::By::lift;
    places[m].rise_from_m = adjust.rise_from_m;
    places[m].rise_to_m = adjust.rise_to_m;
    places[m].step_m = adjust.step_m;
    places[m].step_turns = adjust.step_turns;
    places[m].on_height.rise = std::span(influence).subspan(m * points, points);
  }
  adjust::Problem<double> to_choose;
  to_choose.height_m = height;
  to_choose.places = places;
  auto workspace = std::make_unique<adjust::Workspace<double>>();
  const auto chosen = adjust::choose(to_choose, *workspace);
  if (!chosen.ok()) return 1;
  adjust::finished_heights(to_choose, chosen.value(), std::span(after));
  for (std::size_t i = 0; i < shapes.size(); ++i)
    std::printf("height pm,%lld\nleft pm,%lld\nleft after pm,%lld\n", pm(shapes[i].height_m),
                pm(height[2 * i]), pm(after[2 * i]));
  for (int m = 0; m < chosen.value().moves; ++m)
    std::printf("steps,%d\n", chosen.value().move[std::size_t(m)].steps);
  std::printf("moves,%d\n", chosen.value().moves);
  return 0;
}

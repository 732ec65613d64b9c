#include "tools/report/as_built/fitted_shape.hpp"

#include <algorithm>

#include "core/fit/unknowns.hpp"

namespace hangtrue::report {

beam::State<double> fitted_state(const sheet::RunSheet& run, const job::FitReport& fit) {
  beam::State<double> state = job::state_of_sheet(run);
  survey::KitState<double> kit;
  const auto take = [&](beam::ParameterKind kind, std::size_t index) {
    const beam::Parameter parameter{kind, std::int16_t(index)};
    const job::UnknownId id = job::id_of(run, parameter);
    const auto found = std::find_if(fit.parameters.begin(), fit.parameters.end(),
                                    [&](const job::UnknownEstimate& each) { return each.id == id; });
    if (found != fit.parameters.end())
      fit::assign(fit::Unknown{fit::UnknownKind::shape, parameter, 0}, found->estimate.value, state, kit);
  };
  using Kind = beam::ParameterKind;
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    for (const Kind kind : {Kind::offset_rise, Kind::offset_pitch, Kind::offset_roll, Kind::spring_rise,
                            Kind::spring_pitch, Kind::spring_roll})
      take(kind, i);
  take(Kind::bending, 0);
  take(Kind::torsion, 0);
  for (std::size_t i = 0; i < run.loads.size(); ++i) take(Kind::load, i);
  for (int i = 0; i < run.priors.bows; ++i) take(Kind::bow, std::size_t(i));
  return state;
}

FittedShape::FittedShape(const sheet::RunSheet& run, const job::FitReport& fit) : mechanics_(run) {
  solved_ = !mechanics_.trouble() && mechanics_.solver().solve(fitted_state(run, fit)).ok();
}

}  // namespace hangtrue::report

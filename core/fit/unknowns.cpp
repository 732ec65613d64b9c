#include "core/fit/unknowns.hpp"

namespace hangtrue::fit {
namespace {

using beam::Motions;
using beam::ParameterKind;

Unknown shape(ParameterKind kind, int index = 0) {
  return {UnknownKind::shape, {kind, static_cast<std::int16_t>(index)}, 0};
}

Unknown of_kit(UnknownKind kind, int index) { return {kind, {}, static_cast<std::int16_t>(index)}; }

// Supports listed, or loads on, in any stage up to and including `stage`.
template <class Scalar>
beam::Stage all_up_to(const beam::Run<Scalar>& run, int stage) {
  beam::Stage all;
  for (int s = 0; s <= stage; ++s) {
    all.supports |= run.stages[static_cast<std::size_t>(s)].supports;
    all.loads |= run.stages[static_cast<std::size_t>(s)].loads;
  }
  return all;
}

template <class Scalar>
const Motions<Prior<Scalar>>& offset_priors(const Priors<Scalar>& priors, const beam::Stage& by_survey,
                                            int support) {
  return by_survey.lists_support(support) ? priors.offset[support] : priors.later_offset[support];
}

template <class Scalar>
Motions<Scalar> means(const Motions<Prior<Scalar>>& of) {
  return {of.rise.mean, of.pitch.mean, of.roll.mean};
}

template <class Scalar>
Scalar& quantity(beam::Parameter what, beam::State<Scalar>& state) {
  const int i = what.index;
  switch (what.kind) {
    case ParameterKind::offset_rise:
      return state.offset[i].rise;
    case ParameterKind::offset_pitch:
      return state.offset[i].pitch;
    case ParameterKind::offset_roll:
      return state.offset[i].roll;
    case ParameterKind::bending:
      return state.bending_factor;
    case ParameterKind::torsion:
      return state.torsion_factor;
    case ParameterKind::spring_rise:
      return state.log_spring[i].rise;
    case ParameterKind::spring_pitch:
      return state.log_spring[i].pitch;
    case ParameterKind::spring_roll:
      return state.log_spring[i].roll;
    case ParameterKind::load:
      return state.load_factor[i];
    case ParameterKind::bow:
      return state.bow_m[i];
    case ParameterKind::move_rise:
      return state.move[i].rise;
    case ParameterKind::move_pitch:
      return state.move[i].pitch;
    case ParameterKind::move_roll:
      return state.move[i].roll;
    case ParameterKind::give_rise:
      return state.give[i].rise;
    case ParameterKind::give_pitch:
      return state.give[i].pitch;
    case ParameterKind::give_roll:
      break;
  }
  return state.give[i].roll;
}

}  // namespace

template <class Scalar>
bool build_unknowns(const beam::Run<Scalar>& run, int stage, int finished_stage, const Priors<Scalar>& priors,
                    UnknownList<Scalar>& list) {
  const beam::Stage by_survey = all_up_to(run, stage);
  const beam::Stage by_finish = all_up_to(run, finished_stage);
  const int supports = static_cast<int>(run.supports.size());
  list.count = 0;
  bool fits = true;
  const auto push = [&](Unknown what, Prior<Scalar> prior) { fits = list.push(what, prior) && fits; };

  for (int i = 0; i < supports; ++i) {
    if (!by_finish.lists_support(i)) continue;
    const beam::Support<Scalar>& support = run.supports[static_cast<std::size_t>(i)];
    const Motions<Prior<Scalar>>& offset = offset_priors(priors, by_survey, i);
    for (const beam::Motion motion : beam::kMotions)
      if (support.restraint(motion).held) push(shape(beam::kOffsets[motion], i), offset[motion]);
  }
  push(shape(ParameterKind::bending), priors.bending);
  push(shape(ParameterKind::torsion), priors.torsion);
  for (int i = 0; i < supports; ++i) {
    if (!by_finish.lists_support(i)) continue;
    const beam::Support<Scalar>& support = run.supports[static_cast<std::size_t>(i)];
    for (const beam::Motion motion : beam::kMotions)
      if (const auto& held = support.restraint(motion); held.held && held.compliance > 0)
        push(shape(beam::kSprings[motion], i), priors.log_spring[i][motion]);
  }
  for (int i = 0; i < run.loads; ++i)
    if (by_finish.lists_load(i)) push(shape(ParameterKind::load, i), priors.load[i]);
  for (int i = 0; i < run.bows; ++i) push(shape(ParameterKind::bow, i), priors.bow[i]);
  for (int i = 0; i < supports; ++i) {
    if (!by_finish.lists_support(i)) continue;
    for (const beam::Motion motion : beam::kMotions)
      if (run.supports[static_cast<std::size_t>(i)].restraint(motion).held)
        push(shape(beam::kGives[motion], i), priors.give[i][motion]);
  }
  for (const Change<Scalar>& change : priors.changes)
    push({UnknownKind::change, change.what, 0}, change.prior);
  for (int i = 0; i < kMaxSetUps; ++i) {
    push(of_kit(UnknownKind::datum_height, i), priors.datum_height[i]);
    push(of_kit(UnknownKind::datum_tilt, i), priors.datum_tilt[i]);
  }
  for (int i = 0; i < kMaxChannels; ++i) push(of_kit(UnknownKind::zero, i), priors.zero[i]);
  for (int i = 0; i < kMaxMarks; ++i) push(of_kit(UnknownKind::mark_height, i), priors.mark_height[i]);
  for (int i = 0; i < kMaxMarks; ++i) push(of_kit(UnknownKind::mark_change, i), priors.mark_change[i]);
  push(of_kit(UnknownKind::drift_share, 0), priors.drift_share);
  return fits;
}

template <class Scalar>
beam::State<Scalar> state_of_means(const beam::Run<Scalar>& run, int stage, const Priors<Scalar>& priors) {
  const beam::Stage by_survey = all_up_to(run, stage);
  beam::State<Scalar> state;
  for (int i = 0; i < static_cast<int>(run.supports.size()); ++i) {
    state.offset[i] = means(offset_priors(priors, by_survey, i));
    state.log_spring[i] = means(priors.log_spring[i]);
    state.give[i] = means(priors.give[i]);
  }
  state.bending_factor = priors.bending.mean;
  state.torsion_factor = priors.torsion.mean;
  for (int i = 0; i < run.loads; ++i) state.load_factor[i] = priors.load[i].mean;
  for (int i = 0; i < run.bows; ++i) state.bow_m[i] = priors.bow[i].mean;
  return state;
}

template <class Scalar>
survey::KitState<Scalar> kit_of_means(const Priors<Scalar>& priors) {
  survey::KitState<Scalar> kit;
  for (int i = 0; i < kMaxSetUps; ++i) {
    kit.datum_height_m[i] = priors.datum_height[i].mean;
    kit.datum_tilt_rad[i] = priors.datum_tilt[i].mean;
  }
  for (int i = 0; i < kMaxChannels; ++i) kit.zero[i] = priors.zero[i].mean;
  for (int i = 0; i < kMaxMarks; ++i) kit.mark_height_m[i] = priors.mark_height[i].mean;
  kit.drift_share = priors.drift_share.mean;
  return kit;
}

template <class Scalar>
void assign(Unknown what, Scalar value, beam::State<Scalar>& state, survey::KitState<Scalar>& kit) {
  switch (what.kind) {
    case UnknownKind::datum_height:
      kit.datum_height_m[what.index] = value;
      return;
    case UnknownKind::datum_tilt:
      kit.datum_tilt_rad[what.index] = value;
      return;
    case UnknownKind::zero:
      kit.zero[what.index] = value;
      return;
    case UnknownKind::mark_height:
      kit.mark_height_m[what.index] = value;
      return;
    case UnknownKind::mark_change:
      kit.mark_height_m[what.index] += value;
      return;
    case UnknownKind::drift_share:
      kit.drift_share = value;
      return;
    case UnknownKind::shape:
      quantity(what.shape, state) = value;
      return;
    case UnknownKind::change:
      quantity(what.shape, state) += value;
      return;
  }
}

template bool build_unknowns(const beam::Run<double>&, int, int, const Priors<double>&, UnknownList<double>&);
template bool build_unknowns(const beam::Run<float>&, int, int, const Priors<float>&, UnknownList<float>&);
template beam::State<double> state_of_means(const beam::Run<double>&, int, const Priors<double>&);
template beam::State<float> state_of_means(const beam::Run<float>&, int, const Priors<float>&);
template survey::KitState<double> kit_of_means(const Priors<double>&);
template survey::KitState<float> kit_of_means(const Priors<float>&);
template void assign(Unknown, double, beam::State<double>&, survey::KitState<double>&);
template void assign(Unknown, float, beam::State<float>&, survey::KitState<float>&);

}  // namespace hangtrue::fit

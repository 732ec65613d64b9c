#include "core/c/hangtrue.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <memory>
#include <new>
#include <optional>
#include <string_view>
#include <vector>

#include "core/beam/solver.hpp"
#include "core/fit/fit.hpp"

namespace {

using namespace hangtrue;

static_assert(HANGTRUE_MAX_SUPPORTS == kMaxSupports && HANGTRUE_MAX_STAGES == kMaxStages);
static_assert(HANGTRUE_MAX_LOADS == kMaxLoads && HANGTRUE_MAX_SET_UPS == kMaxSetUps);
static_assert(HANGTRUE_MAX_CHANNELS == kMaxChannels && HANGTRUE_MAX_BOWS == kMaxBows);

constexpr double kNotThere = std::numeric_limits<double>::quiet_NaN();

/// The words with "{i}" and "{s}" in them replaced by index and stage.
hangtrue_code complain(hangtrue_error* error, hangtrue_code code, int index, int stage,
                       std::string_view words) {
  if (error == nullptr) return code;
  *error = {code, index, stage, {}};
  char* to = error->says;
  char* const end = error->says + sizeof error->says - 1;
  while (!words.empty() && to < end) {
    if (words.starts_with("{i}") || words.starts_with("{s}")) {
      to = std::to_chars(to, end, words[1] == 'i' ? index : stage).ptr;
      words.remove_prefix(3);
    } else {
      *to++ = words.front();
      words.remove_prefix(1);
    }
  }
  *to = '\0';
  return code;
}

hangtrue_code no_memory(hangtrue_error* error) {
  return complain(error, HANGTRUE_NO_MEMORY, -1, -1, "there is not enough memory");
}

/// A run of the core's own, from one that a caller describes. Not to be moved: `view` refers to the rest.
struct OwnRun {
  std::vector<beam::Piece<double>> pieces;
  std::vector<beam::LoadPart<double>> parts;
  std::vector<beam::Support<double>> supports;
  std::vector<beam::Stage> stages;
  beam::Run<double> view;
  std::vector<double> storage;
  std::optional<beam::Solver<double>> solver;

  OwnRun() = default;
  OwnRun(const OwnRun&) = delete;
  OwnRun& operator=(const OwnRun&) = delete;

  [[nodiscard]] bool has_stage(int stage) const { return stage >= 0 && std::size_t(stage) < stages.size(); }
  [[nodiscard]] bool has_support(int support) const {
    return support >= 0 && std::size_t(support) < supports.size();
  }
};

beam::Restraint<double> restraint_of(const hangtrue_restraint& from) {
  return {.held = from.held != 0, .compliance = from.compliance, .pulled_home = from.pulled_home != 0};
}

hangtrue_code complain_of(const beam::RunFault& fault, hangtrue_error* error) {
  const auto says = [&](std::string_view words) {
    return complain(error, HANGTRUE_RUN_WRONG, fault.index, -1, words);
  };
  switch (fault.code) {
    case beam::RunFaultCode::pieces_do_not_cover:
      return says("piece {i}: the pieces must follow one another from 0 to the run's length");
    case beam::RunFaultCode::stiffness_not_positive:
      return says("piece {i}: EI, GJ and shear stiffness must be above 0, E Iw 0 or above");
    case beam::RunFaultCode::load_off_run:
      return says("load part {i}: it must lie on the run, from before to");
    case beam::RunFaultCode::load_not_finite:
      return says("load part {i}: a value is not finite");
    case beam::RunFaultCode::load_kinds_mixed:
      return says("load {i}: warmth and weight cannot be parts of one load");
    case beam::RunFaultCode::support_off_run:
      return says("support {i}: it must stand on the run, its across must be finite");
    case beam::RunFaultCode::compliance_negative:
      return says("support {i}: a compliance must be 0 or above");
    case beam::RunFaultCode::no_stage:
      return says("there is no stage");
    case beam::RunFaultCode::too_many:
    case beam::RunFaultCode::storage_too_small:
      break;
  }
  return says("more supports, stages, loads, load parts or bows than the limits allow");
}

hangtrue_code complain_of(const beam::StageFault& fault, hangtrue_error* error) {
  const auto says = [&](std::string_view words) {
    return complain(error, HANGTRUE_NOT_HELD, fault.support, fault.stage, words);
  };
  switch (fault.code) {
    case beam::StageFaultCode::falls:
      return says("stage {s}: nothing holds the run up");
    case beam::StageFaultCode::tips:
      return says("stage {s}: the run is free to turn about support {i}");
    case beam::StageFaultCode::spins:
      return says("stage {s}: nothing holds the run's roll");
    case beam::StageFaultCode::over_determined:
      return says("stage {s}: rigid supports hold the same motion at one place, support {i} among them");
    case beam::StageFaultCode::does_not_settle:
      return says("stage {s}: one-way supports lift and bear in turns without end");
    case beam::StageFaultCode::state_not_usable:
      break;
  }
  return says("stage {s}: an offset or a factor is not finite, or a factor not above 0");
}

hangtrue_code complain_of(const fit::FitFault& fault, hangtrue_error* error) {
  if (fault.code == fit::FitFaultCode::run_not_solvable) return complain_of(fault.stage_fault, error);
  const auto says = [&](std::string_view words) {
    return complain(error, HANGTRUE_READINGS_WRONG, fault.index, -1, words);
  };
  switch (fault.code) {
    case fit::FitFaultCode::no_unknowns:
      return says("no prior has a sigma above 0, so that nothing is to be estimated");
    case fit::FitFaultCode::prior_not_usable:
      return says("unknown {i}: its prior's mean must be finite, its sigma finite and above 0");
    case fit::FitFaultCode::stage_not_there:
      return says("the run has no such stage, or the finished one lies before the survey's");
    case fit::FitFaultCode::width_not_usable:
      return says("the run's width must be finite and 0 or above");
    case fit::FitFaultCode::station_off_run:
      return says("station {i}: it must lie on the run");
    case fit::FitFaultCode::reading_not_finite:
      return says("reading {i}: a value is not finite");
    case fit::FitFaultCode::sigma_not_positive:
      return says("reading {i}: its sigma must be above 0");
    case fit::FitFaultCode::reading_off_run:
      return says("reading {i}: it must lie on the run, its base must be 0 or above");
    case fit::FitFaultCode::no_such_instrument:
      return says("reading {i}: its set-up or channel is beyond the limits");
    case fit::FitFaultCode::face_not_usable:
      return says("reading {i}: its face must be 1 or -1");
    default:
      return says("the readings cannot be fitted");
  }
}

hangtrue_code build(const hangtrue_run& from, int columns, OwnRun& run, hangtrue_error* error) {
  const auto wrong = [&](int index, const char* words) {
    return complain(error, HANGTRUE_RUN_WRONG, index, -1, words);
  };
  for (std::size_t i = 0; i < from.piece_count; ++i) {
    const hangtrue_piece& piece = from.pieces[i];
    run.pieces.push_back({.to_m = piece.to_m,
                          .bending_N_m2 = piece.bending_N_m2,
                          .torsion_N_m2 = piece.torsion_N_m2,
                          .warping_N_m4 = piece.warping_N_m4});
    if (piece.shear_N != 0) run.pieces.back().shear_N = piece.shear_N;
  }
  for (std::size_t i = 0; i < from.load_part_count; ++i) {
    const hangtrue_load_part& part = from.load_parts[i];
    if (part.kind < HANGTRUE_SPREAD || part.kind > HANGTRUE_WARMTH)
      return wrong(int(i), "load part {i}: its kind is none of hangtrue_load_kind");
    if (part.load < 0 || part.load >= from.loads)
      return wrong(int(i), "load part {i}: its load must be 0 to loads - 1");
    run.parts.push_back({part.load, static_cast<beam::LoadKind>(part.kind), part.from_m, part.to_m,
                         part.begin, part.end, part.across_m});
  }
  for (std::size_t i = 0; i < from.support_count; ++i) {
    const hangtrue_support& support = from.supports[i];
    if (support.holds < HANGTRUE_BOTH || support.holds > HANGTRUE_PULL)
      return wrong(int(i), "support {i}: holds is none of hangtrue_holds");
    run.supports.push_back({support.at_m, restraint_of(support.rise), restraint_of(support.pitch),
                            restraint_of(support.roll), static_cast<beam::Holds>(support.holds),
                            support.across_m, support.holds_warping != 0});
  }
  for (std::size_t i = 0; i < from.stage_count; ++i) {
    const hangtrue_stage& stage = from.stages[i];
    if ((from.support_count < 32 && (stage.supports >> from.support_count) != 0) ||
        (from.loads < 64 && (stage.loads >> from.loads) != 0))
      return wrong(int(i), "stage {i}: it lists a support or a load that is not there");
    run.stages.push_back({stage.supports, stage.loads});
  }
  run.view = {.length_m = from.length_m,
              .pieces = run.pieces,
              .load_parts = run.parts,
              .loads = from.loads,
              .supports = run.supports,
              .stages = run.stages,
              .bows = from.bows,
              .shear_centre_m = from.shear_centre_m};
  run.storage.resize(beam::Solver<double>::storage_needed(run.view, columns));
  auto made = beam::Solver<double>::create(run.view, columns, run.storage);
  if (!made) return complain_of(made.fault(), error);
  run.solver = made.value();
  return HANGTRUE_DONE;
}

/// Counts that no run has: asked before memory is.
hangtrue_code check_counts(const hangtrue_run* run, hangtrue_error* error) {
  const auto wrong = [&](std::string_view words) {
    return complain(error, HANGTRUE_RUN_WRONG, -1, -1, words);
  };
  if (run == nullptr) return wrong("there is no run");
  if ((run->pieces == nullptr && run->piece_count > 0) ||
      (run->load_parts == nullptr && run->load_part_count > 0) ||
      (run->supports == nullptr && run->support_count > 0) ||
      (run->stages == nullptr && run->stage_count > 0))
    return wrong("a count is above 0, and its pointer is NULL");
  if (run->loads < 0 || run->loads > kMaxLoads || run->load_part_count > kMaxLoadParts ||
      run->support_count > kMaxSupports || run->stage_count > kMaxStages || run->bows < 0 ||
      run->bows > kMaxBows)
    return wrong("more supports, stages, loads, load parts or bows than the limits allow");
  if (run->piece_count == 0) return wrong("the run has no piece");
  return HANGTRUE_DONE;
}

fit::Prior<double> prior_of(const hangtrue_prior& from) { return {from.mean, from.sigma}; }

fit::Priors<double> priors_of(const hangtrue_priors& from) {
  fit::Priors<double> priors;
  for (int i = 0; i < kMaxSupports; ++i)
    for (int m = 0; m < beam::kMotionCount; ++m) {
      priors.offset[i][m] = prior_of(from.offset[i][m]);
      priors.later_offset[i][m] = prior_of(from.later_offset[i][m]);
      priors.log_spring[i][m] = prior_of(from.log_spring[i][m]);
    }
  priors.bending = prior_of(from.bending);
  priors.torsion = prior_of(from.torsion);
  for (int i = 0; i < kMaxLoads; ++i) priors.load[i] = prior_of(from.load[i]);
  for (int i = 0; i < kMaxBows; ++i) priors.bow[i] = prior_of(from.bow[i]);
  for (int i = 0; i < kMaxSetUps; ++i) {
    priors.datum_height[i] = prior_of(from.datum_height[i]);
    priors.datum_tilt[i] = prior_of(from.datum_tilt[i]);
  }
  for (int i = 0; i < kMaxChannels; ++i) priors.zero[i] = prior_of(from.zero[i]);
  return priors;
}

}  // namespace

struct hangtrue_prediction {
  OwnRun run;
};

struct hangtrue_fit {
  OwnRun run;
  fit::UnknownList<double> unknowns;
  fit::Fit<double> fit;
  fit::Priors<double> priors;
  std::vector<double> storage, stations_m;
  std::vector<fit::StationShape<double>> stations;
  std::vector<fit::Judgement<double>> judgements;

  [[nodiscard]] hangtrue_prior of(beam::ParameterKind kind, int index,
                                  const fit::Prior<double>& given) const {
    const fit::Unknown wanted{.kind = fit::UnknownKind::shape,
                              .shape = {.kind = kind, .index = std::int16_t(index)}};
    for (int u = 0; u < unknowns.count; ++u)
      if (unknowns.unknown[u] == wanted) return {fit.estimate(u).value, fit.estimate(u).sigma};
    return {given.mean, given.sigma};
  }
};

int hangtrue_c_version(void) { return HANGTRUE_C_VERSION; }

hangtrue_code hangtrue_predict(const hangtrue_run* run, const double* offsets, hangtrue_prediction** made,
                               hangtrue_error* error) try {
  if (made == nullptr) return complain(error, HANGTRUE_RUN_WRONG, -1, -1, "made must not be NULL");
  *made = nullptr;
  if (const hangtrue_code code = check_counts(run, error); code != HANGTRUE_DONE) return code;
  auto prediction = std::make_unique<hangtrue_prediction>();
  if (const hangtrue_code code = build(*run, 1, prediction->run, error); code != HANGTRUE_DONE) return code;
  beam::State<double> state;
  for (std::size_t i = 0; offsets != nullptr && i < run->support_count; ++i)
    for (int m = 0; m < beam::kMotionCount; ++m) state.offset[i][m] = offsets[3 * i + std::size_t(m)];
  if (const auto solved = prediction->run.solver->solve(state); !solved)
    return complain_of(solved.fault(), error);
  *made = prediction.release();
  if (error != nullptr) *error = {HANGTRUE_DONE, -1, -1, {}};
  return HANGTRUE_DONE;
} catch (const std::bad_alloc&) {
  return no_memory(error);
}

void hangtrue_prediction_free(hangtrue_prediction* prediction) { delete prediction; }

hangtrue_section hangtrue_section_at(const hangtrue_prediction* prediction, int stage, double x_m) {
  if (!prediction->run.has_stage(stage) || !std::isfinite(x_m))
    return {kNotThere, kNotThere, kNotThere, kNotThere, kNotThere, kNotThere, kNotThere};
  const double length = prediction->run.view.length_m;
  const auto side = x_m >= length ? beam::Side::left : beam::Side::right;
  const auto at = prediction->run.solver->at(stage, std::clamp(x_m, 0.0, length), side);
  return {at.height_m, at.slope_rad, at.roll_rad, at.moment_Nm, at.shear_N, at.torque_Nm, at.bimoment_Nm2};
}

hangtrue_action hangtrue_action_of(const hangtrue_prediction* prediction, int stage, int support) {
  if (!prediction->run.has_stage(stage) || !prediction->run.has_support(support))
    return {0, kNotThere, kNotThere, kNotThere};
  const auto action = prediction->run.solver->support(stage, support);
  return {action.engaged ? 1 : 0, action.force_N, action.moment_Nm, action.torque_Nm};
}

double hangtrue_lowest_m(const hangtrue_prediction* prediction, int stage, double* at_m) {
  if (at_m != nullptr) *at_m = kNotThere;
  if (!prediction->run.has_stage(stage)) return kNotThere;
  const auto lowest = prediction->run.solver->lowest(stage);
  if (at_m != nullptr) *at_m = lowest.at_m;
  return lowest.height_m;
}

hangtrue_priors hangtrue_priors_default(void) {
  hangtrue_priors priors{};
  for (int i = 0; i < kMaxSupports; ++i)
    for (auto* each : {priors.offset[i], priors.later_offset[i]}) {
      each[0] = {0, 0.005};
      each[1] = each[2] = {0, 0.01};
    }
  priors.bending = priors.torsion = {1, 0};
  for (hangtrue_prior& load : priors.load) load = {1, 0};
  for (hangtrue_prior& height : priors.datum_height) height = {0, 10};
  return priors;
}

hangtrue_code hangtrue_fit_readings(const hangtrue_run* run, int stage, int finished,
                                    const hangtrue_priors* priors, const double* stations_m,
                                    size_t station_count, const hangtrue_reading* readings,
                                    size_t reading_count, hangtrue_fit** made, hangtrue_error* error) try {
  constexpr std::size_t kMostReadings = 1'000'000;
  const auto wrong = [&](int index, const char* words) {
    return complain(error, HANGTRUE_READINGS_WRONG, index, -1, words);
  };
  if (made == nullptr) return wrong(-1, "made must not be NULL");
  *made = nullptr;
  if (const hangtrue_code code = check_counts(run, error); code != HANGTRUE_DONE) return code;
  if (stations_m == nullptr || station_count == 0 || station_count > kMaxStations)
    return wrong(-1, "there must be 1 to 400 stations");
  if (readings == nullptr || reading_count == 0 || reading_count > kMostReadings)
    return wrong(-1, "there must be 1 to 1,000,000 readings");
  std::vector<survey::Reading<double>> taken;
  for (std::size_t i = 0; i < reading_count; ++i) {
    const hangtrue_reading& from = readings[i];
    if (from.channel < HANGTRUE_SLOPE || from.channel > HANGTRUE_DISTANCE)
      return wrong(int(i), "reading {i}: its channel is none of hangtrue_channel");
    if (from.edge < -1 || from.edge > 1) return wrong(int(i), "reading {i}: its edge must be -1, 0 or 1");
    if (from.face != 1 && from.face != -1) return wrong(int(i), "reading {i}: its face must be 1 or -1");
    if (from.set_up < -1 || from.set_up >= kMaxSetUps || from.zero < -1 || from.zero >= kMaxChannels)
      return wrong(int(i), "reading {i}: its set-up or channel is beyond the limits");
    constexpr std::array kMeasured = {Channel::slope, Channel::roll, Channel::distance};
    taken.push_back({.channel = kMeasured[std::size_t(from.channel)],
                     .edge = static_cast<survey::Edge>(from.edge),
                     .face = std::int8_t(from.face),
                     .set_up = std::int16_t(from.set_up),
                     .zero = std::int16_t(from.zero),
                     .at_m = from.at_m,
                     .base_m = from.base_m,
                     .value = from.value,
                     .sigma = from.sigma});
  }
  auto fitted = std::make_unique<hangtrue_fit>();
  if (const hangtrue_code code = build(*run, kMaxUnknowns, fitted->run, error); code != HANGTRUE_DONE)
    return code;
  if (!fitted->run.has_stage(stage) || !fitted->run.has_stage(finished) || finished < stage)
    return wrong(-1, "the run has no such stage, or the finished one lies before the survey's");
  fitted->priors = priors_of(priors != nullptr ? *priors : hangtrue_priors_default());
  if (!fit::build_unknowns(fitted->run.view, stage, finished, fitted->priors, fitted->unknowns))
    return wrong(-1, "more unknowns than 128: give fewer priors a sigma");
  fitted->stations_m.assign(stations_m, stations_m + station_count);
  fit::Problem<double> problem;
  problem.run = &fitted->run.view;
  problem.solver = &*fitted->run.solver;
  problem.stage = stage;
  problem.finished_stage = finished;
  problem.width_m = run->width_m;
  problem.stations_m = fitted->stations_m;
  problem.unknowns = &fitted->unknowns;
  problem.base = fit::state_of_means(fitted->run.view, stage, fitted->priors);
  problem.kit = fit::kit_of_means(fitted->priors);
  fitted->storage.resize(
      fit::Fit<double>::storage_needed(fitted->unknowns.count, int(reading_count), int(station_count)));
  if (const auto begun = fitted->fit.begin(problem, fitted->storage); !begun)
    return complain_of(begun.fault(), error);
  fitted->judgements.resize(reading_count);
  if (const auto ran = fitted->fit.run(taken, {}, fitted->judgements); !ran)
    return complain_of(ran.fault(), error);
  fitted->stations.resize(station_count);
  if (const auto described = fitted->fit.describe(fitted->stations); !described)
    return complain_of(described.fault(), error);
  *made = fitted.release();
  if (error != nullptr) *error = {HANGTRUE_DONE, -1, -1, {}};
  return HANGTRUE_DONE;
} catch (const std::bad_alloc&) {
  return no_memory(error);
}

void hangtrue_fit_free(hangtrue_fit* fit) { delete fit; }

hangtrue_self_test hangtrue_fit_test(const hangtrue_fit* fit) {
  const auto test = fit->fit.self_test();
  return {fit->fit.status() == fit::Status::settled ? 1 : 0,
          test.outcome == fit::TestOutcome::holds ? 1 : 0,
          test.chi_squared,
          test.p_value,
          test.degrees_of_freedom,
          test.beyond_gate};
}

hangtrue_station hangtrue_fit_station(const hangtrue_fit* fit, size_t station) {
  if (station >= fit->stations.size()) {
    hangtrue_station none;
    none.at_m = none.height_m = none.height_sigma_m = none.height_less_mean_sigma_m = kNotThere;
    none.slope_rad = none.slope_sigma_rad = none.roll_rad = none.roll_sigma_rad = kNotThere;
    none.sag_m = none.sag_to_come_m = kNotThere;
    return none;
  }
  const auto& at = fit->stations[station];
  return {at.at_m,      at.height_m,        at.height_sigma_m, at.height_less_mean_sigma_m,
          at.slope_rad, at.slope_sigma_rad, at.roll_rad,       at.roll_sigma_rad,
          at.sag_m,     at.sag_to_come_m};
}

int hangtrue_fit_kept(const hangtrue_fit* fit, size_t reading) {
  return reading < fit->judgements.size() && fit->judgements[reading].verdict == fit::Verdict::kept ? 1 : 0;
}

hangtrue_prior hangtrue_fit_bending(const hangtrue_fit* fit) {
  return fit->of(beam::ParameterKind::bending, 0, fit->priors.bending);
}

hangtrue_prior hangtrue_fit_load(const hangtrue_fit* fit, int load) {
  if (load < 0 || load >= fit->run.view.loads) return {kNotThere, kNotThere};
  return fit->of(beam::ParameterKind::load, load, fit->priors.load[load]);
}

hangtrue_prior hangtrue_fit_log_spring(const hangtrue_fit* fit, int support, int motion) {
  if (!fit->run.has_support(support) || motion < 0 || motion >= beam::kMotionCount)
    return {kNotThere, kNotThere};
  return fit->of(beam::kSprings[motion], support, fit->priors.log_spring[support][motion]);
}

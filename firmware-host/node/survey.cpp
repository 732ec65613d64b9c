#include "firmware-host/node/survey.hpp"

#include <algorithm>
#include <limits>
#include <new>
#include <utility>

namespace hangtrue::node {

namespace {

alignas(8) std::array<std::byte, kArenaBytes> arena;

/// Of a force that must keep a one-way support loaded: rounding below nothing.
constexpr float kLeastForce_N = -1e-6F;

}  // namespace

/// Hands out pieces of the arena, in order; all are free again when it is made anew.
class Survey::Arena {
 public:
  template <class Element>
  [[nodiscard]] std::span<Element> array(std::size_t count) {
    const std::size_t begin = (used_ + alignof(Element) - 1) & ~(alignof(Element) - 1);
    used_ = begin + count * sizeof(Element);
    if (used_ > arena.size()) return {};
    return {new (arena.data() + begin) Element[count], count};
  }
  /// Made in place; nullptr: no room.
  template <class Object, class... Arguments>
  [[nodiscard]] Object* object(Arguments&&... arguments) {
    const std::size_t begin = (used_ + alignof(Object) - 1) & ~(alignof(Object) - 1);
    used_ = begin + sizeof(Object);
    return used_ > arena.size() ? nullptr
                                : new (arena.data() + begin) Object(std::forward<Arguments>(arguments)...);
  }
  [[nodiscard]] CardFault too_small() const { return {CardStep::storage, int(used_), int(arena.size())}; }

 private:
  std::size_t used_ = 0;
};

bool Survey::add(const survey::Reading<float>& reading) {
  if (readings_ == node_limits::kReadings) return false;
  reading_[std::size_t(readings_++)] = reading;
  return true;
}

beam::Run<float> Survey::run() const {
  return {run_.length_m,
          run_.pieces.all(),
          run_.load_parts.all(),
          run_.load_factor.count,
          run_.supports.all(),
          run_.stages.all().first(std::size_t(run_.finished_stage) + 1),
          run_.bows,
          run_.shear_centre_m};
}

Result<Done, CardFault> Survey::make_card(Card& card) {
  if (const auto fitted = fit(card); !fitted) return fitted.fault();
  return choose(card);
}

// ---- fit ----------------------------------------------------------------------------------------------------------

Result<Done, CardFault> Survey::fit(Card& card) {
  using Solver = beam::Solver<float>;
  using Fit = fit::Fit<float>;
  Arena memory;
  const beam::Run<float> view = run();
  auto* const list = memory.object<fit::UnknownList<float>>();
  auto* const problem = memory.object<fit::Problem<float>>();
  auto* const fit = memory.object<Fit>();
  if (list == nullptr || problem == nullptr || fit == nullptr) return memory.too_small();
  int columns = 0;
  for (const PackedUnknown& unknown : run_.unknowns.all()) {
    if (!list->push(unknown.what, unknown.prior)) return CardFault{CardStep::fit};
    columns += unknown.what.kind == fit::UnknownKind::shape ? 1 : 0;
  }
  const std::span<float> solver_storage =
      memory.array<float>(Solver::storage_needed(view, std::max(columns, 1)));
  const std::span<float> fit_storage =
      memory.array<float>(Fit::storage_needed(list->count, readings_, run_.stations_m.count));
  const auto judgements = memory.array<fit::Judgement<float>>(std::size_t(readings_));
  const auto shapes = memory.array<fit::StationShape<float>>(std::size_t(run_.stations_m.count));
  if (fit_storage.empty() || shapes.empty() || solver_storage.empty()) return memory.too_small();
  auto created = Solver::create(view, std::max(columns, 1), solver_storage);
  if (!created.ok()) return CardFault{CardStep::solver, int(created.fault().code), created.fault().index};

  problem->run = &view;
  problem->solver = &created.value();
  problem->stage = run_.stage;
  problem->finished_stage = run_.finished_stage;
  problem->width_m = run_.width_m;
  problem->stations_m = run_.stations_m.all();
  problem->unknowns = list;
  for (int i = 0; i < run_.supports.count; ++i) {
    problem->base.offset[i] = run_.state[std::size_t(i)].offset;
    problem->base.log_spring[i] = run_.state[std::size_t(i)].log_spring;
    problem->base.give[i] = run_.state[std::size_t(i)].give;
  }
  problem->base.bending_factor = run_.bending_factor;
  problem->base.torsion_factor = run_.torsion_factor;
  std::copy(run_.load_factor.all().begin(), run_.load_factor.all().end(), problem->base.load_factor);
  std::copy(run_.zero.all().begin(), run_.zero.all().end(), problem->kit.zero);

  const auto fault = [](const fit::FitFault& why) {
    return CardFault{CardStep::fit, int(why.code), why.index};
  };
  if (const auto begun = fit->begin(*problem, fit_storage); !begun) return fault(begun.fault());
  const auto ran = fit->run(std::span(reading_).first(std::size_t(readings_)), {}, judgements);
  if (!ran) return fault(ran.fault());
  if (ran.value() != fit::Status::settled) return CardFault{CardStep::not_settled, int(ran.value())};
  if (const auto described = fit->describe(shapes); !described) return fault(described.fault());
  card.stations = run_.stations_m.count;
  card.self_test = fit->self_test();
  for (std::size_t i = 0; i < shapes.size(); ++i) {
    card.height_m[i] = shapes[i].height_m;
    card.roll_rad[i] = shapes[i].roll_rad;
    card.sigma_m[i] = shapes[i].height_less_mean_sigma_m;
  }
  state_ = fit->state();
  return Done{};
}

// ---- choice -------------------------------------------------------------------------------------------------------

namespace {

struct MotionToSet {
  int support;
  beam::Motion motion;
};

adjust::Place<float> place_of(const PackedAdjust& adjust, int support) {
  adjust::Place<float> place;
  place.support = support;
  place.by = adjust.by == 1 ? adjust::By::shims : adjust.by == 2 ? adjust::By::rod : adjust::By::lift;
  place.rise_from_m = adjust.rise_from_m;
  place.rise_to_m = adjust.rise_to_m;
  place.pitch = adjust.pitch;
  place.roll = adjust.roll;
  place.along_m = adjust.along_m;
  place.across_m = adjust.across_m;
  place.layout = adjust::layout_for(place.along_m > 0, place.across_m > 0, adjust.pitch, adjust.roll);
  place.step_m = adjust.step_m;
  place.step_turns = adjust.step_turns;
  return place;
}

}  // namespace

Result<Done, CardFault> Survey::choose(Card& card) {
  using Solver = beam::Solver<float>;
  constexpr std::size_t kMostMotions = std::size_t(beam::kMotionCount) * std::size_t(kMaxSupports);
  Arena memory;
  // Every one-way support holds both ways, so that all is linear; limits keep it loaded.
  const std::span<beam::Support<float>> both =
      memory.array<beam::Support<float>>(std::size_t(run_.supports.count));
  for (int i = 0; i < run_.supports.count; ++i) {
    both[std::size_t(i)] = run_.supports.entry[std::size_t(i)];
    both[std::size_t(i)].holds = beam::Holds::both;
  }
  beam::Run<float> linear = run();
  linear.supports = both;

  beam::Parameter parameter[kMostMotions];
  MotionToSet motion[kMostMotions];
  std::size_t motions = 0;
  for (int i = 0; i < run_.supports.count; ++i) {
    const PackedAdjust& adjust = run_.adjust[std::size_t(i)];
    bool listed = false;
    for (int s = run_.stage; s <= run_.finished_stage; ++s)
      listed = listed || run_.stages.entry[std::size_t(s)].lists_support(i);
    if (adjust.by == 0 || !listed) continue;
    const bool can[] = {true, adjust.pitch, adjust.roll};
    for (const beam::Motion m : beam::kMotions) {
      if (!can[int(m)]) continue;
      parameter[motions] = {beam::kMoves[m], std::int16_t(i)};
      motion[motions++] = {i, m};
    }
  }

  const std::size_t points = 2 * std::size_t(run_.stations_m.count);
  const std::span<float> storage =
      memory.array<float>(Solver::storage_needed(linear, int(std::max<std::size_t>(motions, 1))));
  const std::span<float> on_height = memory.array<float>(motions * points + 1);
  const std::span<float> on_force = memory.array<float>(motions * adjust::kMaxForceLimits + 1);
  auto* const workspace = memory.object<adjust::Workspace<float>>();
  if (workspace == nullptr) return memory.too_small();
  auto created = Solver::create(linear, int(std::max<std::size_t>(motions, 1)), storage);
  if (!created.ok()) return CardFault{CardStep::solver, int(created.fault().code), created.fault().index};
  Solver& solver = created.value();
  state_.move_stage = run_.stage;
  if (const auto solved = solver.solve(state_, std::span(parameter, motions)); !solved)
    return CardFault{CardStep::settings, int(solved.fault().code), solved.fault().support};

  float row[kMostMotions + 1];
  const int finished = run_.finished_stage;
  for (std::size_t point = 0; point < points; ++point) {
    const float at_m = run_.stations_m.entry[point / 2];
    const float across_m = (point % 2 == 0 ? 0.5F : -0.5F) * run_.width_m;
    card.before_m[point] = solver.height(finished, at_m, across_m);
    solver.height_derivatives(finished, at_m, across_m, std::span(row, motions));
    for (std::size_t m = 0; m < motions; ++m) on_height[m * points + point] = row[m];
  }
  adjust::ForceLimit<float> force[adjust::kMaxForceLimits];
  std::size_t forces = 0;
  for (int s = run_.stage; s <= finished; ++s)
    for (int i = 0; i < run_.supports.count; ++i) {
      const beam::Support<float>& support = run_.supports.entry[std::size_t(i)];
      if (!run_.stages.entry[std::size_t(s)].lists_support(i) || !support.rise.held) continue;
      const float rating_N = run_.adjust[std::size_t(i)].rating_N;
      if (!(rating_N > 0) && !support.one_way()) continue;
      adjust::ForceLimit<float>& limit = force[forces];
      limit.support = i;
      limit.stage = s;
      limit.now_N = solver.support(s, i).force_N;
      limit.while_moving = s == run_.stage;
      if (rating_N > 0) {
        limit.greatest_N = rating_N;
        limit.least_N = -rating_N;
      }
      if (support.one_way()) limit.least_N = kLeastForce_N;
      solver.force_derivatives(s, i, std::span(row, motions));
      for (std::size_t m = 0; m < motions; ++m) on_force[m * adjust::kMaxForceLimits + forces] = row[m];
      ++forces;
    }

  adjust::PieceKind<float> kind[adjust::kMaxPieceKinds];
  for (int k = 0; k < run_.stock.count; ++k)
    kind[k] = {run_.stock.entry[std::size_t(k)].thickness_m, run_.stock.entry[std::size_t(k)].count};
  adjust::Stock<float> stock{std::span(kind, std::size_t(run_.stock.count)), run_.most_in_stack};
  if (run_.highest_stack_m > 0) stock.highest_m = run_.highest_stack_m;
  adjust::Place<float> place[adjust::kMaxPlaces];
  std::size_t places = 0;
  for (std::size_t m = 0; m < motions; ++m) {
    if (places == 0 || place[places - 1].support != motion[m].support)
      place[places++] = place_of(run_.adjust[std::size_t(motion[m].support)], motion[m].support);
    place[places - 1].on_height[motion[m].motion] = on_height.subspan(m * points, points);
    place[places - 1].on_force[motion[m].motion] = on_force.subspan(m * adjust::kMaxForceLimits, forces);
  }

  adjust::Problem<float> problem;
  problem.height_m = std::span(card.before_m).first(points);
  problem.forces = std::span(force, forces);
  problem.stocks = std::span(&stock, run_.stock.count > 0 ? 1u : 0u);
  problem.places = std::span(place, places);
  if (run_.has_target) problem.target_m = run_.target_m;
  const auto chosen = adjust::choose(problem, *workspace);
  if (!chosen.ok()) return CardFault{CardStep::search, int(chosen.fault().code), chosen.fault().index};
  card.choice = chosen.value();
  adjust::finished_heights(problem, card.choice, std::span(card.after_m).first(points));
  return Done{};
}

}  // namespace hangtrue::node

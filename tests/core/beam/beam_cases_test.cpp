// Every case of data/reference/beam_cases.json and torsion_cases.json through the solver, in both precisions.
//
// The files count deflection y positive down and slope theta positive where the beam falls; the solver counts heights
// up and slopes positive where the run climbs. Moments sagging, reactions up: the same in both. Sources stand beside
// each case in the files: AISC Steel Construction Manual, Table 3-23; Roark's Formulas for Stress and Strain, Table 8.1;
// Timoshenko, Strength of Materials; three-moment equation; slope-deflection.
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>

#include "core/beam/solver.hpp"
#include "tests/core/beam/run_builder.hpp"
#include "tests/core/reference.hpp"

namespace hangtrue::beam {
namespace {

using nlohmann::json;
using test::Bench;
using test::clamp;
using test::pin;
using test::RunBuilder;

template <class Scalar>
class Inputs {
 public:
  explicit Inputs(const json& values) : values_(values) {}
  Scalar operator()(const char* name) const { return static_cast<Scalar>(values_.at(name).get<double>()); }
  [[nodiscard]] Scalar bending() const {
    return static_cast<Scalar>(values_.at("E").get<double>() * values_.at("I").get<double>());
  }

 private:
  const json& values_;
};

template <class Scalar>
using Outputs = std::map<std::string, Scalar>;

/// Results of the last stage in the file's signs.
template <class Scalar>
class Shape {
 public:
  explicit Shape(RunBuilder<Scalar> builder, const State<Scalar>& state = {})
      : builder_(std::move(builder)), bench_(builder_), stage_(static_cast<int>(builder_.stages.size()) - 1) {
    bench_.solve(state);
  }
  Scalar y(Scalar x) { return -bench_->at(stage_, x).height_m; }
  Scalar theta(Scalar x) { return -bench_->at(stage_, x).slope_rad; }
  Scalar rotation(Scalar x) { return -bench_->at(stage_, x).rotation_rad; }
  Scalar moment(Scalar x, Side side = Side::right) { return bench_->at(stage_, x, side).moment_Nm; }
  Scalar shear(Scalar x, Side side = Side::right) { return bench_->at(stage_, x, side).shear_N; }
  Scalar torque(Scalar x, Side side = Side::right) { return bench_->at(stage_, x, side).torque_Nm; }
  Scalar roll(Scalar x) { return bench_->at(stage_, x).roll_rad; }
  SupportAction<Scalar> support(int i) { return bench_->support(stage_, i); }
  Scalar reaction(int i) { return support(i).force_N; }
  Scalar lowest_at() { return bench_->lowest(stage_).at_m; }
  Scalar lowest_y() { return -bench_->lowest(stage_).height_m; }

  /// Where the shear passes through zero between two places: there the moment is greatest.
  Scalar shear_zero(Scalar from, Scalar to) {
    const bool begins_positive = shear(from) > 0;
    for (int i = 0; i < 100; ++i) {
      const Scalar middle = (from + to) / 2;
      ((shear(middle) > 0) == begins_positive ? from : to) = middle;
    }
    return (from + to) / 2;
  }

 private:
  RunBuilder<Scalar> builder_;
  Bench<Scalar> bench_;
  int stage_;
};

template <class Scalar>
RunBuilder<Scalar> simple_span(Scalar length, Scalar bending) {
  auto run = RunBuilder<Scalar>::uniform(length, bending);
  run.add(pin(Scalar(0)));
  run.add(pin(length));
  return run;
}
template <class Scalar>
RunBuilder<Scalar> cantilever(Scalar length, Scalar bending) {
  auto run = RunBuilder<Scalar>::uniform(length, bending);
  run.add(clamp(Scalar(0)));
  return run;
}
/// Pinned at x = 0, clamped at the end.
template <class Scalar>
RunBuilder<Scalar> propped(Scalar length, Scalar bending) {
  auto run = RunBuilder<Scalar>::uniform(length, bending);
  run.add(pin(Scalar(0)));
  run.add(clamp(length));
  return run;
}
template <class Scalar>
RunBuilder<Scalar> fixed_both(Scalar length, Scalar bending) {
  auto run = RunBuilder<Scalar>::uniform(length, bending);
  run.add(clamp(Scalar(0)));
  run.add(clamp(length));
  return run;
}
/// Pins at 0 and `span`, the rest hangs over.
template <class Scalar>
RunBuilder<Scalar> overhung(Scalar span, Scalar overhang, Scalar bending) {
  auto run = RunBuilder<Scalar>::uniform(span + overhang, bending);
  run.add(pin(Scalar(0)));
  run.add(pin(span));
  return run;
}
template <class Scalar>
Shape<Scalar> shape_of(RunBuilder<Scalar> run, const State<Scalar>& state = {}) {
  run.add_full_stage();
  return Shape<Scalar>(std::move(run), state);
}

template <class Scalar>
using Case = std::function<Outputs<Scalar>(const Inputs<Scalar>&)>;

template <class Scalar>
std::map<std::string, Case<Scalar>> beam_cases() {
  using In = const Inputs<Scalar>&;
  using Out = Outputs<Scalar>;
  std::map<std::string, Case<Scalar>> cases;

  cases["A01"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = simple_span(L, in.bending());
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"R_A", s.reaction(0)},    {"M_mid", s.moment(L / 2)}, {"y_mid", s.y(L / 2)},
            {"y_quarter", s.y(L / 4)}, {"theta_A", s.theta(0)},    {"theta_quarter", s.theta(L / 4)}};
  };
  cases["A02"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = simple_span(L, in.bending());
    run.add_point(L / 2, in("P"));
    auto s = shape_of(run);
    return {
        {"R_A", s.reaction(0)}, {"M_mid", s.moment(L / 2)}, {"y_mid", s.y(L / 2)}, {"theta_A", s.theta(0)}};
  };
  cases["A03"] = [](In in) -> Out {
    const Scalar L = in("L"), a = in("a");
    auto run = simple_span(L, in.bending());
    run.add_point(a, in("P"));
    auto s = shape_of(run);
    return {{"R_A", s.reaction(0)},  {"R_B", s.reaction(1)},   {"M_at_load", s.moment(a)},
            {"y_at_load", s.y(a)},   {"x_max", s.lowest_at()}, {"y_max", s.lowest_y()},
            {"theta_A", s.theta(0)}, {"theta_B", s.theta(L)}};
  };
  cases["A04"] = [](In in) -> Out {
    const Scalar L = in("L"), a = in("a"), c = in("c");
    auto run = simple_span(L, in.bending());
    run.add_spread(a, a + c, in("w"), in("w"));
    auto s = shape_of(run);
    const Scalar x_greatest = s.shear_zero(0, L);
    return {{"R_A", s.reaction(0)},          {"R_B", s.reaction(1)},   {"x_Mmax", x_greatest},
            {"M_max", s.moment(x_greatest)}, {"y_mid", s.y(L / 2)},    {"theta_A", s.theta(0)},
            {"theta_B", s.theta(L)},         {"x_max", s.lowest_at()}, {"y_max", s.lowest_y()}};
  };
  cases["A05"] = [](In in) -> Out {
    const Scalar L = in("L"), w0 = in("w0"), EI = in.bending();
    auto run = simple_span(L, EI);
    run.add_spread(0, L, 0, w0);
    auto s = shape_of(run);
    return {{"R_A", s.reaction(0)},
            {"R_B", s.reaction(1)},
            {"M_max", s.moment(s.shear_zero(0, L))},
            {"y_mid", s.y(L / 2)},
            {"x_max", s.lowest_at()},
            {"x_max_over_L", s.lowest_at() / L},
            {"y_max", s.lowest_y()},
            {"coef_max", s.lowest_y() * EI / (w0 * L * L * L * L)},
            {"theta_A", s.theta(0)},
            {"theta_B", s.theta(L)}};
  };
  cases["A06"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = simple_span(L, in.bending());
    run.add_couple(0, -in("M0"));  // clockwise: the run falls away from it
    auto s = shape_of(run);
    return {{"theta_A", s.theta(0)}, {"theta_B", s.theta(L)}, {"x_max", s.lowest_at()},
            {"y_max", s.lowest_y()}, {"y_mid", s.y(L / 2)},   {"R_B", s.reaction(1)}};
  };
  cases["A07"] = [](In in) -> Out {
    const Scalar L = in("L"), w0 = in("w0");
    auto run = simple_span(L, in.bending());
    run.add_load({{0, LoadKind::spread, 0, L / 2, 0, w0, 0}, {0, LoadKind::spread, L / 2, L, w0, 0, 0}});
    auto s = shape_of(run);
    return {
        {"R_A", s.reaction(0)}, {"M_mid", s.moment(L / 2)}, {"y_mid", s.y(L / 2)}, {"theta_A", s.theta(0)}};
  };
  cases["A08"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = cantilever(L, in.bending());
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"R_A", s.reaction(0)}, {"M_fix", s.moment(0)}, {"y_tip", s.y(L)}, {"theta_tip", s.theta(L)}};
  };
  cases["A09"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = cantilever(L, in.bending());
    run.add_point(L, in("P"));
    auto s = shape_of(run);
    return {{"y_tip", s.y(L)}, {"theta_tip", s.theta(L)}, {"M_fix", s.moment(0)}};
  };
  cases["A10"] = [](In in) -> Out {
    const Scalar L = in("L"), a = in("a");
    auto run = cantilever(L, in.bending());
    run.add_point(a, in("P"));
    auto s = shape_of(run);
    return {{"y_tip", s.y(L)}, {"y_at_load", s.y(a)}, {"theta_tip", s.theta(L)}};
  };
  cases["A11"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = cantilever(L, in.bending());
    run.add_couple(L, -in("M0"));
    auto s = shape_of(run);
    return {{"y_tip", s.y(L)}, {"theta_tip", s.theta(L)}};
  };
  cases["A12"] = [](In in) -> Out {
    const Scalar L = in("L");
    const auto part = [&](Scalar begin, Scalar end) {
      auto run = cantilever(L, in.bending());
      run.add_spread(0, L, begin, end);
      return shape_of(run);
    };
    auto i = part(in("w0"), 0);
    auto ii = part(0, in("w0"));
    return {{"y_tip_i", i.y(L)},
            {"theta_tip_i", i.theta(L)},
            {"y_tip_ii", ii.y(L)},
            {"theta_tip_ii", ii.theta(L)}};
  };
  cases["A13"] = [](In in) -> Out {
    const Scalar L = in("L"), w = in("w"), EI = in.bending();
    auto run = propped(L, EI);
    run.add_uniform(w);
    auto s = shape_of(run);
    return {{"R_pin", s.reaction(0)},
            {"R_fix", s.reaction(1)},
            {"M_fix", s.moment(L, Side::left)},
            {"M_pos", s.moment(s.shear_zero(0, L))},
            {"x_max_over_L", s.lowest_at() / L},
            {"x_max", s.lowest_at()},
            {"y_max", s.lowest_y()},
            {"inv_coef_max", w * L * L * L * L / (EI * s.lowest_y())},
            {"y_mid", s.y(L / 2)},
            {"theta_pin", s.theta(0)}};
  };
  cases["A14"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = propped(L, in.bending());
    run.add_point(L / 2, in("P"));
    auto s = shape_of(run);
    return {{"R_pin", s.reaction(0)},    {"R_fix", s.reaction(1)}, {"M_fix", s.moment(L, Side::left)},
            {"M_load", s.moment(L / 2)}, {"y_load", s.y(L / 2)},   {"x_max", s.lowest_at()},
            {"y_max", s.lowest_y()},     {"theta_pin", s.theta(0)}};
  };
  cases["A15"] = [](In in) -> Out {
    const Scalar L = in("L"), a = in("a");
    auto run = propped(L, in.bending());
    run.add_point(a, in("P"));
    auto s = shape_of(run);
    return {{"R_pin", s.reaction(0)},
            {"M_fix", s.moment(L, Side::left)},
            {"M_load", s.moment(a)},
            {"y_load", s.y(a)},
            {"theta_pin", s.theta(0)}};
  };
  cases["A16"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = fixed_both(L, in.bending());
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {
        {"R_A", s.reaction(0)}, {"M_end", s.moment(0)}, {"M_mid", s.moment(L / 2)}, {"y_mid", s.y(L / 2)}};
  };
  cases["A17"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = fixed_both(L, in.bending());
    run.add_point(L / 2, in("P"));
    auto s = shape_of(run);
    return {{"M_end", s.moment(0)}, {"M_mid", s.moment(L / 2)}, {"y_mid", s.y(L / 2)}};
  };
  cases["A18"] = [](In in) -> Out {
    const Scalar L = in("L"), a = in("a");
    auto run = fixed_both(L, in.bending());
    run.add_point(a, in("P"));
    auto s = shape_of(run);
    return {{"R_A", s.reaction(0)},           {"R_B", s.reaction(1)},  {"M_A", s.moment(0)},
            {"M_B", s.moment(L, Side::left)}, {"M_load", s.moment(a)}, {"y_load", s.y(a)},
            {"x_max", s.lowest_at()},         {"y_max", s.lowest_y()}};
  };
  cases["A19"] = [](In in) -> Out {
    const Scalar L = in("L"), a = in("a");
    auto run = overhung(L, a, in.bending());
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"R_A", s.reaction(0)},  {"R_B", s.reaction(1)},
            {"M_B", s.moment(L)},    {"M_max_span", s.moment(s.shear_zero(0, L * Scalar(0.9)))},
            {"y_mid", s.y(L / 2)},   {"y_tip", s.y(L + a)},
            {"theta_A", s.theta(0)}, {"theta_B", s.theta(L)}};
  };
  cases["A20"] = [](In in) -> Out {
    const Scalar L = in("L"), a = in("a");
    const auto under = [&](Scalar weight) {
      auto run = overhung(L, a, in.bending());
      run.add_point(L + a, weight);
      return shape_of(run);
    };
    auto s = under(in("P"));
    auto turned_over = under(-in("P"));  // the span's highest point becomes its lowest
    return {{"R_A", s.reaction(0)},  {"R_B", s.reaction(1)},
            {"y_tip", s.y(L + a)},   {"y_span_extreme", -turned_over.lowest_y()},
            {"theta_A", s.theta(0)}, {"theta_B", s.theta(L)}};
  };
  cases["A21"] = [](In in) -> Out {
    const Scalar L = in("L"), a = in("a");
    const auto under = [&](Scalar w) {
      auto run = overhung(L, a, in.bending());
      run.add_spread(L, L + a, w, w);
      return shape_of(run);
    };
    auto s = under(in("w"));
    auto turned_over = under(-in("w"));
    return {{"R_A", s.reaction(0)},
            {"R_B", s.reaction(1)},
            {"y_tip", s.y(L + a)},
            {"y_span_extreme", -turned_over.lowest_y()}};
  };
  cases["A22"] = [](In in) -> Out {
    const Scalar L = in("L"), w = in("w");
    const auto loaded_to = [&](Scalar end) {
      auto run = RunBuilder<Scalar>::uniform(2 * L, in.bending());
      for (int i = 0; i < 3; ++i) run.add(pin(static_cast<Scalar>(i) * L));
      run.add_spread(0, end, w, w);
      return shape_of(run);
    };
    auto i = loaded_to(2 * L);
    auto ii = loaded_to(L);
    return {{"i_R_A", i.reaction(0)},   {"i_R_B", i.reaction(1)},   {"i_R_C", i.reaction(2)},
            {"i_M_B", i.moment(L)},     {"i_y_max", i.lowest_y()},  {"ii_R_A", ii.reaction(0)},
            {"ii_R_B", ii.reaction(1)}, {"ii_R_C", ii.reaction(2)}, {"ii_M_B", ii.moment(L)}};
  };
  cases["A23"] = [](In in) -> Out {
    const Scalar L = in("L"), w = in("w"), EI = in.bending();
    auto run = RunBuilder<Scalar>::uniform(3 * L, EI);
    for (int i = 0; i < 4; ++i) run.add(pin(static_cast<Scalar>(i) * L));
    run.add_uniform(w);
    auto s = shape_of(run);
    // Two equal lowest points: which of the end spans is named is left open, so count from the nearer end.
    const Scalar from_end = std::min(s.lowest_at(), 3 * L - s.lowest_at());
    return {{"R_A", s.reaction(0)},
            {"R_B", s.reaction(1)},
            {"M_B", s.moment(L)},
            {"M_centre", s.moment(L * Scalar(1.5))},
            {"x_max_over_L", from_end / L},
            {"y_max", s.lowest_y()},
            {"coef_max", s.lowest_y() * EI / (w * L * L * L * L)},
            {"y_centre", s.y(L * Scalar(1.5))}};
  };
  cases["A24"] = [](In in) -> Out {
    const Scalar L1 = in("L1"), L2 = in("L2");
    auto run = RunBuilder<Scalar>::uniform(L1 + L2, in.bending());
    run.add(pin(Scalar(0)));
    run.add(pin(L1));
    run.add(pin(L1 + L2));
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"M_B", s.moment(L1)},
            {"R_A", s.reaction(0)},
            {"R_B", s.reaction(1)},
            {"R_C", s.reaction(2)},
            {"theta_A", s.theta(0)}};
  };
  cases["A25a"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = simple_span(L, in.bending());
    run.supports[1].rise = test::spring(in("k"));
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"y_B", s.y(L)}, {"y_mid", s.y(L / 2)}, {"theta_A", s.theta(0)}};
  };
  cases["A25b"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = cantilever(L, in.bending());
    const int prop = run.add(pin(L));
    run.supports[1].rise = test::spring(in("k"));
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"R_prop", s.reaction(prop)}, {"y_B", s.y(L)}, {"M_fix", s.moment(0)}};
  };
  cases["A25c"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = simple_span(2 * L, in.bending());
    const int middle = run.add(pin(L));
    run.supports[2].rise = test::spring(in("k"));
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"R_mid", s.reaction(middle)}, {"y_mid", s.y(L)}, {"R_A", s.reaction(0)}};
  };
  cases["A26a"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = simple_span(L, in.bending());
    run.supports[0].pitch = run.supports[1].pitch = test::spring(in("k_theta"));
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"M_end", s.moment(0)}, {"y_mid", s.y(L / 2)}, {"theta_A", s.theta(0)}};
  };
  cases["A26b"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = simple_span(L, in.bending());
    run.supports[0].pitch = test::spring(in("k_theta"));
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"M_A", s.moment(0)},    {"y_mid", s.y(L / 2)},  {"theta_A", s.theta(0)},
            {"theta_B", s.theta(L)}, {"R_A", s.reaction(0)}, {"R_B", s.reaction(1)}};
  };
  cases["A26c"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = simple_span(L, in.bending());
    run.supports[0].pitch = run.supports[1].pitch = test::spring(in("k_theta"));
    run.add_point(L / 2, in("P"));
    auto s = shape_of(run);
    return {{"M_end", s.moment(L, Side::left)}, {"y_mid", s.y(L / 2)}};
  };
  cases["A27"] = [](In in) -> Out {
    const Scalar L = in("L"), EI = in.bending();
    const auto sunk = [&](RunBuilder<Scalar> run, int support) {
      State<Scalar> state;
      state.offset[support].rise = -in("Delta");
      return shape_of(std::move(run), state);
    };
    auto i = sunk(propped(L, EI), 0);
    auto ii = sunk(fixed_both(L, EI), 0);
    auto two_spans = simple_span(2 * L, EI);
    two_spans.add(pin(L));
    auto iii = sunk(two_spans, 2);
    // As the case's note says: hogging at the fixed end; sagging where the end sinks, hogging at the other.
    EXPECT_LT(i.moment(L, Side::left), 0);
    EXPECT_GT(ii.moment(0), 0);
    EXPECT_LT(ii.moment(L, Side::left), 0);
    return {{"i_R_pin", i.reaction(0)},           {"i_M_fix_abs", std::abs(i.moment(L, Side::left))},
            {"i_theta_pin", i.theta(0)},          {"ii_R_A", ii.reaction(0)},
            {"ii_M_abs", std::abs(ii.moment(0))}, {"iii_R_mid", iii.reaction(2)},
            {"iii_M_mid", iii.moment(L)}};
  };
  cases["A28"] = [](In in) -> Out {
    const Scalar L = in("L"), EI = in.bending();
    State<Scalar> state;
    state.offset[0].pitch = -in("theta");
    auto run = RunBuilder<Scalar>::uniform(L, EI);
    run.add(clamp(Scalar(0)));
    run.add(pin(L));
    auto i = shape_of(fixed_both(L, EI), state);
    auto ii = shape_of(run, state);
    return {{"i_couple_A", -i.support(0).moment_Nm},
            {"i_couple_B", -i.support(1).moment_Nm},
            {"i_R_abs", std::abs(i.reaction(0))},
            {"ii_couple_A", -ii.support(0).moment_Nm},
            {"ii_R_abs", std::abs(ii.reaction(1))},
            {"ii_theta_B", ii.theta(L)},
            {"ii_y_mid", ii.y(L / 2)}};
  };
  cases["A29"] = [](In in) -> Out {
    const Scalar L = in("L"), EI = in.bending();
    const Scalar curvature = in("alpha") * in("dT") / in("h");
    const auto warmed = [&](RunBuilder<Scalar> run) {
      run.add_warmth(0, L, curvature);
      return shape_of(std::move(run));
    };
    auto simple = warmed(simple_span(L, EI));
    auto free_tip = warmed(cantilever(L, EI));
    auto prop = warmed(propped(L, EI));
    auto fixed = warmed(fixed_both(L, EI));
    EXPECT_NEAR(static_cast<double>(fixed.y(L / 2)), 0.0, sizeof(Scalar) == 8 ? 1e-15 : 1e-8);
    return {{"kappa", curvature},
            {"SS_y_mid", simple.y(L / 2)},
            {"SS_theta_A", simple.theta(0)},
            {"cant_y_tip", free_tip.y(L)},
            {"propped_R_pin_abs", std::abs(prop.reaction(0))},
            {"propped_M_fix_abs", std::abs(prop.moment(L, Side::left))},
            {"ff_M_abs", std::abs(fixed.moment(L / 2))}};
  };
  cases["A30"] = [](In in) -> Out {
    const Scalar L = in("L"), EI = in.bending();
    const Scalar shear = in("kappa") * in("G") * in("A");
    const auto with_uniform = [&](RunBuilder<Scalar> run, Scalar shear_N) {
      run.pieces[0].shear_N = shear_N;
      run.add_uniform(in("w"));
      return shape_of(std::move(run));
    };
    const auto with_point = [&](RunBuilder<Scalar> run, Scalar at) {
      run.pieces[0].shear_N = shear;
      run.add_point(at, in("P"));
      return shape_of(std::move(run));
    };
    auto tip = with_point(cantilever(L, EI), L);
    auto stiff_in_shear = with_uniform(simple_span(L, EI), std::numeric_limits<Scalar>::infinity());
    auto simple = with_uniform(simple_span(L, EI), shear);
    auto fixed = with_uniform(fixed_both(L, EI), shear);
    auto free_tip = with_uniform(cantilever(L, EI), shear);
    auto prop = with_uniform(propped(L, EI), shear);
    auto central = with_point(simple_span(L, EI), L / 2);
    // At the tip itself the shear jumps from P to nothing, and the slope there is the mean: look just before it.
    const Scalar before_tip = L * (1 - 4 * std::numeric_limits<Scalar>::epsilon());
    return {{"cant_P_tip", tip.y(L)},
            {"cant_UDL_tip", free_tip.y(L)},
            {"SS_UDL_mid", simple.y(L / 2)},
            {"SS_UDL_shear_part", simple.y(L / 2) - stiff_in_shear.y(L / 2)},
            {"SS_P_mid", central.y(L / 2)},
            {"FF_UDL_mid", fixed.y(L / 2)},
            {"propped_UDL_R_pin", prop.reaction(0)},
            {"cant_P_section_rotation", tip.rotation(L)},
            {"cant_P_centreline_slope", tip.theta(before_tip)}};
  };
  cases["A32a"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = cantilever(L, in("EI1"));
    run.pieces = {{in("a"), in("EI1"), 1000}, {L, in("EI2"), 1000}};
    run.add_point(L, in("P"));
    auto s = shape_of(run);
    return {{"y_tip", s.y(L)}, {"theta_tip", s.theta(L)}};
  };
  cases["A32b"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = cantilever(L, in("EI1"));
    run.pieces = {{in("a1"), in("EI1"), 1000}, {in("a2"), in("EI2"), 1000}, {L, in("EI3"), 1000}};
    run.add_point(L, in("P"));
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"y_tip", s.y(L)}, {"theta_tip", s.theta(L)}};
  };
  cases["A32c"] = [](In in) -> Out {
    const Scalar L = in("L");
    auto run = simple_span(L, in("EI1"));
    run.pieces = {{L / 2, in("EI1"), 1000}, {L, in("EI2"), 1000}};
    run.add_point(L / 2, in("P"));
    auto s = shape_of(run);
    return {{"y_mid", s.y(L / 2)}};
  };
  cases["A32d"] = [](In in) -> Out {
    const Scalar L = in("L"), a = in("a");
    auto run = simple_span(L, in("EI1"));
    run.pieces = {{a, in("EI2"), 1000}, {L - a, in("EI1"), 1000}, {L, in("EI2"), 1000}};
    run.add_uniform(in("w"));
    auto s = shape_of(run);
    return {{"y_mid", s.y(L / 2)}};
  };
  cases["A33"] = [](In in) -> Out {
    const Scalar post = in("Ls"), end = post + in("overhang");
    auto run = overhung(post, in("overhang"), in.bending());
    run.supports[0].rise = test::spring(in("kb"));
    run.supports[0].pitch = test::spring(in("kt"));
    run.supports[1].rise = test::spring(in("kc"));
    run.add_uniform(in("w"));
    run.add_point(in("x1"), in("P1"));
    run.add_point(in("x2"), in("P2"));
    auto s = shape_of(run);
    const Scalar middle = Scalar(1.05);
    return {{"M_A", s.moment(0)},
            {"R_A", s.reaction(0)},
            {"R_B", s.reaction(1)},
            {"theta_A", s.theta(0)},
            {"y_A", s.y(0)},
            {"y_1p05", s.y(middle)},
            {"theta_1p05", s.theta(middle)},
            {"y_B", s.y(post)},
            {"theta_B", s.theta(post)},
            {"y_tip", s.y(end)},
            {"theta_tip", s.theta(end)}};
  };
  return cases;
}

/// A weight W at `across` turns the run by -W * across (its left edge goes down), so a torque T is -T to the left.
template <class Scalar>
std::map<std::string, Case<Scalar>> torsion_cases() {
  using In = const Inputs<Scalar>&;
  using Out = Outputs<Scalar>;
  const auto bar = [](In in, bool far_end_held) {
    const Scalar L = in("L");
    auto run = far_end_held ? fixed_both(L, Scalar(21000)) : cantilever(L, Scalar(21000));
    run.pieces[0].torsion_N_m2 = in("G") * in("J");
    return run;
  };
  std::map<std::string, Case<Scalar>> cases;
  cases["fixed_free_uniform"] = [bar](In in) -> Out {
    const Scalar L = in("L");
    auto run = bar(in, false);
    run.add_spread(0, L, 80, 80, -in("m_per_length") / 80);
    auto s = shape_of(run);
    EXPECT_NEAR(static_cast<double>(s.support(0).torque_Nm / -s.torque(0)), 1.0,
                1e-6);  // root holds against it
    return {{"phi_tip", s.roll(L)}, {"T_root", s.torque(0)}};
  };
  cases["fixed_fixed_uniform"] = [bar](In in) -> Out {
    const Scalar L = in("L");
    auto run = bar(in, true);
    run.add_spread(0, L, 80, 80, -in("m_per_length") / 80);
    auto s = shape_of(run);
    return {{"phi_mid", s.roll(L / 2)}, {"T_end", s.torque(0)}};
  };
  cases["fixed_free_end_torque"] = [bar](In in) -> Out {
    auto run = bar(in, false);
    run.add_point(in("L"), 200, -in("T") / 200);
    return {{"phi_tip", shape_of(run).roll(in("L"))}};
  };
  cases["fixed_fixed_torque_at_a"] = [bar](In in) -> Out {
    const Scalar a = in("a");
    auto run = bar(in, true);
    run.add_point(a, 200, -in("T") / 200);
    auto s = shape_of(run);
    EXPECT_NEAR(static_cast<double>(s.torque(a, Side::left)), 76.0,
                1e-3);  // T_A: along the bar as at its end
    EXPECT_NEAR(static_cast<double>(s.torque(a, Side::right)), -44.0, 1e-3);  // T_B the other way round
    return {{"T_A", -s.support(0).torque_Nm}, {"T_B", -s.support(1).torque_Nm}, {"phi_a", s.roll(a)}};
  };
  cases["fixed_spring_end_torque"] = [bar](In in) -> Out {
    const Scalar L = in("L");
    auto run = bar(in, false);
    run.add({.at_m = L, .rise = {}, .pitch = {}, .roll = test::spring(in("k"))});
    run.add_point(L, 200, -in("T") / 200);
    return {{"phi_end", shape_of(run).roll(L)}};
  };
  return cases;
}

template <class Scalar>
double compare(const std::string& name, const json& expected, const Outputs<Scalar>& found,
               double tolerance) {
  double worst = 0;
  for (const auto& [output, value] : expected.items()) {
    const auto it = found.find(output);
    if (it == found.end()) {
      ADD_FAILURE() << name << ": output " << output << " is not looked at";
      continue;
    }
    const double relative = std::abs(static_cast<double>(it->second) / value.template get<double>() - 1);
    EXPECT_LE(relative, tolerance) << name << ": " << output << " is " << it->second << ", should be "
                                   << value;
    worst = std::max(worst, relative);
  }
  EXPECT_EQ(found.size(), expected.size()) << name << ": more outputs than the file has";
  return worst;
}

template <class Scalar>
struct Precision;
template <>
struct Precision<double> {
  static constexpr double tolerance = 1e-9;  // asked for; 5e-13 is seen
};
template <>
struct Precision<float> {
  static constexpr double tolerance = 1e-4;  // asked for; 1e-5 is seen
};

template <class Scalar>
class PublishedCases : public ::testing::Test {};
using BothPrecisions = ::testing::Types<double, float>;
TYPED_TEST_SUITE(PublishedCases, BothPrecisions);

TYPED_TEST(PublishedCases, OfBeamsAreMetInEveryOutput) {
  auto cases = beam_cases<TypeParam>();
  const json file = json::parse(hangtrue::test::open_reference("beam_cases.json"));
  double worst = 0;
  for (const auto& one : file.at("cases")) {
    const std::string id = one.at("id");
    if (id == "A31") continue;  // shear coefficients: section_test.cpp looks at each
    SCOPED_TRACE(id + ": " + one.at("title").get<std::string>());
    ASSERT_TRUE(cases.contains(id)) << "no test handles this case";
    const Inputs<TypeParam> inputs(one.at("inputs"));
    worst = std::max(worst,
                     compare(id, one.at("outputs"), cases.at(id)(inputs), Precision<TypeParam>::tolerance));
    cases.erase(id);
  }
  EXPECT_TRUE(cases.empty()) << cases.begin()->first << " is not in the file";
  EXPECT_EQ(file.at("cases").size(), 40u);
  std::ostringstream text;
  text << worst;
  this->RecordProperty("worst_relative_error", text.str());
}

TYPED_TEST(PublishedCases, OfTorsionAreMetInEveryOutput) {
  auto cases = torsion_cases<TypeParam>();
  const json file = json::parse(hangtrue::test::open_reference("torsion_cases.json"));
  for (const auto& [name, one] : file.items()) {
    // Bredt's box is a section's: section_test.cpp looks at it.
    if (name == "_about" || name == "inputs" || name == "bredt_box_sharp_corners") continue;
    SCOPED_TRACE(name);
    ASSERT_TRUE(cases.contains(name)) << "no test handles this case";
    json inputs = file.at("inputs");
    json outputs = one;
    outputs.erase("formula");
    if (outputs.contains("k")) {
      inputs["k"] = outputs.at("k");
      outputs.erase("k");
    }
    compare(name, outputs, cases.at(name)(Inputs<TypeParam>(inputs)), Precision<TypeParam>::tolerance);
    cases.erase(name);
  }
  EXPECT_TRUE(cases.empty());
}

}  // namespace
}  // namespace hangtrue::beam

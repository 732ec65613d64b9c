// What must hold for every run, whatever its numbers. Seeds are fixed.
//
// Tolerance 1e-9 of the greatest value unless said: the same shape reached by other arithmetic differs by rounding
// alone, times what the stiffest support against the softest stretch costs.
#include <gtest/gtest.h>

#include <cmath>

#include "core/beam/solver.hpp"
#include "tests/core/beam/random_run.hpp"

namespace hangtrue::beam {
namespace {

using test::Bench;
using test::expect_same;
using test::Picture;
using test::Random;
using test::random_run;
using test::random_state;
using test::RandomRunOptions;
using test::RunBuilder;

constexpr int kRuns = 60;
constexpr double kSame = 1e-9;

Picture picture(const RunBuilder<double>& run, const State<double>& state = {}) {
  Bench<double> bench(run);
  return Picture::of(bench.solve(state), run);
}

TEST(EveryRun, WithoutLoadsOffsetsAndBowStaysAtZero) {
  Random random(1);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    for (Stage& stage : run.stages) stage.loads = 0;
    const Picture found = picture(run);
    for (int q = 0; q < Picture::count; ++q) EXPECT_EQ(found.size(q), 0.0) << q;
  }
}

TEST(EveryRun, UnderTwoSetsOfLoadsIsTheSumOfEachAlone) {
  Random random(2);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> both = random_run(random, {.warping = i % 3 == 2, .across = i % 2 == 1});
    RunBuilder<double> first = both, second = both;
    const auto mask = static_cast<std::uint64_t>(random.between(0, 64));
    for (Stage& stage : first.stages) stage.loads &= mask;
    for (Stage& stage : second.stages) stage.loads &= ~mask;
    expect_same(picture(first).mixed(1, 1, picture(second)), picture(both), kSame);
  }
}

TEST(EveryRun, BendsTwiceAsMuchUnderTwiceTheLoadTheOffsetsAndTheBow) {
  Random random(3);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    const State<double> once = random_state(random, run);
    State<double> twice = once;
    for (int s = 0; s < kMaxSupports; ++s)
      for (Motions<double>* motions : {&twice.offset[s], &twice.move[s]})
        *motions = {2 * motions->rise, 2 * motions->pitch, 2 * motions->roll};
    for (double& factor : twice.load_factor) factor *= 2;
    for (double& bow : twice.bow_m) bow *= 2;
    const Picture single = picture(run, once);
    expect_same(picture(run, twice), single.mixed(2, 0, single), kSame);
  }
}

RunBuilder<double> mirrored(const RunBuilder<double>& run) {
  RunBuilder<double> mirror = run;
  const double length = run.length_m;
  mirror.pieces.assign(run.pieces.rbegin(), run.pieces.rend());
  for (std::size_t i = 0; i < mirror.pieces.size(); ++i) {
    const std::size_t original = run.pieces.size() - 1 - i;
    mirror.pieces[i].to_m = original == 0 ? length : length - run.pieces[original - 1].to_m;
  }
  for (auto& part : mirror.load_parts) {
    if (part.kind == LoadKind::point || part.kind == LoadKind::couple) {
      part.from_m = part.to_m = length - part.from_m;
      if (part.kind == LoadKind::couple) part.begin = -part.begin;
    } else {
      const auto old = part;
      part.from_m = std::max(0.0, length - old.to_m);
      part.to_m = length - old.from_m;
      part.begin = old.kind == LoadKind::warmth ? old.begin : old.end;
      part.end = old.begin;
    }
  }
  for (auto& support : mirror.supports) support.at_m = length - support.at_m;
  return mirror;
}

TEST(EveryRun, SeenFromTheOtherSideIsItsMirrorImage) {
  Random random(4);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    const State<double> state = random_state(random, run);
    State<double> turned = state;
    for (int s = 0; s < kMaxSupports; ++s) {
      turned.offset[s].pitch = -state.offset[s].pitch;
      turned.move[s].pitch = -state.move[s].pitch;
    }
    for (int k = 1; k < kMaxBows; k += 2)
      turned.bow_m[k] = -state.bow_m[k];  // sin(2 pi x / L) is odd about the middle
    const Picture seen = picture(run, state);
    const Picture other = picture(mirrored(run), turned);
    constexpr long places = Picture::kPlaces;
    Picture back = other;
    for (const int q : {Picture::slope, Picture::rotation, Picture::shear, Picture::torque, Picture::couple})
      for (double& value : back.values[static_cast<std::size_t>(q)]) value = -value;
    for (int q = 0; q <= Picture::bimoment; ++q) {
      auto& values = back.values[static_cast<std::size_t>(q)];
      for (std::size_t from = 0; from < values.size(); from += places)
        std::reverse(values.begin() + static_cast<long>(from),
                     values.begin() + static_cast<long>(from) + places);
    }
    expect_same(back, seen, kSame);
  }
}

// Left and right exchanged: rolls and torques change their sign, all else stays.
TEST(EveryRun, SeenFromTheOtherEndIsItsMirrorImage) {
  Random random(16);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = true});
    const State<double> state = random_state(random, run);
    RunBuilder<double> mirror = run;
    State<double> turned = state;
    for (auto& support : mirror.supports) support.across_m = -support.across_m;
    for (auto& part : mirror.load_parts) part.across_m = -part.across_m;
    mirror.shear_centre_m = -run.shear_centre_m;
    for (int s = 0; s < kMaxSupports; ++s) {
      turned.offset[s].roll = -state.offset[s].roll;
      turned.move[s].roll = -state.move[s].roll;
    }
    Picture seen = picture(mirror, turned);
    for (const int q : {Picture::roll, Picture::torque, Picture::bimoment, Picture::support_torque})
      for (double& value : seen.values[static_cast<std::size_t>(q)]) value = -value;
    expect_same(seen, picture(run, state), kSame);
  }
}

// Two equal springs k at a to the left and a to the right are a rise of 2 k and a roll of 2 k a^2 on the axis; an offset of one
// up and of the other down by d is a roll of d / a. By hand.
TEST(EveryRun, OnAPairOfRodsStandsAsOnOneSupportThatHoldsTheRoll) {
  Random random(17);
  constexpr double k = 4e5, a = 0.15;
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    RunBuilder<double> one = random_run(random, {.pulled_home = false});
    State<double> state = random_state(random, one);
    Support<double>& hanger = one.supports[0];
    hanger.rise = test::spring(2 * k);
    hanger.roll = test::spring(2 * k * a * a);
    for (Motions<double>* const of : {&state.log_spring[0], &state.give[0]}) *of = {};
    RunBuilder<double> pair = one;
    State<double> of_pair = state;
    Support<double>& left = pair.supports[0];
    left.rise = test::spring(k);
    left.roll = {};
    left.across_m = a;
    Support<double> right = left;
    right.pitch = {};
    right.across_m = -a;
    const int r = pair.add(right);
    for (Stage& stage : pair.stages)
      if (stage.lists_support(0)) stage.supports |= 1u << r;
    for (Motions<double>(State<double>::*which)[kMaxSupports] :
         {&State<double>::offset, &State<double>::move}) {
      const Motions<double>& whole = (state.*which)[0];
      (of_pair.*which)[0] = {whole.rise + a * whole.roll, whole.pitch, 0};
      (of_pair.*which)[r] = {whole.rise - a * whole.roll, 0, 0};
    }
    of_pair.log_spring[r] = of_pair.give[r] = {};
    Bench<double> by_pair(pair), by_one(one);
    by_pair.solve(of_pair);
    by_one.solve(state);
    Picture found, expected;
    for (int stage = 0; stage < static_cast<int>(one.stages.size()); ++stage) {
      for (int p = 0; p < Picture::kPlaces; ++p) {
        found.add(by_pair->at(stage, Picture::place(one, p)));
        expected.add(by_one->at(stage, Picture::place(one, p)));
      }
      const auto lefts = by_pair->support(stage, 0), rights = by_pair->support(stage, r);
      found.add(SupportAction<double>{true, lefts.force_N + rights.force_N, lefts.moment_Nm,
                                      a * (lefts.force_N - rights.force_N)});
      expected.add(by_one->support(stage, 0));
      EXPECT_EQ(lefts.torque_Nm, 0);
    }
    expect_same(found, expected, kSame);
  }
}

// Maxwell-Betti: work of one load on the shape of another is the same the other way round. A weight works on -height, a
// couple on the rotation of its section, an off-centre weight on -(height + across * roll).
TEST(EveryRun, IsReciprocal) {
  Random random(5);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    RunBuilder<double> run = random_run(
        random, {.pulled_home = false, .staged = false, .warping = i % 3 == 2, .across = i % 2 == 1});
    run.load_parts.clear();
    run.loads = 0;
    run.stages.clear();
    const double a = run.length_m * random.between(0.02, 0.98), across_a = random.between(-0.3, 0.3);
    const double b = run.length_m * random.between(0.02, 0.98), across_b = random.between(-0.3, 0.3);
    const int weight = run.add_point(a, 100, across_a);
    const int other_weight = run.add_point(b, 70, across_b);
    const int couple = run.add_couple(b, 40);
    const auto under = [&](int load) {
      RunBuilder<double> loaded = run;
      loaded.add_full_stage();
      loaded.stages[0].loads = std::uint64_t{1} << load;
      Bench<double> bench(loaded);
      bench.solve();
      return std::pair(bench->height(0, a, across_a),
                       std::pair(bench->height(0, b, across_b), bench->at(0, b).rotation_rad));
    };
    const auto by_weight = under(weight);
    const auto by_other = under(other_weight);
    const auto by_couple = under(couple);
    const double work = 70 * by_weight.second.first;
    EXPECT_NEAR(work, 100 * by_other.first, kSame * std::abs(100 * by_weight.first));
    EXPECT_NEAR(40 * by_weight.second.second, -100 * by_couple.first,
                kSame * std::abs(100 * by_weight.first));
  }
}

struct Resultant {
  double force = 0, couple = 0,
         torque = 0;  // up; about x = 0 in the sense of a positive slope; about the run's axis
  double size_force = 1e-9, size_couple = 1e-9, size_torque = 1e-9;
  void add(double up, double at, double about, double turning) {
    force += up;
    couple += up * at + about;
    torque += turning;
    size_force += std::abs(up);
    size_couple += std::abs(up * at) + std::abs(about);
    size_torque += std::abs(turning);
  }
};

TEST(EveryRun, IsInEquilibriumInEveryStage) {
  Random random(6);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    const State<double> state = random_state(random, run);
    Bench<double> bench(run);
    bench.solve(state);
    for (int stage = 0; stage < static_cast<int>(run.stages.size()); ++stage) {
      SCOPED_TRACE(stage);
      Resultant sum;
      for (const auto& part : run.load_parts) {
        if (!run.stages[static_cast<std::size_t>(stage)].lists_load(part.load)) continue;
        const double factor = state.load_factor[part.load];
        const double length = part.to_m - part.from_m;
        if (part.kind == LoadKind::point) {
          sum.add(-factor * part.begin, part.from_m, 0, -factor * part.begin * part.across_m);
        } else if (part.kind == LoadKind::couple) {
          sum.add(0, 0, factor * part.begin, 0);
        } else if (part.kind == LoadKind::spread) {
          const double weight = factor * (part.begin + part.end) / 2 * length;
          const double even = factor * part.begin * length;
          const double rising = weight - even;  // a triangle, its centre at two thirds
          sum.add(-even, part.from_m + length / 2, 0, -even * part.across_m);
          sum.add(-rising, part.from_m + length * 2 / 3, 0, -rising * part.across_m);
        }
      }
      for (int s = 0; s < static_cast<int>(run.supports.size()); ++s) {
        const auto action = bench->support(stage, s);
        const auto& support = run.supports[static_cast<std::size_t>(s)];
        sum.add(action.force_N, support.at_m, action.moment_Nm,
                action.torque_Nm + action.force_N * support.across_m);
      }
      EXPECT_NEAR(sum.force, 0, kSame * sum.size_force);
      EXPECT_NEAR(sum.couple, 0, kSame * sum.size_couple);
      EXPECT_NEAR(sum.torque, 0, kSame * sum.size_torque);
    }
  }
}

// Between nodes: slope = dz/dx, shear = dM/dx, torque = GJ d(roll)/dx, and at a support the jumps are its action.
TEST(EveryRun, HasFieldsThatAreEachOthersDerivatives) {
  Random random(7);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    const State<double> state = random_state(random, run);
    Bench<double> bench(run);
    bench.solve(state);
    const auto nodes = bench->nodes_m();
    for (int stage = 0; stage < static_cast<int>(run.stages.size()); ++stage) {
      const Picture all = Picture::of(bench.solver(), run);
      for (std::size_t n = 0; n + 1 < nodes.size(); ++n) {
        const double width = nodes[n + 1] - nodes[n];
        if (width < (i % 3 == 2 ? 0.05 : 1e-3)) continue;  // bimoments of short stretches round more
        const double x = nodes[n] + width * random.between(0.3, 0.7), h = width * 1e-4;
        const auto before = bench->at(stage, x - h), here = bench->at(stage, x),
                   after = bench->at(stage, x + h);
        double torsion = 0;
        for (const auto& piece : run.pieces)
          if (torsion == 0 && x < piece.to_m) torsion = piece.torsion_N_m2 * state.torsion_factor;
        EXPECT_NEAR((after.height_m - before.height_m) / (2 * h), here.slope_rad,
                    1e-6 * all.size(Picture::slope) + 1e-9);
        EXPECT_NEAR((after.moment_Nm - before.moment_Nm) / (2 * h), here.shear_N,
                    1e-6 * all.size(Picture::shear) + 1e-6);
        EXPECT_NEAR(torsion * (after.roll_rad - before.roll_rad) / (2 * h) -
                        (after.bimoment_Nm2 - before.bimoment_Nm2) / (2 * h),
                    here.torque_Nm,
                    1e-6 * (all.size(Picture::torque) + torsion * all.size(Picture::roll)) + 1e-6);
        EXPECT_NEAR(bench->height(stage, x, 0.15), here.height_m + 0.15 * here.roll_rad, 1e-14);
      }
    }
  }
}

TEST(EveryRun, JumpsAtASupportByWhatTheSupportDoes) {
  Random random(8);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    RunBuilder<double> run =
        random_run(random, {.distortions = false, .warping = i % 3 == 2, .across = i % 2 == 1});
    for (auto& part : run.load_parts)
      part.kind = LoadKind::spread, part.to_m = std::max(part.to_m, part.from_m + 0.01);
    for (auto& part : run.load_parts)
      part.from_m = std::min(part.from_m, run.length_m - 0.02), part.to_m = std::min(part.to_m, run.length_m);
    Bench<double> bench(run);
    bench.solve(random_state(random, run));
    const Picture all = Picture::of(bench.solver(), run);
    for (int stage = 0; stage < static_cast<int>(run.stages.size()); ++stage)
      for (int s = 0; s < static_cast<int>(run.supports.size()); ++s) {
        const double x = run.supports[static_cast<std::size_t>(s)].at_m;
        const auto left = bench->at(stage, x, Side::left), right = bench->at(stage, x, Side::right);
        SupportAction<double> all_there;  // of every support at that place
        double torque = 0;
        for (int t = 0; t < static_cast<int>(run.supports.size()); ++t) {
          const auto& other = run.supports[static_cast<std::size_t>(t)];
          if (other.at_m != x) continue;
          const auto action = bench->support(stage, t);
          all_there.force_N += action.force_N;
          all_there.moment_Nm += action.moment_Nm;
          torque += action.torque_Nm + action.force_N * (other.across_m - run.shear_centre_m);
        }
        if (x > 0 && x < run.length_m) {
          EXPECT_NEAR(right.shear_N - left.shear_N, all_there.force_N, kSame * all.size(Picture::shear));
          EXPECT_NEAR(right.moment_Nm - left.moment_Nm, -all_there.moment_Nm,
                      kSame * all.size(Picture::moment) + 1e-9);
          EXPECT_NEAR(right.torque_Nm - left.torque_Nm, -torque, kSame * all.size(Picture::torque) + 1e-9);
        }
        EXPECT_DOUBLE_EQ(right.height_m, left.height_m);
      }
  }
}

TEST(EveryRun, IsTheSameWithItsPiecesCutInTwo) {
  Random random(9);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    RunBuilder<double> cut = run;
    cut.pieces.clear();
    double from = 0;
    for (const auto& piece : run.pieces) {
      auto half = piece;
      half.to_m = from + (piece.to_m - from) * random.between(0.2, 0.8);
      cut.pieces.push_back(half);
      cut.pieces.push_back(piece);
      from = piece.to_m;
    }
    const State<double> state = random_state(random, run);
    expect_same(picture(cut, state), picture(run, state), kSame);
  }
}

TEST(EveryRun, IsTheSameWhateverTheOrderOfItsSupportsAndLoads) {
  Random random(10);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    const State<double> state = random_state(random, run);
    RunBuilder<double> turned = run;
    State<double> turned_state = state;
    const int supports = static_cast<int>(run.supports.size());
    std::reverse(turned.supports.begin(), turned.supports.end());
    std::reverse(turned.load_parts.begin(), turned.load_parts.end());
    for (int s = 0; s < supports; ++s) {
      turned_state.offset[s] = state.offset[supports - 1 - s];
      turned_state.move[s] = state.move[supports - 1 - s];
      turned_state.log_spring[s] = state.log_spring[supports - 1 - s];
      turned_state.give[s] = state.give[supports - 1 - s];
    }
    for (auto& part : turned.load_parts) part.load = run.loads - 1 - part.load;
    for (int l = 0; l < run.loads; ++l) turned_state.load_factor[l] = state.load_factor[run.loads - 1 - l];
    for (std::size_t s = 0; s < run.stages.size(); ++s) {
      Stage& stage = turned.stages[s] = Stage{};
      for (int k = 0; k < supports; ++k)
        if (run.stages[s].lists_support(k)) stage.supports |= 1u << (supports - 1 - k);
      for (int l = 0; l < run.loads; ++l)
        if (run.stages[s].lists_load(l)) stage.loads |= std::uint64_t{1} << (run.loads - 1 - l);
    }
    Picture back = picture(turned, turned_state);
    for (const int q : {Picture::force, Picture::couple, Picture::support_torque}) {
      auto& values = back.values[static_cast<std::size_t>(q)];
      for (std::size_t from = 0; from < values.size(); from += static_cast<std::size_t>(supports))
        std::reverse(values.begin() + static_cast<long>(from),
                     values.begin() + static_cast<long>(from) + supports);
    }
    expect_same(back, picture(run, state), kSame);
  }
}

// A stage that repeats the one before changes nothing: lock-in, released forces and moves act once.
TEST(EveryRun, StaysAsItIsInAStageThatRepeatsTheOneBefore) {
  Random random(11);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    const State<double> state = random_state(random, run);
    run.stages.push_back(run.stages.back());
    Bench<double> bench(run);
    bench.solve(state);
    const int last = static_cast<int>(run.stages.size()) - 1;
    Picture before, after;
    for (int p = 0; p < Picture::kPlaces; ++p) {
      before.add(bench->at(last - 1, Picture::place(run, p)));
      after.add(bench->at(last, Picture::place(run, p)));
    }
    for (int s = 0; s < static_cast<int>(run.supports.size()); ++s) {
      before.add(bench->support(last - 1, s));
      after.add(bench->support(last, s));
    }
    expect_same(after, before, kSame);
  }
}

// What comes later does not reach back.
TEST(EveryRun, IsNotTouchedByWhatItsLaterStagesWillBe) {
  Random random(12);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    State<double> state = random_state(random, run);
    state.move_stage = -1;
    const Picture shorter = picture(run, state);
    run.stages.push_back(random_run(random, {.warping = i % 3 == 2, .across = i % 2 == 1}).stages.back());
    run.stages.back().supports = run.stages.front().supports;
    run.stages.back().loads &= (std::uint64_t{1} << run.loads) - 1;
    Picture longer = picture(run, state);
    for (std::size_t q = 0; q < Picture::count; ++q) longer.values[q].resize(shorter.values[q].size());
    expect_same(longer, shorter, kSame);
  }
}

// One-way supports: force >= 0 where engaged; where lifted no action at all, and the run at or above the zero.
TEST(EveryRun, LeavesOneWaySupportsEitherPressedOrClear) {
  Random random(13);
  int lifted = 0, pressed = 0;
  for (int i = 0; i < 4 * kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .staged = false, .warping = i % 3 == 2, .across = i % 2 == 1});
    State<double> state = random_state(random, run);
    state.move_stage = -1;
    Bench<double> bench(run);
    bench.solve(state);
    for (int s = 0; s < static_cast<int>(run.supports.size()); ++s) {
      const auto& support = run.supports[static_cast<std::size_t>(s)];
      if (support.holds == Holds::both) continue;
      const auto action = bench->support(0, s);
      const double gap = bench->height(0, support.at_m, support.across_m) - state.offset[s].rise;
      if (action.engaged) {
        ++pressed;
        EXPECT_GE(action.force_N, -1e-9);
        const double yields =
            support.rise.compliance * std::exp(-state.log_spring[s].rise) + state.give[s].rise;
        EXPECT_NEAR(gap, -yields * action.force_N, 1e-10);
      } else {
        ++lifted;
        EXPECT_EQ(action.force_N, 0.0);
        EXPECT_EQ(action.moment_Nm, 0.0);
        EXPECT_EQ(action.torque_Nm, 0.0);
        EXPECT_GE(gap, -1e-12);
      }
    }
  }
  EXPECT_GT(lifted, 20);  // both happen, so both are looked at
  EXPECT_GT(pressed, 20);
}

TEST(EveryRun, HasItsLowestPointWhereNothingIsLower) {
  Random random(14);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    Bench<double> bench(run);
    bench.solve(random_state(random, run));
    for (int stage = 0; stage < static_cast<int>(run.stages.size()); ++stage) {
      const auto lowest = bench->lowest(stage);
      EXPECT_NEAR(bench->at(stage, lowest.at_m).height_m, lowest.height_m, 1e-14);
      double sampled = std::numeric_limits<double>::infinity();
      for (int k = 0; k <= 5000; ++k)
        sampled = std::min(sampled, bench->at(stage, run.length_m * k / 5000).height_m);
      EXPECT_LE(lowest.height_m, sampled + 1e-14);
      // Samples are a millimetre apart; a run that turns about a place beside its middle has kinks.
      EXPECT_NEAR(lowest.height_m, sampled, run.shear_centre_m != 0 ? 1e-5 : 1e-6);
    }
  }
}

TEST(EveryRun, NamesItsNodesInOrderAndOnce) {
  Random random(15);
  for (int i = 0; i < kRuns; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run = random_run(random, {.warping = i % 3 == 2, .across = i % 2 == 1});
    Bench<double> bench(run);
    std::set<double> expected = {0, run.length_m};
    for (const auto& piece : run.pieces) expected.insert(piece.to_m);
    for (const auto& support : run.supports) expected.insert(support.at_m);
    for (const auto& part : run.load_parts) {
      expected.insert(part.from_m);
      if (part.kind == LoadKind::spread || part.kind == LoadKind::warmth) expected.insert(part.to_m);
    }
    const auto nodes = bench->nodes_m();
    ASSERT_EQ(nodes.size(), expected.size());
    EXPECT_TRUE(std::equal(nodes.begin(), nodes.end(), expected.begin(),
                           [](double a, double b) { return std::abs(a - b) < 1e-12; }));
    for (std::size_t n = 1; n < nodes.size(); ++n) EXPECT_LT(nodes[n - 1], nodes[n]);
    for (const auto& part : run.load_parts) {
      if (part.kind != LoadKind::point && part.kind != LoadKind::couple) continue;
      for (std::size_t n = 0; n < nodes.size(); ++n)
        if (nodes[n] == part.from_m) {
          EXPECT_TRUE(bench->jumps(static_cast<int>(n)));
        }
    }
  }
}

}  // namespace
}  // namespace hangtrue::beam

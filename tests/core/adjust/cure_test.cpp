#include "core/adjust/cure.hpp"

#include <gtest/gtest.h>

#include "core/adjust/workspace.hpp"
#include "tests/core/adjust/random_problem.hpp"

namespace hangtrue::adjust {
namespace {

using test::Owned;

Workspace<double>& workspace() {
  static const auto kept = std::make_unique<Workspace<double>>();
  return *kept;
}

/// A run on its two ends whose sag is a parabola of the given depth, and made with a bow of its own.
struct Sagging {
  Owned<> owned;
  std::vector<double> elastic;
};
std::unique_ptr<Sagging> sagging(double sag_m, double bow_m) {
  auto out = std::make_unique<Sagging>();
  std::vector<double> left, right;
  for (int j = 0; j <= 20; ++j) {
    const double x = j / 20.0;
    out->elastic.push_back(-4 * sag_m * x * (1 - x));
    out->owned.height_m.push_back(out->elastic.back() - 4 * bow_m * x * (1 - x));
    left.push_back(1 - x);
    right.push_back(x);
  }
  out->owned.on_height = {{left, {}, {}}, {right, {}, {}}};
  out->owned.on_force = {{}, {}};
  out->owned.kinds = {{{1e-3, 4}}};
  out->owned.stocks.resize(1);
  Place<double> place;
  place.rise_to_m = 4e-3;
  out->owned.places = {place, place};
  out->owned.look();
  return out;
}

Cure<double> cure(const Sagging& s, double tolerance_m) {
  const auto result =
      find_cure(s.owned.problem, std::span<const double>(s.elastic), tolerance_m, workspace());
  EXPECT_TRUE(result.ok());
  return result.ok() ? result.value() : Cure<double>{};
}

// A parabola of depth S over two ends that can rise has level error S whatever they do; so s = tolerance / S.
// Tolerance of s: 1e-4, as the header says.
TEST(CureForSag, IsTheShareOfTheSagThatTheToleranceAllows) {
  const Cure<double> found = cure(*sagging(4e-3, 0), 1e-3);
  EXPECT_EQ(found.what, CureFor::less_sag);
  EXPECT_NEAR(found.continuous_error_m, 4e-3, 1e-12);
  EXPECT_NEAR(found.load_factor, 0.25, 1e-4);
  EXPECT_NEAR(found.stiffness_factor, 4, 2e-3);
  EXPECT_NEAR(found.camber_m, 3e-3, 1e-6);
}

TEST(CureForSag, CountsTheBowAsMadeAgainstTheSag) {
  // 4 mm of sag and 0.5 mm of bow downwards: the sag may be 0.5 mm.
  EXPECT_NEAR(cure(*sagging(4e-3, 0.5e-3), 1e-3).load_factor, 0.125, 1e-4);
  // Bow upwards of 2 mm: s * 4 - 2 = 1 at s = 0.75; with no sag at all the bow alone would be out of tolerance.
  EXPECT_NEAR(cure(*sagging(4e-3, -2e-3), 1e-3).load_factor, 0.75, 1e-4);
}

TEST(CureForSag, SaysWhenItIsNotTheSag) {
  const Cure<double> found = cure(*sagging(4e-3, 1.5e-3), 1e-3);
  EXPECT_EQ(found.what, CureFor::not_sag);
  EXPECT_NEAR(found.without_sag_error_m, 1.5e-3, 1e-7);
  EXPECT_EQ(found.load_factor, 1);
}

TEST(CureForSag, SaysWhenFinerStepsWouldDo) {
  auto tilted = sagging(0, 0);
  for (std::size_t j = 0; j < 21; ++j)
    tilted->owned.height_m[j] = -0.5e-3 * double(j) / 20;  // pieces are 1 mm
  tilted->owned.look();
  const auto choice = choose(tilted->owned.problem, workspace());
  EXPECT_NEAR(choice.value().level_error_after_m, 0.5e-3, 1e-12);
  const Cure<double> found = cure(*tilted, 0.1e-3);
  EXPECT_EQ(found.what, CureFor::finer_steps);
  EXPECT_NEAR(found.continuous_error_m, 0, 1e-12);
}

TEST(CureForSag, SaysWhenNoSettingKeepsTheLimits) {
  auto held = sagging(4e-3, 0);
  ForceLimit<double> limit;
  limit.now_N = 0;
  limit.least_N = 1000;
  held->owned.forces = {limit};
  held->owned.on_force = {{{1e4}, {}, {}}, {{1e4}, {}, {}}};  // 80 N at most
  held->owned.look();
  EXPECT_EQ(cure(*held, 1e-3).what, CureFor::no_settings);
  const std::vector<double> short_one(3, 0.0);
  const auto wrong = find_cure(held->owned.problem, std::span<const double>(short_one), 1e-3, workspace());
  ASSERT_FALSE(wrong.ok());
  EXPECT_EQ(wrong.fault().code, AdjustFaultCode::sizes_differ);
}

}  // namespace
}  // namespace hangtrue::adjust

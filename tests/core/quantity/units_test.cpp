#include "core/quantity/units.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace hangtrue {
namespace {

// Sources: 3rd CGPM (1901) for g; international yard and pound agreement (1959) for inch and pound. Exact by
// definition, so equality.
TEST(Units, AreTheDefinedOnes) {
  EXPECT_EQ(kGravity_m_per_s2, 9.80665);
  EXPECT_EQ(kInch_m, 0.0254);
  EXPECT_DOUBLE_EQ(kFoot_m, 12 * kInch_m);
  EXPECT_EQ(kPound_kg, 0.45359237);
  EXPECT_DOUBLE_EQ(kPoundForce_N, 4.4482216152605);  // 0.45359237 * 9.80665
  EXPECT_DOUBLE_EQ(kPi, std::acos(-1.0));
}

}  // namespace
}  // namespace hangtrue

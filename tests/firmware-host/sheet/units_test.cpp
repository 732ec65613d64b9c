// Sources: international yard and pound agreement (1959), 1 in = 25.4 mm, 1 lb = 0.45359237 kg; 3rd CGPM (1901),
// g = 9.80665 m/s2. The expected values are those definitions multiplied out; tolerance: rounding.
#include "firmware-host/sheet/units.hpp"

#include <gtest/gtest.h>

#include "firmware-host/sheet/format.hpp"

namespace hangtrue::sheet {
namespace {

struct QuantityCase {
  const char* text;
  Kind kind;
  double si;
};
class Quantity : public ::testing::TestWithParam<QuantityCase> {};

TEST_P(Quantity, IsReadIntoSi) {
  const auto value = parse_quantity(GetParam().text, GetParam().kind);
  ASSERT_TRUE(value.ok()) << GetParam().text << ": " << value.fault().what;
  EXPECT_NEAR(value.value(), GetParam().si, 1e-12 * std::abs(GetParam().si)) << GetParam().text;
}

INSTANTIATE_TEST_SUITE_P(
    EveryUnit, Quantity,
    ::testing::Values(
        QuantityCase{"4200 mm", Kind::length, 4.2}, QuantityCase{"12 cm", Kind::length, 0.12},
        QuantityCase{"1 1/2 in", Kind::length, 0.0381}, QuantityCase{"5/32 in", Kind::length, 0.00396875},
        QuantityCase{"11 ft 4 in", Kind::length, 3.4544}, QuantityCase{"136 in", Kind::length, 3.4544},
        QuantityCase{"-10 mm", Kind::length, -0.01}, QuantityCase{"62 kg", Kind::mass, 62},
        QuantityCase{"1 lb", Kind::mass, 0.45359237}, QuantityCase{"3 kN", Kind::force, 3000},
        QuantityCase{"1 lbf", Kind::force, 4.4482216152605},
        QuantityCase{"1 kN/m", Kind::weight_per_length, 1000},
        QuantityCase{"1 lb/ft", Kind::weight_per_length, 14.593902937206364},
        QuantityCase{"12 kN/mm", Kind::stiffness, 12e6},
        QuantityCase{"1 lbf/in", Kind::stiffness, 175.12683524647636},
        QuantityCase{"18 kN m/rad", Kind::turning_stiffness, 18000},
        QuantityCase{"1 lbf in/rad", Kind::turning_stiffness, 0.1129848290276167},
        QuantityCase{"210 GPa", Kind::stress, 210e9},
        QuantityCase{"29000 ksi", Kind::stress, 1.99947961501886e11},
        QuantityCase{"490 lb/ft3", Kind::density, 490 * 0.45359237 / (0.3048 * 0.3048 * 0.3048)},
        QuantityCase{"0.3 mm/m", Kind::slope, 0.0003}, QuantityCase{"0.012 in/ft", Kind::slope, 0.001},
        QuantityCase{"2 s", Kind::time, 2}, QuantityCase{"1/4 turn", Kind::turns, 0.25},
        QuantityCase{"18 F", Kind::temperature_difference, 10}));

TEST(Quantity, OfTheWrongKindOrMalformedIsRefused) {
  for (const char* text : {"", "12", "mm", "4200 kg", "nan mm", "inf mm", "1/0 in", "1,5 mm", "4 mm mm",
                           "1e999 mm", "12 mm x", "0x10 mm", "11 ft 14 in"})
    EXPECT_FALSE(parse_quantity(text, Kind::length).ok()) << text;
  EXPECT_FALSE(parse_quantity("12 mm", Kind::stiffness).ok());
}

// The slope of an angle is its tangent, by definition. The value of tan(1 deg) is from memory.
TEST(Quantity, SlopeInDegreesIsItsTangent) {
  const auto slope = parse_quantity("1 deg", Kind::slope);
  ASSERT_TRUE(slope.ok());
  EXPECT_NEAR(slope.value(), 0.017455064928217585, 1e-15);
}

TEST(Showing, InchesComeInFractionsAndPlacesInFeet) {
  EXPECT_EQ(show_length(0.0015875, Show::imperial), "1/16 in");
  EXPECT_EQ(show_length(-0.02778125, Show::imperial), "-1 3/32 in");
  EXPECT_EQ(show_place(3.4544, Show::imperial), "11 ft 4 in");
  EXPECT_EQ(show_place(4.2, Show::metric), "4200 mm");
  EXPECT_EQ(show_turns(1.25), "1 1/4 turns");
}

TEST(Days, AreReadFromWordsOfTheCalendar) {
  EXPECT_EQ(parse_days("365 days"), 365);
  EXPECT_EQ(parse_days("1 day"), 1);
  EXPECT_EQ(parse_days(" 26 weeks"), 182);
  EXPECT_EQ(parse_days("1 1/2 years"), 1.5 * 365.25);
  for (const char* none : {"", "365", "days", "0 days", "-1 day", "2 months", "101 years", "1 day more"})
    EXPECT_EQ(parse_days(none), std::nullopt) << none;
}

}  // namespace
}  // namespace hangtrue::sheet

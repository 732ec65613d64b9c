// Sources: international yard and pound agreement (1959), 1 in = 25.4 mm, 1 lb = 0.45359237 kg; 3rd CGPM (1901),
// g = 9.80665 m/s2. The expected values are those definitions multiplied out; tolerance: rounding.
#include "firmware-host/sheet/units.hpp"

#include <gtest/gtest.h>

#include "firmware-host/sheet/format.hpp"
#include "firmware-host/sheet/threads.hpp"

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

// The same definitions; 1 kip = 1,000 lbf, 1 t = 1,000 kg, a pound a cubic foot is 0.45359237 kg in 0.3048^3 m3.
INSTANTIATE_TEST_SUITE_P(
    AsTheTradeWritesThem, Quantity,
    ::testing::Values(
        QuantityCase{"210000 N/mm2", Kind::stress, 210e9},
        QuantityCase{"210000 N/mm\xC2\xB2", Kind::stress, 210e9},
        QuantityCase{"210000 N/mm^2", Kind::stress, 210e9}, QuantityCase{"21000 kN/cm2", Kind::stress, 210e9},
        QuantityCase{"1 lbf/in2", Kind::stress, 6894.757293168361},
        QuantityCase{"7850 kg/m\xC2\xB3", Kind::density, 7850},
        QuantityCase{"7.85 g/cm3", Kind::density, 7850},
        QuantityCase{"490 pcf", Kind::density, 490 * 0.45359237 / (0.3048 * 0.3048 * 0.3048)},
        QuantityCase{"136 lbs", Kind::mass, 136 * 0.45359237},
        QuantityCase{"136 lbs.", Kind::mass, 136 * 0.45359237},
        QuantityCase{"1 kip/in", Kind::stiffness, 175126.83524647636},
        QuantityCase{"140 lb/in", Kind::stiffness, 140 * 175.12683524647636},
        QuantityCase{"1 ft-lb", Kind::couple, 4.4482216152605 * 0.3048},
        QuantityCase{"1 in-lb/rad", Kind::turning_stiffness, 0.1129848290276167},
        QuantityCase{"18 kN\xC2\xB7m/rad", Kind::turning_stiffness, 18000},
        QuantityCase{"18 kNm/rad", Kind::turning_stiffness, 18000},
        QuantityCase{"10 plf", Kind::weight_per_length, 145.93902937206364},
        QuantityCase{"1/8\"", Kind::length, 0.003175}, QuantityCase{"7-1/2 in", Kind::length, 0.1905},
        QuantityCase{"7\xC2\xBD in", Kind::length, 0.1905}, QuantityCase{"14' 7 1/2\"", Kind::length, 4.4577},
        QuantityCase{"14'-7 1/2\"", Kind::length, 4.4577}, QuantityCase{"14'", Kind::length, 4.2672},
        QuantityCase{"14\xE2\x80\xB2 7\xE2\x80\xB3", Kind::length, 4.445},
        QuantityCase{"11 feet 4 inches", Kind::length, 3.4544}, QuantityCase{"12 in.", Kind::length, 0.3048},
        QuantityCase{"\xE2\x88\x92"
                     "10 mm",
                     Kind::length, -0.01},
        QuantityCase{"1/64\"/ft", Kind::slope, 1.0 / 768}, QuantityCase{"0", Kind::length, 0},
        QuantityCase{"0.0", Kind::slope, 0}, QuantityCase{"-0", Kind::stiffness, 0},
        QuantityCase{"quarter turn", Kind::turns, 0.25}, QuantityCase{"a half turn", Kind::turns, 0.5},
        QuantityCase{"three quarters of a turn", Kind::turns, 0.75},
        QuantityCase{"1/4 of a turn", Kind::turns, 0.25}, QuantityCase{"one turn", Kind::turns, 1},
        QuantityCase{"2 turns", Kind::turns, 2},
        QuantityCase{"21 \xC2\xB0"
                     "C",
                     Kind::temperature, 21}));

std::string why(const char* text, Kind kind) {
  const auto value = parse_quantity(text, kind);
  return value.ok() ? "read as " + std::to_string(value.value()) : value.fault().what;
}

// A comma is never read: one writer means thousands, the other tenths. What to write is said for every reading there is.
TEST(Quantity, WithACommaIsRefusedWithEveryReadingThatItMayHave) {
  for (const auto& [text, says] :
       {std::pair{"11,200 ksi", "write \"11200 ksi\", or \"11.2 ksi\" where it stands for the point"},
        {"29,000 ksi", "write \"29000 ksi\", or \"29 ksi\" where it stands for the point"},
        {"1,5 ksi", "write \"1.5 ksi\""},
        {"0,125 ksi", "write \"0.125 ksi\""},
        {"1,234,567 psi", "write \"1234567 psi\""},
        {"11,200.5 ksi", "write \"11200.5 ksi\""},
        {"11.200,5 psi", "write \"11200.5 psi\""},
        {"1,2,3 psi", "with a point"},
        {"11, psi", "a comma behind the number"},
        {"11 200 ksi", "write \"11200 ksi\""},
        {"29'000 ksi", "write \"29000 ksi\""}}) {
    EXPECT_NE(why(text, Kind::stress).find(says), std::string::npos)
        << text << ": " << why(text, Kind::stress);
  }
  EXPECT_NE(why("-1,5 mm", Kind::length).find("write \"-1.5 mm\""), std::string::npos);
  EXPECT_NE(parse_number("-0,5").fault().what.find("write \"-0.5\""), std::string::npos);
}

TEST(Quantity, OfNothingNeedsAUnitWhereItsZeroIsAMatterOfTheUnit) {
  EXPECT_FALSE(parse_quantity("0", Kind::temperature).ok());
  EXPECT_FALSE(parse_quantity("0 x", Kind::length).ok());
  EXPECT_FALSE(parse_quantity("5", Kind::length).ok());
}

TEST(Quantity, IsNamedAsItWasTypedWhereItsUnitIsNotKnown) {
  EXPECT_EQ(why("3 Furlong^2", Kind::area), "no unit known as \"Furlong^2\"");
  EXPECT_EQ(why("210 Gpa", Kind::stress), "no unit known as \"Gpa\"; did you mean \"GPa\"?");
  EXPECT_NE(why("7-1 in", Kind::length).find("no unit"), std::string::npos);
}

TEST(Share, IsAPlainNumberOrInPercent) {
  EXPECT_EQ(parse_share("0.95").value(), 0.95);
  EXPECT_EQ(parse_share("95 %").value(), 0.95);
  EXPECT_EQ(parse_share("5%").value(), 0.05);
  for (const char* none : {"", "%", "95 percent", "9,5 %", "95 % %"})
    EXPECT_FALSE(parse_share(none).ok()) << none;
}

// Source: ISO 261:1998, coarse pitches; ASME B1.1, UNC and UNF (both from memory).
TEST(Thread, IsReadByItsName) {
  for (const auto& [name, pitch_m] : {std::pair{"M8", 1.25e-3},
                                      {"M10", 1.5e-3},
                                      {"M12", 1.75e-3},
                                      {"M16", 2e-3},
                                      {"M12x1.25", 1.25e-3},
                                      {"M12 x 1.5", 1.5e-3},
                                      {"M12\xC3\x97"
                                       "1",
                                       1e-3},
                                      {"1/2-13 UNC", 0.0254 / 13},
                                      {"1/2-13", 0.0254 / 13},
                                      {"1/2\"-13 UNC", 0.0254 / 13},
                                      {"1/2 UNC", 0.0254 / 13},
                                      {"1/2-20 UNF", 0.0254 / 20},
                                      {"3/8-16", 0.0254 / 16},
                                      {"5/8-11 UNC", 0.0254 / 11},
                                      {"#10-24", 0.0254 / 24},
                                      {"1-8 UNC", 0.0254 / 8}}) {
    const auto pitch = parse_thread(name);
    ASSERT_TRUE(pitch.ok()) << name << ": " << pitch.fault().what;
    EXPECT_NEAR(pitch.value(), pitch_m, 1e-15) << name;
  }
  for (const auto& [name, says] : {std::pair{"M12x2.5", "no pitch above"},
                                   {"M11", "no size of ISO 261"},
                                   {"1/2-12 UNC", "13 (UNC) and 20 (UNF)"},
                                   {"1/2-13 UNF", "13 (UNC)"},
                                   {"17/32-13 UNC", "no size of ASME B1.1"},
                                   {"M12x1,25", "1.25"}}) {
    ASSERT_FALSE(parse_thread(name).ok()) << name;
    EXPECT_NE(parse_thread(name).fault().what.find(says), std::string::npos)
        << parse_thread(name).fault().what;
  }
  for (const char* none : {"", "1.75 mm", "1/13 in", "coarse", "M"})
    EXPECT_FALSE(parse_thread(none).ok()) << none;
}

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
  // What a sheet says as a fraction is shown as one, what was worked out as decimals.
  EXPECT_EQ(show_fine(0.0015875, Show::imperial), "1/16 in");
  EXPECT_EQ(show_fine(2.45745, Show::imperial), "96 3/4 in");
  EXPECT_EQ(show_fine(0.0015876, Show::imperial), "0.063 in");
  EXPECT_EQ(show_fine(0, Show::imperial), "0.000 in");
  EXPECT_EQ(show_fine(0.0016, Show::metric), "1.600 mm");
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

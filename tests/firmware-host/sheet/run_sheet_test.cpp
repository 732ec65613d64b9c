#include "firmware-host/sheet/run_sheet.hpp"

#include <gtest/gtest.h>

#include <fstream>
#include <sstream>
#include <tuple>

#include "core/beam/section.hpp"
#include "core/beam/solver.hpp"
#include "core/quantity/limits.hpp"
#include "firmware-host/sheet/creep_table.hpp"
#include "firmware-host/sheet/designation.hpp"
#include "tests/core/reference.hpp"
#include "tests/firmware-host/sheet/example.hpp"

namespace hangtrue::sheet {
namespace {

std::string replaced(std::string text, const std::string& what, const std::string& by) {
  const std::size_t at = text.find(what);
  EXPECT_NE(at, std::string::npos) << what;
  return at == std::string::npos ? text : text.replace(at, what.size(), by);
}

TEST(RunSheet, GivesItsNumbers) {
  const auto read = parse_run_sheet(kExample, "shelf.toml");
  ASSERT_TRUE(read.sheet) << text(read.complaints);
  const RunSheet& run = *read.sheet;
  EXPECT_EQ(run.stations_m.size(), 15u);
  EXPECT_DOUBLE_EQ(run.stations_m.back(), 4.2);
  EXPECT_EQ(run.tolerance.stage, 1);
  EXPECT_DOUBLE_EQ(run.beam_supports[0].rise.compliance, 1 / 12e6);
  EXPECT_TRUE(run.beam_supports[0].roll.held);
  EXPECT_EQ(run.beam_supports[0].roll.compliance, 0);
  EXPECT_FALSE(run.beam_supports[1].pitch.held);
  EXPECT_EQ(run.beam_supports[1].holds, beam::Holds::pull);
  EXPECT_DOUBLE_EQ(run.supports[1].adjust.step_turns, 0.25);
  EXPECT_EQ(run.stocks[0].pieces[0].label, "0.5 mm");
  // g = 9.80665 m/s2 (3rd CGPM): 62 kg.
  EXPECT_NEAR(run.loads[std::size_t(run.load("carcasses"))].weight_N, 608.0123, 1e-9);
  // Hollow section by the formulas of EN 10219-2 (in data/reference/sections.csv), 80 x 40 x 4: area 8.548 cm2, own weight with it.
  EXPECT_NEAR(run.loads[std::size_t(run.load("spine"))].weight_N, 8.54796e-4 * 7850 * 9.80665 * 4.2, 0.01);
}

// What a rod or post grows by, and each way to say it wrongly.
TEST(RunSheet, KnowsWhatARodOrAPostGrowsBy) {
  const auto rod = [](const std::string& lines) {
    return parse_run_sheet(
        replaced(replaced(kExample, "holds = \"pull\"\n", lines), "density = \"7850 kg/m3\"\n",
                 "density = \"7850 kg/m3\"\nexpansion = \"12e-6 /K\"\n"),
        "shelf.toml");
  };
  const auto growth = [&](const std::string& lines) {
    const auto read = rod(lines);
    EXPECT_TRUE(read.sheet) << text(read.complaints);
    return read.sheet ? read.sheet->supports.at(1).growth_m_per_K : 0;
  };
  EXPECT_NEAR(growth("holds = \"pull\"\nhangs = \"1.1 m\"\nmaterial = \"steel\"\n"), -13.2e-6, 1e-18);
  EXPECT_NEAR(growth("hangs = \"1100 mm\"\nexpansion = \"23e-6 /K\"\n"), -25.3e-6, 1e-18);
  EXPECT_NEAR(growth("holds = \"push\"\nstands = \"900 mm\"\nmaterial = \"steel\"\n"), 10.8e-6, 1e-18);
  EXPECT_EQ(growth("holds = \"pull\"\n"), 0);
  for (const auto& [lines, key, says] :
       {std::tuple{"hangs = \"1.1 m\"\n", "support[2].material", "no such key"},
        {"hangs = \"1.1 m\"\nmaterial = \"stele\"\n", "support[2].material", "\"stele\""},
        {"hangs = \"1.1 m\"\nmaterial = \"steel\"\nexpansion = \"12e-6 /K\"\n", "support[2].expansion",
         "both material and expansion"},
        {"material = \"steel\"\n", "support[2].material", "neither hangs nor stands"},
        {"hangs = \"1.1 m\"\nstands = \"1 m\"\nmaterial = \"steel\"\n", "support[2].stands", "both"},
        {"hangs = 1.1\nmaterial = \"steel\"\n", "support[2].hangs", "1.1"},
        {"hangs = \"110 m\"\nmaterial = \"steel\"\n", "support[2].hangs", "\"110 m\""},
        {"holds = \"push\"\nhangs = \"1.1 m\"\nmaterial = \"steel\"\n", "support[2].hangs",
         "pushes from below"},
        {"holds = \"pull\"\nstands = \"1.1 m\"\nmaterial = \"steel\"\n", "support[2].stands",
         "pulls from above"}}) {
    const auto read = rod(lines);
    ASSERT_EQ(read.complaints.size(), 1u) << lines << text(read.complaints);
    EXPECT_EQ(read.complaints[0].key, key) << lines;
    EXPECT_NE(read.complaints[0].found.find(says), std::string::npos) << lines << read.complaints[0].text();
  }
}

std::string with_fit_up(const std::string& fit_up) {
  return replaced(kExample, "holds = \"both\"\n", "holds = \"both\"\nfit_up = " + fit_up + "\n");
}

TEST(RunSheet, SaysHowFarBoltsMayDrawTheRun) {
  const auto expect = [](const std::string& text, double rise_m, double pitch_rad, double roll_rad) {
    const auto read = parse_run_sheet(text, "shelf.toml");
    ASSERT_TRUE(read.sheet) << hangtrue::sheet::text(read.complaints);
    const double* const found = read.sheet->supports.at(0).fit_up_sigma;
    EXPECT_NEAR(found[0], rise_m, 1e-15);
    EXPECT_NEAR(found[1], pitch_rad, 1e-15);
    EXPECT_NEAR(found[2], roll_rad, 1e-15);
  };
  // Half a millimetre and half a millimetre a metre unless the sheet says otherwise, motion by motion.
  expect(kExample, 0.0005, 0.0005, 0.0005);
  expect(with_fit_up("\"2 mm\""), 0.002, 0.0005, 0.0005);
  expect(with_fit_up("\"0 mm\""), 0, 0.0005, 0.0005);
  expect(with_fit_up("{ rise = \"1 mm\", pitch = \"0.25 mm/m\", roll = \"0.003 rad\" }"), 0.001, 0.00025,
         0.003);
  expect(with_fit_up("{ pitch = \"0.012 in/ft\" }"), 0.0005, 0.001, 0.0005);
  expect(with_fit_up("{ roll = \"0 mm/m\" }"), 0.0005, 0.0005, 0);
}

TEST(RunSheet, SaysWhatIsWrongWithAFitUp) {
  for (const auto& [fit_up, key, says] :
       {std::tuple{"\"-0.5 mm\"", "support[1].fit_up", "not negative"},
        {"{ rise = \"0.5 mm\", pitch = \"-1 mm/m\" }", "support[1].fit_up.pitch", "not negative"},
        {"{ roll = \"-0.1 deg\" }", "support[1].fit_up.roll", "not negative"},
        {"0.5", "support[1].fit_up", "a number without a unit"},
        {"\"0.5 mm/m\"", "support[1].fit_up", "length"},
        {"true", "support[1].fit_up", "found true"},
        {"[\"0.5 mm\"]", "support[1].fit_up", "found a list"},
        {"{}", "support[1].fit_up", "a length for the rise"},
        {"{ yaw = \"1 mm\" }", "support[1].fit_up.yaw", "no such key"},
        {"{ pitch = \"1 mm\" }", "support[1].fit_up.pitch", "slope"}}) {
    const auto read = parse_run_sheet(with_fit_up(fit_up), "shelf.toml");
    ASSERT_EQ(read.complaints.size(), 1u) << fit_up << text(read.complaints);
    EXPECT_EQ(read.complaints[0].key, key);
    EXPECT_EQ(read.complaints[0].line, 39) << fit_up;
    EXPECT_NE(read.complaints[0].text().find(says), std::string::npos) << read.complaints[0].text();
  }
}

struct BadSheet {
  const char* legend;
  const char* what;
  const char* by;
  int line;
  const char* key;
};
class Complaints : public ::testing::TestWithParam<BadSheet> {};

TEST_P(Complaints, NameLineAndKey) {
  const auto read = parse_run_sheet(replaced(kExample, GetParam().what, GetParam().by), "shelf.toml");
  ASSERT_FALSE(read.sheet) << GetParam().legend;
  bool found = false;
  for (const Complaint& complaint : read.complaints) {
    EXPECT_EQ(complaint.file, "shelf.toml");
    EXPECT_FALSE(complaint.found.empty() && complaint.expected.empty());
    found = found ||
            (complaint.line == GetParam().line && complaint.key.find(GetParam().key) != std::string::npos);
  }
  EXPECT_TRUE(found) << GetParam().legend << '\n' << text(read.complaints);
}

INSTANTIATE_TEST_SUITE_P(
    Sheets, Complaints,
    ::testing::Values(
        BadSheet{"no unit", "length = \"4200 mm\"", "length = \"4200\"", 3, "length"},
        BadSheet{"wrong kind", "rise  = \"12 kN/mm\"", "rise  = \"12 mm\"", 35, "rise"},
        BadSheet{"unknown stage", "stage = \"in use\"", "stage = \"used\"", 8, "stage"},
        BadSheet{"unknown material", "material = \"steel\"", "material = \"tin\"", 19, "material"},
        BadSheet{"load off the run", "to = \"4200 mm\"\nmass", "to = \"9 m\"\nmass", 24, "load[1]"},
        BadSheet{"support off the run", "at = \"3900 mm\"", "at = \"4300 mm\"", 43, "support[2].at"},
        BadSheet{"support across in another unit", "at = \"3900 mm\"",
                 "at = \"3900 mm\"\nacross = \"150 cm\"", 44, "support[2].across"},
        BadSheet{"name twice", "name = \"east rod\"\nat", "name = \"wall bracket\"\nat", 42, "name"},
        BadSheet{"unknown support in a stage", "[\"wall bracket\", \"east rod\"]",
                 "[\"wall bracket\", \"post\"]", 51, "supports"},
        BadSheet{"no such stock", "stock = \"van\"", "stock = \"lorry\"", 40, "stock"},
        BadSheet{"unknown key", "width  =", "witdh  =", 4, "witdh"},
        BadSheet{"wall too thick", "wall = \"4 mm\"", "wall = \"25 mm\"", 20, "wall"},
        BadSheet{"nothing carries at the end", "to = \"4200 mm\"\nmaterial", "to = \"4000 mm\"\nmaterial", 15,
                 "member"}));

TEST(RunSheet, LetsSupportsStandBesideTheAxis) {
  const auto at_zero = [](const std::string& across, const std::string& second) {
    return parse_run_sheet(
        replaced(replaced(kExample, "at = \"0 mm\"\nrise  = \"12 kN/mm\"",
                          "at = \"3900 mm\"\nrise = \"rigid\"\nacross = \"" + across + "\""),
                 "rise = \"9 kN/mm\"", "rise = \"rigid\"\nacross = \"" + second + "\""),
        "shelf.toml");
  };
  const auto read = at_zero("150 mm", "-6 in");
  ASSERT_TRUE(read.sheet) << text(read.complaints);
  EXPECT_NEAR(read.sheet->beam_supports[0].across_m, 0.15, 1e-15);
  EXPECT_NEAR(read.sheet->beam_supports[1].across_m, -0.1524, 1e-15);
  EXPECT_EQ(parse_run_sheet(kExample, "shelf.toml").sheet->beam_supports[0].across_m, 0);
  // Rigid side by side is one thing, rigid at one spot another.
  const auto twice = at_zero("150 mm", "0.15 m");
  ASSERT_FALSE(twice.sheet);
  EXPECT_NE(text(twice.complaints).find("both rigid in rise"), std::string::npos) << text(twice.complaints);
  EXPECT_TRUE(at_zero("380 mm", "-380 mm").sheet);
  EXPECT_FALSE(at_zero("381 mm", "0 mm").sheet);
}

// The example's spine as one of two rails; by hand: Iw = sum of I_i (y_i - y_c)^2, torsion constants add.
std::string with_rail(const std::string& across, const std::string& more) {
  const std::string spine = "name = \"spine\"\nfrom = \"0 mm\"\n";
  return replaced(replaced(kExample, spine, spine + "across = \"" + across + "\"\n"), "[[load]]",
                  more + "[[load]]");
}
std::string another_rail(const std::string& across, const std::string& to, const std::string& depth) {
  return "[[member]]\nname = \"rail\"\nfrom = \"0 mm\"\nto = \"" + to + "\"\nacross = \"" + across +
         "\"\nmaterial = \"steel\"\nsection = { shape = \"hollow rectangle\", depth = \"" + depth +
         "\", width = \"40 mm\", wall = \"4 mm\", corner = \"8 mm\" }\n";
}

TEST(RunSheet, MakesRailsSideBySideResistTwistByTheirBending) {
  const auto alone = parse_run_sheet(kExample, "shelf.toml");
  ASSERT_TRUE(alone.sheet);
  const beam::Piece<double>& one = alone.sheet->pieces.at(0);
  EXPECT_EQ(one.warping_N_m4, 0);
  EXPECT_EQ(alone.sheet->shear_centre_m, 0);
  const auto two =
      parse_run_sheet(with_rail("260 mm", another_rail("-260 mm", "4200 mm", "80 mm")), "shelf.toml");
  ASSERT_TRUE(two.sheet) << text(two.complaints);
  EXPECT_NEAR(two.sheet->pieces.at(0).warping_N_m4 / (2 * one.bending_N_m2 * 0.26 * 0.26), 1, 1e-12);
  EXPECT_NEAR(two.sheet->pieces.at(0).torsion_N_m2 / (2 * one.torsion_N_m2), 1, 1e-12);
  EXPECT_EQ(two.sheet->shear_centre_m, 0);
  // A deeper rail draws the axis towards it.
  const auto unlike =
      parse_run_sheet(with_rail("260 mm", another_rail("-260 mm", "4200 mm", "120 mm")), "shelf.toml");
  ASSERT_TRUE(unlike.sheet) << text(unlike.complaints);
  const double left = one.bending_N_m2, right = unlike.sheet->members.at(1).bending_N_m2;
  const double axis = 0.26 * (left - right) / (left + right);
  EXPECT_NEAR(unlike.sheet->shear_centre_m, axis, 1e-12);
  EXPECT_NEAR(unlike.sheet->pieces.at(0).warping_N_m4 /
                  (left * (0.26 - axis) * (0.26 - axis) + right * (0.26 + axis) * (0.26 + axis)),
              1, 1e-12);
  EXPECT_NEAR(unlike.sheet->run().shear_centre_m, axis, 1e-12);
  // One that ends on the way would leave the axis where it is not.
  const auto shorter =
      parse_run_sheet(with_rail("260 mm", another_rail("-260 mm", "2 m", "80 mm")), "shelf.toml");
  ASSERT_FALSE(shorter.sheet);
  EXPECT_NE(text(shorter.complaints).find("260.00 mm"), std::string::npos) << text(shorter.complaints);
}

TEST(RunSheet, KnowsWhereAChannelTurnsAndThatItWarps) {
  const auto channel = [](const std::string& more) {
    return parse_run_sheet(
        replaced(kExample,
                 "section = { shape = \"hollow rectangle\", depth = \"80 mm\", width = \"40 mm\", wall = \"4 "
                 "mm\", "
                 "corner = \"8 mm\" }",
                 "section = { shape = \"channel\", depth = \"80 mm\", width = \"50 mm\", web = \"4 mm\", "
                 "flange = \"7 mm\", root = \"10 mm\"" +
                     more + " }"),
        "shelf.toml");
  };
  // UPE 80 of EN 10365 (data/reference/channels_upe.csv): the shear centre 3.71 cm from the centroid, on the web's side.
  const auto left = channel(", upright = \"left\""), right = channel(", upright = \"right\""),
             open = channel("");
  ASSERT_TRUE(left.sheet && right.sheet && open.sheet) << text(left.complaints);
  EXPECT_NEAR(left.sheet->shear_centre_m, 0.0371, 1.5e-4);
  EXPECT_NEAR(right.sheet->shear_centre_m, -0.0371, 1.5e-4);
  EXPECT_EQ(open.sheet->shear_centre_m, 0);
  EXPECT_GT(left.sheet->pieces.at(0).warping_N_m4, 0);
  EXPECT_FALSE(channel(", upright = \"front\"").sheet);
}

TEST(RunSheet, TakesAGivenStiffnessAgainstWarpingAndSupportsThatHoldIt) {
  const std::string given =
      replaced(kExample,
               "section = { shape = \"hollow rectangle\", depth = \"80 mm\", width = \"40 mm\", wall = \"4 "
               "mm\", corner = \"8 mm\" }",
               "section = { shape = \"given\", EI = \"40 kN m2\", GJ = \"2 kN m2\", EIw = \"2.4 kN m4\", "
               "weight_per_length = \"12 kg/m\" }");
  const auto read = parse_run_sheet(
      replaced(given, "holds = \"both\"\n", "holds = \"both\"\nwarping = \"held\"\n"), "shelf.toml");
  ASSERT_TRUE(read.sheet) << text(read.complaints);
  EXPECT_NEAR(read.sheet->pieces.at(0).warping_N_m4, 2400, 1e-9);
  EXPECT_TRUE(read.sheet->beam_supports.at(0).holds_warping);
  EXPECT_FALSE(read.sheet->beam_supports.at(1).holds_warping);
  EXPECT_FALSE(
      parse_run_sheet(replaced(given, "holds = \"both\"\n", "holds = \"both\"\nwarping = \"stiff\"\n"), "s")
          .sheet);
  EXPECT_FALSE(parse_run_sheet(replaced(given, "2.4 kN m4", "2.4 kN m2"), "s").sheet);
}

TEST(RunSheet, ReportsAllThatIsWrongAtOnce) {
  std::string sheet = kExample;
  for (const auto& [what, by] : {std::pair{"width  = \"380 mm\"", "width = \"380 kg\""},
                                 {"span_ratio = 360", "span_ratio = \"x\""},
                                 {"E = \"210 GPa\"", "E = \"210\""},
                                 {"mass = \"62 kg\"", "mass = \"62 m\""},
                                 {"holds = \"pull\"", "holds = \"tight\""},
                                 {"most = 4", "most = -1"}})
    sheet = replaced(sheet, what, by);
  const auto read = parse_run_sheet(sheet, "shelf.toml");
  EXPECT_FALSE(read.sheet);
  EXPECT_GE(read.complaints.size(), 6u) << text(read.complaints);
}

std::string complaints_of(std::initializer_list<std::pair<const char*, const char*>> changes) {
  std::string sheet = kExample;
  for (const auto& [what, by] : changes) sheet = replaced(sheet, what, by);
  const auto read = parse_run_sheet(sheet, "shelf.toml");
  EXPECT_FALSE(read.sheet);
  return text(read.complaints);
}

TEST(RunSheet, ReadsAStraightEdgeBesideTheLevel) {
  const auto with = [](const std::string& per) {
    return parse_run_sheet(replaced(kExample, "span_ratio = 360", "span_ratio = 360\nper = \"" + per + '"'),
                           "shelf.toml");
  };
  const auto metric = with("2 mm over 2 m");
  ASSERT_TRUE(metric.sheet) << text(metric.complaints);
  ASSERT_TRUE(metric.sheet->tolerance.per);
  EXPECT_EQ(metric.sheet->tolerance.per->gap_m, 0.002);
  EXPECT_EQ(metric.sheet->tolerance.per->length_m, 2);
  EXPECT_TRUE(with("0.5 mm over 600 mm").sheet) << "it reaches from one station to the next but one";
  const auto imperial = with("1/8 in over 10 ft");
  ASSERT_TRUE(imperial.sheet) << text(imperial.complaints);
  EXPECT_NEAR(imperial.sheet->tolerance.per->gap_m, 0.003175, 1e-12);
  EXPECT_NEAR(imperial.sheet->tolerance.per->length_m, 3.048, 1e-12);
  for (const char* wrong : {"2 mm", "2 mm per 2 m", "2 over 2 m", "2 m over 2 mm", "-1 mm over 2 m", " over ",
                            "0.5 mm over 400 mm"}) {
    const auto read = with(wrong);
    EXPECT_FALSE(read.sheet) << wrong;
    EXPECT_NE(text(read.complaints).find("tolerance.per"), std::string::npos) << text(read.complaints);
  }
}

TEST(RunSheet, ComplainsOfAnUnknownKeyBesideAShapeThatItDoesNotKnow) {
  const std::string of_shape =
      complaints_of({{"shape = \"hollow rectangle\", depth", "shape = \"box\", dpeth"}});
  EXPECT_NE(of_shape.find("section.shape"), std::string::npos) << of_shape;
  EXPECT_NE(of_shape.find("section.dpeth"), std::string::npos) << of_shape;
  EXPECT_EQ(of_shape.find("section.wall"), std::string::npos) << of_shape;
  const std::string of_rod = complaints_of({{"by = \"rod\", thread", "by = \"nut\", thraed"}});
  EXPECT_NE(of_rod.find("adjust.by"), std::string::npos) << of_rod;
  EXPECT_NE(of_rod.find("adjust.thraed"), std::string::npos) << of_rod;
}

TEST(RunSheet, EchoesFiguresAsTheyWereTyped) {
  const std::string all = complaints_of({{"length = \"4200 mm\"", "length = \"13 ft 9 3/8 in\""},
                                         {"at = \"3900 mm\"", "at = \"15 ft\""},
                                         {"confidence = 0.95", "confidence = 1_2.50"},
                                         {"span_ratio = 360", "span_ratio = -3.60e2"}});
  EXPECT_NE(all.find("from 0 to 13 ft 9 3/8 in"), std::string::npos) << all;
  EXPECT_NE(all.find("found \"15 ft\""), std::string::npos) << all;
  EXPECT_NE(all.find("found 1_2.50,"), std::string::npos) << all;
  EXPECT_NE(all.find("found -3.60e2,"), std::string::npos) << all;
}

TEST(RunSheet, IsReadAsTheTradeWritesIt) {
  std::string sheet = kExample;
  for (const auto& [what, by] :
       {std::pair{"E = \"210 GPa\"", "E = \"210000 N/mm\xC2\xB2\""},
        {"confidence = 0.95", "confidence = \"95 %\""},
        {"sigma = 0.05", "sigma = \"5 %\""},
        {"density = \"7850 kg/m3\"", "density = \"7850 kg/m\xC2\xB3\""},
        {"at = \"0 mm\"\nrise", "at = \"0\"\nrise"},
        {"from = \"0 mm\"", "from = 0"},
        {"thread = \"1.75 mm\", step = \"1/4 turn\"", "thread = \"M12\", step = \"quarter turn\""}})
    sheet = replaced(sheet, what, by);
  const auto read = parse_run_sheet(sheet, "shelf.toml"), plain = parse_run_sheet(kExample, "shelf.toml");
  ASSERT_TRUE(read.sheet) << text(read.complaints);
  EXPECT_DOUBLE_EQ(read.sheet->pieces[0].bending_N_m2, plain.sheet->pieces[0].bending_N_m2);
  EXPECT_DOUBLE_EQ(read.sheet->supports[1].adjust.thread_m, 1.75e-3);
  EXPECT_DOUBLE_EQ(read.sheet->supports[1].adjust.step_turns, 0.25);
  EXPECT_DOUBLE_EQ(read.sheet->tolerance.confidence, 0.95);
  EXPECT_DOUBLE_EQ(read.sheet->loads[1].sigma, 0.05);
  EXPECT_NE(complaints_of({{"confidence = 0.95", "confidence = \"195 %\""}}).find("95 %"), std::string::npos);
}

// The rows of a table in data/reference, fields apart by commas.
std::vector<std::vector<std::string>> rows_of(const std::string& name) {
  std::ifstream file(std::string(HANGTRUE_DATA_DIR) + "/reference/" + name);
  EXPECT_TRUE(file) << name;
  std::vector<std::vector<std::string>> rows;
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line[0] == '#') continue;
    rows.emplace_back();
    std::istringstream fields(line);
    for (std::string field; std::getline(fields, field, ',');) rows.back().push_back(field);
  }
  return rows;
}

RunSheet with_section(const std::string& section) {
  const auto read = parse_run_sheet(replaced(kExample,
                                             "section = { shape = \"hollow rectangle\", depth = \"80 mm\", "
                                             "width = \"40 mm\", wall = \"4 mm\", corner = "
                                             "\"8 mm\" }",
                                             "section = " + section),
                                    "shelf.toml");
  EXPECT_TRUE(read.sheet) << section << text(read.complaints);
  return read.sheet.value_or(RunSheet{});
}

// Source: the printed tables of EN 10210-2 and EN 10219-2 (data/reference/sections.csv): second moment and torsion constant, to
// their three printed digits.
TEST(Designation, GivesThePrintedValuesOfBothStandards) {
  int rows = 0;
  for (const auto& fields : rows_of("sections.csv")) {
    if ((fields[0] != "EN 10219-2" && fields[0] != "EN 10210-2") || fields[9].empty()) continue;
    const RunSheet run = with_section('"' + fields[1] + ' ' + fields[0] + '"');
    ASSERT_FALSE(run.pieces.empty());
    const double second_moment_cm4 = run.pieces[0].bending_N_m2 / 210e9 * 1e8,
                 torsion_cm4 = run.pieces[0].torsion_N_m2 / 81e9 * 1e8;
    EXPECT_NEAR(second_moment_cm4, std::stod(fields[9]), 0.0051 * std::stod(fields[9])) << fields[1];
    EXPECT_NEAR(torsion_cm4, std::stod(fields[13]), 0.0051 * std::stod(fields[13])) << fields[1];
    ++rows;
  }
  EXPECT_GE(rows, 30);
}

TEST(Designation, IsTakenForColdFormedAndCanBeOverruled) {
  const double cold = with_section("\"RHS 80x40x4\"").pieces[0].bending_N_m2;
  EXPECT_DOUBLE_EQ(cold, parse_run_sheet(kExample, "shelf.toml").sheet->pieces[0].bending_N_m2)
      << "the example has the radii of EN 10219-2";
  EXPECT_DOUBLE_EQ(with_section("\"RHS 80x40x4 EN 10219-2\"").pieces[0].bending_N_m2, cold);
  EXPECT_GT(with_section("\"RHS 80 x 40 x 4 hot finished\"").pieces[0].bending_N_m2, cold);
  EXPECT_LT(with_section("{ shape = \"RHS 80x40x4\", wall = \"3.7 mm\" }").pieces[0].bending_N_m2, cold);
  EXPECT_DOUBLE_EQ(with_section("\"SHS 60x3\"").pieces[0].bending_N_m2,
                   with_section("\"SHS 60x60x3\"").pieces[0].bending_N_m2);
  EXPECT_DOUBLE_EQ(
      with_section("\"CHS 60.3x4\"").pieces[0].bending_N_m2,
      with_section("{ shape = \"tube\", diameter = \"60.3 mm\", wall = \"4 mm\" }").pieces[0].bending_N_m2);
  const char* const is =
      "section = { shape = \"hollow rectangle\", depth = \"80 mm\", width = \"40 mm\", wall = \"4 mm\", "
      "corner = \"8 mm\" }";
  for (const char* none :
       {"section = \"RHS 80x40\"", "section = \"RHS 80x40x25\"", "section = \"SHS 80x40x4\"",
        "section = \"IPE 80\"", "section = 80", "section = \"RHS 80x40x4 oak\""}) {
    const std::string all = complaints_of({{is, none}});
    EXPECT_NE(all.find("shelf.toml:20: member[1].section: found "), std::string::npos) << all;
    EXPECT_NE(all.find("RHS 180x80x6"), std::string::npos) << all;
  }
}

// Source: the printed tables of EN 10365 (data/reference/channels_upe.csv): second moment to three printed figures, mass of steel.
TEST(Designation, OfAChannelGivesTheSectionOfTheStandard) {
  int rows = 0;
  for (const auto& row : test::read_reference_csv("channels_upe.csv")) {
    SCOPED_TRACE(row.at("designation"));
    const auto section = parse_designation(row.at("designation") + " EN 10365");
    ASSERT_TRUE(section);
    EXPECT_EQ(section->shape, Designation::Shape::channel);
    const auto found = beam::channel(section->depth_m, section->width_m, section->wall_m, section->flange_m,
                                     section->root_m);
    ASSERT_TRUE(found.ok());
    EXPECT_NEAR(found.value().second_moment_vertical_m4 * 1e8, std::stod(row.at("Ix_cm4")),
                0.005 * std::stod(row.at("Ix_cm4")));
    EXPECT_NEAR(found.value().area_m2 * 7850, std::stod(row.at("mass_kg_m")), 0.055);
    ++rows;
  }
  EXPECT_EQ(rows, 14);
  EXPECT_FALSE(parse_designation("UPE 190"));
  EXPECT_FALSE(parse_designation("UPE"));
  EXPECT_FALSE(parse_designation("UPE 180 EN 10219"));
  // What the sheet says itself stands before it.
  const auto thinner = parse_run_sheet(replaced(kExample,
                                                "shape = \"hollow rectangle\", depth = \"80 mm\", width = "
                                                "\"40 mm\", wall = \"4 mm\", corner = \"8 mm\"",
                                                "shape = \"UPE 80\", web = \"3 mm\", upright = \"right\""),
                                       "shelf.toml");
  ASSERT_TRUE(thinner.sheet) << text(thinner.complaints);
  EXPECT_NEAR(thinner.sheet->pieces[0].bending_N_m2,
              210e9 * beam::channel(0.08, 0.05, 0.003, 0.007, 0.01).value().second_moment_vertical_m4, 1e-6);
  EXPECT_LT(thinner.sheet->shear_centre_m, 0);
}

const char* const kSteel = "E = \"210 GPa\"\nG = \"81 GPa\"\ndensity = \"7850 kg/m3\"";

// Source: EN 338:2016 Table 1 (C24: E 11 GPa, G 0.69 GPa, 420 kg/m3 in the mean); EN 1995-1-1:2004 Table 3.2 (solid timber: 0.60, 0.80,
// 2.00); EN 14080:2013 (GL24h: E 11.5 GPa, G 0.65 GPa; from memory).
TEST(TimberGrade, GivesStiffnessWeightAndCreepAndCanBeOverruled) {
  const auto sheet_of = [](const std::string& material) {
    const auto read = parse_run_sheet(replaced(kExample, kSteel, material), "shelf.toml");
    EXPECT_TRUE(read.sheet) << text(read.complaints);
    return read.sheet.value_or(RunSheet{});
  };
  const RunSheet steel = *parse_run_sheet(kExample, "shelf.toml").sheet;
  const RunSheet C24 = sheet_of("grade = \"C24\"\nservice_class = 1");
  EXPECT_NEAR(C24.pieces[0].bending_N_m2, steel.pieces[0].bending_N_m2 * 11 / 210, 1e-6);
  EXPECT_NEAR(C24.pieces[0].torsion_N_m2, steel.pieces[0].torsion_N_m2 * 0.69 / 81, 1e-6);
  EXPECT_NEAR(C24.loads[0].weight_N, steel.loads[0].weight_N * 420 / 7850, 1e-9);
  EXPECT_NEAR(C24.pieces[0].bending_creep, 0.60, 1e-12);
  EXPECT_NEAR(sheet_of("grade = \"C24\"\nservice_class = 3").pieces[0].bending_creep, 2.00, 1e-12);
  EXPECT_NEAR(sheet_of("grade = \"C24\"\nk_def = 0.7").pieces[0].bending_creep, 0.70, 1e-12);
  const RunSheet stiffer =
      sheet_of("grade = \"C24\"\nservice_class = 1\nE = \"12.1 GPa\"\ndensity = \"450 kg/m3\"");
  EXPECT_NEAR(stiffer.pieces[0].bending_N_m2, steel.pieces[0].bending_N_m2 * 12.1 / 210, 1e-6);
  EXPECT_NEAR(stiffer.loads[0].weight_N, steel.loads[0].weight_N * 450 / 7850, 1e-9);
  // EN 338:2016, D30: E 11 GPa, G 0.69 GPa, 640 kg/m3 in the mean (from memory).
  const RunSheet D30 = sheet_of("grade = \"D30\"\nservice_class = 1");
  EXPECT_NEAR(D30.pieces[0].bending_N_m2, C24.pieces[0].bending_N_m2, 1e-6);
  EXPECT_NEAR(D30.loads[0].weight_N, steel.loads[0].weight_N * 640 / 7850, 1e-9);
  EXPECT_NEAR(D30.pieces[0].bending_creep, 0.60, 1e-12);
  EXPECT_NEAR(sheet_of("grade = \"GL24h\"\nservice_class = 2").pieces[0].bending_N_m2,
              steel.pieces[0].bending_N_m2 * 11.5 / 210, 1e-6);
}

TEST(TimberGrade, ThatIsNoneOrSaysNothingOfItsServiceIsComplainedOf) {
  for (const auto& [material, key, says] :
       {std::tuple{"grade = \"C25\"\nservice_class = 1", "material.steel.grade", "did you mean"},
        {"grade = \"oak\"", "material.steel.grade", "EN 338"},
        {"grade = \"C24\"", "material.steel.service_class", "1 (heated indoors)"},
        {"grade = \"C24\"\nservice_class = 4", "material.steel.service_class", "from 1 to 3"},
        {"grade = \"C24\"\nservice_class = 1\nk_def = 0.6", "material.steel.service_class", "beside k_def"},
        {"grade = \"C24\"\nservice_class = 1\nE = \"0.5 GPa\"", "material.steel.G", "below E"},
        {"service_class = 1\nE = \"11 GPa\"\nG = \"0.69 GPa\"\ndensity = \"420 kg/m3\"",
         "material.steel.service_class", "no such key"}}) {
    const auto read = parse_run_sheet(replaced(kExample, kSteel, material), "shelf.toml");
    ASSERT_EQ(read.complaints.size(), 1u) << material << '\n' << text(read.complaints);
    EXPECT_EQ(read.complaints[0].key, key);
    EXPECT_NE(read.complaints[0].text().find(says), std::string::npos) << read.complaints[0].text();
  }
}

TEST(RunSheet, CutOffAnywhereNeverBreaksTheReader) {
  for (std::size_t kept = 0; kept < kExample.size(); kept += 7) {
    const auto read = parse_run_sheet(kExample.substr(0, kept), "cut.toml");
    EXPECT_NE(read.sheet.has_value(), !read.complaints.empty()) << "kept " << kept;
  }
}

TEST(RunSheet, BothSystemsOfUnitsGiveTheSameRun) {
  const auto metric = parse_run_sheet(kExample, "m.toml");
  const auto imperial = parse_run_sheet(
      replaced(kExample, "length = \"4200 mm\"", "length = \"165.35433070866142 in\""), "i.toml");
  ASSERT_TRUE(metric.sheet && imperial.sheet) << text(imperial.complaints);
  EXPECT_NEAR(imperial.sheet->length_m, metric.sheet->length_m, 1e-12);
}

std::string with_marks(const std::string& marks) {
  return replaced(kExample, "[stock.van]", marks + "[stock.van]");
}

TEST(RunSheet, MarksStandOffTheRunToo) {
  const auto read = parse_run_sheet(
      with_marks(
          "[[mark]]\nname = \"door frame\"\nat = \"-450 mm\"\n[[mark]]\nname = \"column\"\nat = \"15 ft\"\n"),
      "shelf.toml");
  ASSERT_TRUE(read.sheet) << text(read.complaints);
  ASSERT_EQ(read.sheet->marks.size(), 2u);
  EXPECT_EQ(read.sheet->marks[0].name, "door frame");
  EXPECT_EQ(read.sheet->marks[0].at_m, -0.45);
  EXPECT_NEAR(read.sheet->marks[1].at_m, 4.572, 1e-12);
  EXPECT_EQ(read.sheet->mark("column"), 1);
  EXPECT_EQ(read.sheet->mark("Column"), -1);
}

TEST(RunSheet, SaysWhatIsWrongWithAMark) {
  const auto mark = [](const std::string& name, const std::string& at) {
    return "[[mark]]\nname = \"" + name + "\"\nat = \"" + at + "\"\n";
  };
  std::string many;
  for (int i = 0; i <= kMaxMarks; ++i) many += mark("mark " + std::to_string(i), "0 mm");
  // The first line of marks is 57; the key's name; what the complaint says.
  for (const auto& [marks, line, key, says] :
       {std::tuple{mark("column", "0 mm") + mark("Column", "1 m"), 61, "mark[2].name", "a second time"},
        {mark("1200 mm", "0 mm"), 58, "mark[1].name", "reads as a length"},
        {mark("3 ft 4 in", "0 mm"), 58, "mark[1].name", "reads as a length"},
        {mark("4", "0 mm"), 58, "mark[1].name", "reads as a station's number"},
        {mark("99999999999", "0 mm"), 58, "mark[1].name", "reads as a station's number"},
        {mark("door  frame", "0 mm"), 58, "mark[1].name", "single spaces"},
        {mark("column", "500 m"), 59, "mark[1].at", "beyond either end"},
        {mark("column", "high up"), 59, "mark[1].at", "high up"},
        {std::string("[[mark]]\nname = \"column\"\n"), 57, "mark[1].at", "no such key"},
        {std::string("[[mark]]\nat = \"0 mm\"\n"), 57, "mark[1].name", "no such key"},
        {many, 0, "mark", "9 marks"}}) {
    const auto read = parse_run_sheet(with_marks(marks), "shelf.toml");
    ASSERT_EQ(read.complaints.size(), 1u) << marks << text(read.complaints);
    const Complaint& complaint = read.complaints[0];
    EXPECT_EQ(complaint.key, key);
    if (line > 0) {
      EXPECT_EQ(complaint.line, line) << complaint.text();
    }
    EXPECT_NE(complaint.text().find(says), std::string::npos) << complaint.text();
  }
}

TEST(RunSheet, DemoRunsAreWhole) {
  for (const char* name : {"/runs/reading-room-bridge-shelf.toml", "/runs/bottle-canopy.toml"}) {
    const auto read = read_run_sheet(std::string(HANGTRUE_DATA_DIR) + name);
    EXPECT_TRUE(read.sheet) << text(read.complaints);
  }
}

// Source: EN 1995-1-1:2004 Table 3.2 as in data/reference/kdef.csv.
TEST(CreepTable, HoldsEveryRowOfThePublishedTable) {
  std::ifstream file(std::string(HANGTRUE_DATA_DIR) + "/reference/kdef.csv");
  ASSERT_TRUE(file);
  std::string line;
  std::size_t rows = 0;
  while (std::getline(file, line)) {
    if (line.empty() || line[0] == '#' || line.rfind("material,", 0) == 0) continue;
    std::vector<std::string> fields(1);
    bool quoted = false;
    for (const char letter : line) {
      if (letter == '"')
        quoted = !quoted;
      else if (letter == ',' && !quoted)
        fields.emplace_back();
      else
        fields.back() += letter;
    }
    ASSERT_GE(fields.size(), 6u) << line;
    const CreepRow* const row = find_creep(fields[0], fields[2]);
    ASSERT_NE(row, nullptr) << line;
    for (std::size_t c = 0; c < 3; ++c)
      EXPECT_EQ(row->by_class[c], fields[3 + c].empty() ? 0.0 : std::stod(fields[3 + c])) << line;
    ++rows;
  }
  EXPECT_EQ(rows, creep_table().size());
}

}  // namespace
}  // namespace hangtrue::sheet

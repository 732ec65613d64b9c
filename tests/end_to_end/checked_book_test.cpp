// The shipped command on a book with checks of its instruments: the priors of a survey come from the checks made before it,
// and a check made later changes no answer of an old survey. Invented readings without noise.
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>

#include <nlohmann/json.hpp>

#include "firmware-host/book/book.hpp"
#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/solved_run.hpp"

namespace hangtrue {
namespace {

using Json = nlohmann::json;

class CheckedBook : public ::testing::Test {
 protected:
  CheckedBook()
      : directory_(std::filesystem::temp_directory_path() /
                   ("hangtrue-checked-" + std::to_string(::getpid()))),
        run_path_(std::string(HANGTRUE_DATA_DIR) + "/runs/reading-room-bridge-shelf.toml"),
        kit_path_(std::string(HANGTRUE_DATA_DIR) + "/kits/reading-room.toml") {
    std::filesystem::create_directories(directory_);
  }
  ~CheckedBook() override { std::filesystem::remove_all(directory_); }

  static std::string text_of(const std::string& path) {
    std::ifstream file(path);
    return {std::istreambuf_iterator<char>(file), {}};
  }
  static book::Time at(const std::string& time) { return *job::time_of(time); }

  static book::Entry zero_check(const std::string& time, const char* channel, double zero) {
    book::ZeroCheck check;
    check.instrument = "walking inclinometer";
    check.channel = channel;
    check.face_1 = check.face_2 = {zero, zero, zero};
    check.zero = zero;
    check.sigma = 1e-5;
    check.temperature_C = 12;
    return {check, std::nullopt, at(time)};
  }

  // Two surveys of one face, which alone cannot tell tilt from zero error; a check before the first, another between.
  std::string make_book() const {
    const std::string path = (directory_ / "site.levelbook").string();
    auto opened = book::Book::open(path);
    EXPECT_TRUE(opened.ok());
    book::Book& book = opened.value();
    const book::Number run = book.append({book::RunText{"run.toml", text_of(run_path_)}}).value();
    const book::Number kit = book.append({book::KitText{"kit.toml", text_of(kit_path_)}}).value();
    EXPECT_TRUE(book.append(zero_check("2026-10-01T08:00:00Z", "slope", 2e-4)).ok());
    const auto survey = [&](const std::string& id, const std::string& date) {
      const sheet::RunSheet sheet = *sheet::read_run_sheet(run_path_).sheet;
      const book::Number begun = book.append({book::SurveyBegun{id, sheet.stages[0], run, kit}, std::nullopt,
                                              at(date + "T09:00:00Z")})
                                     .value();
      const job::SolvedRun solved(sheet);
      for (const double x : sheet.stations_m) {
        book::Taken taken;
        taken.reading.time = date + "T09:30:00Z";
        taken.reading.instrument = "walking inclinometer";
        taken.reading.at_m = x;
        taken.reading.value = solved.solver().at(0, x).slope_rad + 2e-4;
        taken.reading.sigma = 2e-5;
        taken.reading.base_m = 0;
        taken.samples = 20;
        taken.temperature_C = 25;
        EXPECT_TRUE(book.append({taken, begun, at(date + "T09:30:00Z")}).ok());
      }
      EXPECT_TRUE(book.append({book::SurveyClosed{}, begun, at(date + "T10:00:00Z")}).ok());
    };
    survey("1", "2026-10-02");
    EXPECT_TRUE(book.append(zero_check("2026-10-20T08:00:00Z", "slope", 2.2e-4)).ok());
    survey("2", "2026-10-21");
    return path;
  }

  Json fit(const std::string& options) const {
    const std::string command = std::string(HANGTRUE_COMMAND) + " fit '" + run_path_ + "' --json " + options;
    std::string output;
    FILE* const pipe = ::popen(command.c_str(), "r");
    char chunk[4096];
    while (const std::size_t count = std::fread(chunk, 1, sizeof chunk, pipe)) output.append(chunk, count);
    EXPECT_EQ(::pclose(pipe), 0) << command;
    return Json::parse(output);
  }
  static Json zero_of(const Json& fit) {
    for (const Json& parameter : fit.at("parameters"))
      if (parameter.at("name") == "walking inclinometer slope: zero") return parameter;
    ADD_FAILURE() << "no zero of the slope";
    return {};
  }
  static std::string warnings(const Json& fit) { return fit.at("warnings").dump(); }

  std::filesystem::path directory_;
  std::string run_path_, kit_path_;
};

TEST_F(CheckedBook, GivesItsChecksToTheFitAsPriorsAndKeepsOldAnswers) {
  const std::string book = make_book();
  const double sigma =
      std::hypot(1e-5, 2e-5);  // of the check, and how the zero keeps: as the channel's sigma
  const Json first = fit("--book '" + book + "' --survey 1");
  EXPECT_NEAR(zero_of(first).at("prior_value").get<double>(), 2e-4, 1e-12);
  EXPECT_NEAR(zero_of(first).at("prior_sigma").get<double>(), sigma, 1e-12);
  EXPECT_NE(warnings(first).find("read at 25 C, but its zero check of slope was made at 12 C"),
            std::string::npos)
      << warnings(first);
  EXPECT_NE(warnings(first).find("no zero check of roll"), std::string::npos) << warnings(first);
  EXPECT_EQ(warnings(first).find("laser"), std::string::npos) << "not used in this survey";

  const Json second = fit("--book '" + book + "' --survey 2");
  EXPECT_NEAR(zero_of(second).at("prior_value").get<double>(), 2.2e-4, 1e-12);
}

TEST_F(CheckedBook, ReadingsWithoutABookKnowNoChecks) {
  const std::string csv = (directory_ / "readings.csv").string();
  std::ofstream(csv) << "time,set_up,instrument,channel,at,face,edge,value,unit,sigma\n"
                        ",,walking inclinometer,slope,600 mm,1,middle,1.2,mm/m,\n";
  const Json json = fit("--readings '" + csv + "' --stage '" +
                        sheet::read_run_sheet(run_path_).sheet->stages[0] + "' --kit '" + kit_path_ + "'");
  EXPECT_NEAR(zero_of(json).at("prior_value").get<double>(), 0, 1e-15);
  EXPECT_NEAR(zero_of(json).at("prior_sigma").get<double>(), 3e-4, 1e-15);
  EXPECT_TRUE(json.at("warnings").empty());
}

}  // namespace
}  // namespace hangtrue

// How the run is so long after it is finished: against closed forms.
#include "firmware-host/job/predicted_later.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace hangtrue::job {
namespace {

constexpr double kStiffness_N_m2 = 20e3, kSpan_m = 4, kLoad_N_per_m = 100, kYear_days = 365.25;

// A uniform bar of C24 on two rigid supports, under a load of which that share lasts.
sheet::RunSheet creeping_bar(const std::string& material, const std::string& permanent) {
  const std::string text =
      "title = \"bar\"\nlength = \"4 m\"\nwidth = \"400 mm\"\nstations = { every = \"500 mm\" }\n"
      "[tolerance]\nlevel = \"20 mm\"\n[material.bar]\n" +
      material +
      "\n[[member]]\nname = \"bar\"\nfrom = \"0 m\"\nto = \"4 m\"\nmaterial = \"bar\"\n"
      "section = { shape = \"given\", EI = \"20 kN m2\", GJ = \"5 kN m2\", GA = \"1e12 N\" }\n"
      "[[load]]\nname = \"load\"\nfrom = \"0 m\"\nto = \"4 m\"\nweight_per_length = \"100 N/m\"\npermanent "
      "= " +
      permanent +
      "\n[[support]]\nname = \"near\"\nat = \"0 m\"\nrise = \"rigid\"\npitch = \"free\"\nroll = \"rigid\"\n"
      "[[support]]\nname = \"far\"\nat = \"4 m\"\nrise = \"rigid\"\npitch = \"free\"\nroll = \"rigid\"\n"
      "[[stage]]\nname = \"hung\"\nsupports = [\"near\", \"far\"]\nloads = [\"load\"]\n";
  const auto read = sheet::parse_run_sheet(text, "bar.toml");
  EXPECT_TRUE(read.sheet) << sheet::text(read.complaints);
  return read.sheet.value();
}

PredictedLater later_of(const sheet::RunSheet& run, double days) {
  SolvedRun solved(run);
  EXPECT_FALSE(solved.trouble());
  return predicted_later(run, solved.solver(), days);
}

const double kSag_m = 5 * kLoad_N_per_m * std::pow(kSpan_m, 4) / (384 * kStiffness_N_m2);  // 16.67 mm
const std::string kC24 = "grade = \"C24\"\nservice_class = 1",
                  kSteel = "E = \"210 GPa\"\nG = \"81 GPa\"\ndensity = \"7850 kg/m3\"";

// EN 1995-1-1, 2.2.3: the final deformation is (1 + k_def) times the first one, the lasting share of a load creeping alike; k_def of
// solid timber in service class 1 is 0.60 (Table 3.2; data/reference/kdef.csv). Fifty years are taken for the end.
TEST(PredictedLater, EndsWhereTheCodeSays) {
  const PredictedLater later = later_of(creeping_bar(kC24, "1"), 50 * kYear_days);
  EXPECT_EQ(later.cause, DriftCause::wood_based_parts);
  EXPECT_NEAR(later.creep_share, 1, 1e-12);
  EXPECT_NEAR(later.level_error_m, 1.6 * kSag_m, 1e-8);
  EXPECT_NEAR(later.height_m[4], -1.6 * kSag_m, 1e-8);
  EXPECT_NEAR(later.moved_m[4], -0.6 * kSag_m, 1e-8);
  EXPECT_EQ(later.within, false) << "26.7 mm of 20";
  // Three tenths of what creeps: common practice, no source.
  EXPECT_NEAR(later.sigma_m[4], 0.3 * 0.6 * kSag_m, 1e-8);
  EXPECT_NEAR(later.level_error_sigma_m, 0.3 * 0.6 * kSag_m, 1e-8);
  EXPECT_NEAR(later_of(creeping_bar(kC24, "0.5"), 50 * kYear_days).level_error_m, 1.3 * kSag_m, 1e-8);
}

// (1/50) to the power of 0.2 is 0.4573 (core/change/drift_course.hpp).
TEST(PredictedLater, HasLessThanHalfOfItAfterAYear) {
  const PredictedLater later = later_of(creeping_bar(kC24, "1"), kYear_days);
  EXPECT_NEAR(later.creep_share, 0.45731, 1e-5);
  EXPECT_NEAR(later.level_error_m, (1 + 0.6 * later.creep_share) * kSag_m, 1e-8);
}

TEST(PredictedLater, IsTheSameWhereNothingCreeps) {
  const PredictedLater later = later_of(creeping_bar(kSteel, "1"), 50 * kYear_days);
  EXPECT_EQ(later.cause, DriftCause::nothing_creeps);
  EXPECT_NEAR(later.level_error_m, kSag_m, 1e-8);
  EXPECT_EQ(later.level_error_sigma_m, 0);
  EXPECT_EQ(later.within, true);
}

}  // namespace
}  // namespace hangtrue::job

// What a plan says that a recheck would find is what the recheck of such surveys says itself.
#include <gtest/gtest.h>

#include <cmath>

#include "firmware-host/job/plan.hpp"
#include "firmware-host/job/recheck.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/recheck.hpp"
#include "tests/firmware-host/book/scratch.hpp"
#include "tests/firmware-host/sheet/example.hpp"

namespace hangtrue::job {
namespace {

using namespace std::chrono_literals;

// Invented.
constexpr const char* kKit = R"([[instrument]]
name = "level"
port = "/dev/ttyS0"
speaks = "xdr"
channel = [ { transducer = "PITCH", gives = "slope", base = "250 mm", sigma = "0.02 mm/m", zero_sigma = "0.3 mm/m" },
            { transducer = "ROLL", gives = "roll", sigma = "0.02 mm/m", zero_sigma = "0.3 mm/m" } ]
[[instrument]]
name = "laser"
port = "/dev/ttyS1"
speaks = "xdr"
channel = [ { transducer = "DIST", gives = "distance", sigma = "0.1 mm" } ]
)";

class TwoSurveys : public ::testing::Test {
 protected:
  // Both surveys take the planned readings, just as predicted.
  void take(const std::string& sheet_text) {
    run_ = *sheet::parse_run_sheet(sheet_text, "shelf.toml").sheet;
    const sheet::KitSheet kit = *sheet::parse_kit_sheet(kKit, "kit.toml", run_).sheet;
    const int stage = planned_stage(run_, PlanFor::recheck);
    const auto made = make_plan(run_, kit, {PlanFor::recheck, stage, 0.0005, kLeastRedundancy});
    ASSERT_TRUE(made.ok());
    plan_ = made.value();
    book::Book book = book::Book::open(scratch_ / "site.levelbook").value();
    book::Time now = std::chrono::sys_days(std::chrono::year(2027) / 3 / 1);
    const book::Number run_entry = book.append(book::Entry{book::RunText{"shelf.toml", sheet_text}}).value();
    const book::Number kit_entry = book.append(book::Entry{book::KitText{"kit.toml", kKit}}).value();
    for (const char* const id : {"1", "2"}) {
      const book::Number begun =
          book.append(
                  book::Entry{book::SurveyBegun{id, run_.stages[std::size_t(stage)], run_entry, kit_entry},
                              std::nullopt, now})
              .value();
      std::vector<book::Entry> entries;
      for (sheet::ReadingEntry& reading : planned_readings(run_, kit, plan_)) {
        reading.time = book::rfc3339(now);
        entries.push_back({book::Taken{reading, 10, 0, std::nullopt}, begun, now});
      }
      entries.push_back({book::SurveyClosed{}, begun, now});
      ASSERT_TRUE(book.append(entries).ok());
      now += 24h;
    }
    auto compared = recheck(book, run_, "1", "2");
    ASSERT_TRUE(compared.ok()) << say::complaint(run_, compared.fault()).text();
    recheck_ = std::move(compared).value();
  }
  void agree() const {
    EXPECT_EQ(recheck_.answer, RecheckAnswer::nothing_moved) << say::reason(run_, recheck_);
    for (const SmallestMovement& planned : plan_.movements) {
      const std::string name = say::change_name(planned.movement);
      const auto seen = std::find_if(recheck_.seen.begin(), recheck_.seen.end(),
                                     [&](const ChangeSeen& each) { return each.id == planned.movement; });
      ASSERT_NE(seen, recheck_.seen.end()) << name;
      EXPECT_EQ(seen->can_be_seen, std::isfinite(planned.smallest)) << name;
      if (seen->can_be_seen) {
        EXPECT_NEAR(planned.smallest / seen->smallest_detectable, 1, 0.02) << name;
      }
    }
  }

  book::Scratch scratch_;
  sheet::RunSheet run_;
  Plan plan_;
  Recheck recheck_;
};

TEST_F(TwoSurveys, FindWhatWasPlanned) {
  take(sheet::kExample);
  agree();
  EXPECT_FALSE(recheck_.heights_compared);
}

TEST_F(TwoSurveys, FindWhatWasPlannedWithAMark) {
  take(sheet::kExample + "[[mark]]\nname = \"lintel\"\nat = \"-200 mm\"\n");
  agree();
  EXPECT_TRUE(recheck_.heights_compared);
}

}  // namespace
}  // namespace hangtrue::job

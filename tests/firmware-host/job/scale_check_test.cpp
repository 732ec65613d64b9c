// Which channels nobody has checked for scale, unit and sign, and why.
#include "firmware-host/job/scale_check.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <functional>

#include "tests/firmware-host/job/kit.hpp"

namespace hangtrue::job {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

const ChannelId kSlope{"level", Channel::slope}, kRoll{"level", Channel::roll},
    kDistance{"laser", Channel::distance};

sheet::ReadingEntry reading(const ChannelId& of, const std::string& time = "2026-10-01T08:00:00Z") {
  sheet::ReadingEntry entry;
  entry.time = time;
  entry.instrument = of.instrument;
  entry.channel = of.channel;
  return entry;
}
const std::vector<sheet::ReadingEntry> kAll{reading(kSlope), reading(kDistance), reading(kRoll),
                                            reading(kSlope)};

/// The kit, with its slope channel as told.
sheet::KitSheet kit_with(const std::function<void(sheet::KitInstrument&, sheet::KitChannel&)>& change) {
  sheet::KitSheet changed = kit();
  change(changed.instruments[0], changed.instruments[0].channels[0]);
  return changed;
}
sheet::KitSheet kit_checked(const std::string& day) {
  return kit_with([&](auto&, sheet::KitChannel& slope) { slope.scale_checked = day; });
}

Checks booked(const std::string& time, bool sound = true, const ChannelId& channel = kSlope) {
  Checks checks;
  checks.scales.push_back(
      {channel, lines_hash(*kit().find(channel.instrument, channel.channel)), sound, at(time)});
  return checks;
}

/// Why nothing vouches for the slope channel; nothing where something does.
std::optional<ScaleGap> gap(const sheet::KitSheet& kit, const Checks& checks,
                            const std::string& time = "2026-10-01T08:00:00Z") {
  const std::vector<sheet::ReadingEntry> readings{reading(kSlope, time)};
  const auto found = unchecked_scales(&kit, checks, readings);
  if (found.empty()) return std::nullopt;
  EXPECT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].channel, kSlope);
  return found[0].why;
}

TEST(ScaleCheck, IsLackingOfEveryChannelThatIsReadUnlessSomebodyMadeIt) {
  EXPECT_THAT(channels_without_scale_check(&kit(), {}, kAll), ElementsAre(kSlope, kDistance, kRoll));
  EXPECT_THAT(channels_without_scale_check(&kit(), {}, {}), IsEmpty()) << "nothing is read";
  const sheet::KitSheet by_hand = kit_checked("2026-09-20");
  EXPECT_THAT(channels_without_scale_check(&by_hand, {}, kAll), ElementsAre(kDistance, kRoll));
  EXPECT_THAT(channels_without_scale_check(&kit(), booked("2026-09-20T08:00:00Z"), kAll),
              ElementsAre(kDistance, kRoll));
  EXPECT_THAT(channels_without_scale_check(&by_hand, booked("2026-09-20T08:00:00Z", true, kDistance), kAll),
              ElementsAre(kRoll));
}

TEST(ScaleCheck, IsLackingWithoutAKitSheetAndOfAnInstrumentThatTheKitDoesNotHave) {
  EXPECT_THAT(channels_without_scale_check(nullptr, booked("2026-09-20T08:00:00Z"), kAll),
              ElementsAre(kSlope, kDistance, kRoll));
  const std::vector<sheet::ReadingEntry> other{reading({"borrowed", Channel::slope}),
                                               reading({"laser", Channel::slope})};
  EXPECT_THAT(unchecked_scales(&kit(), {}, other),
              ElementsAre(UncheckedScale{{"borrowed", Channel::slope}, ScaleGap::no_kit_sheet},
                          UncheckedScale{{"laser", Channel::slope}, ScaleGap::no_kit_sheet}));
}

// The kit's calibration falls due on 2027-09-14.
TEST(ScaleCheck, CountsUntilTheCalibrationFallsDue) {
  for (const auto& [kit, checks] : {std::pair{kit_checked("2026-09-20"), Checks{}},
                                    std::pair{job::kit(), booked("2026-09-20T08:00:00Z")}}) {
    EXPECT_EQ(gap(kit, checks, "2027-09-14T23:59:59Z"), std::nullopt);
    EXPECT_EQ(gap(kit, checks, "2027-09-15T00:00:00Z"), ScaleGap::calibration_past_due);
    EXPECT_EQ(gap(kit, checks, ""), std::nullopt) << "a reading without a time: the date alone counts";
    // The last reading of the survey decides, whichever instrument it is of, and in whatever order they stand.
    const std::vector<sheet::ReadingEntry> over_a_year{reading(kDistance, "2027-09-15T08:00:00Z"),
                                                       reading(kSlope, "2026-10-01T08:00:00Z"),
                                                       reading(kSlope, "")};
    EXPECT_THAT(unchecked_scales(&kit, checks, over_a_year),
                ElementsAre(UncheckedScale{kDistance, ScaleGap::never_checked},
                            UncheckedScale{kSlope, ScaleGap::calibration_past_due}));
    sheet::KitSheet never_due = kit;
    never_due.instruments[0].calibration = std::nullopt;
    EXPECT_EQ(gap(never_due, checks, "2030-01-01T00:00:00Z"), std::nullopt);
  }
}

// Calibrated on 2026-09-14: what was checked before that was another state of the instrument.
TEST(ScaleCheck, EndsWithTheNextCalibration) {
  EXPECT_EQ(gap(kit_checked("2026-09-14"), {}), std::nullopt);
  EXPECT_EQ(gap(kit_checked("2026-09-13"), {}), ScaleGap::calibrated_since);
  EXPECT_EQ(gap(kit(), booked("2026-09-13T23:59:00Z")), ScaleGap::calibrated_since);
  EXPECT_EQ(gap(kit(), booked("2026-09-14T00:01:00Z")), std::nullopt);
  EXPECT_EQ(gap(kit_checked("2026-09-13"), booked("2026-09-15T08:00:00Z")), std::nullopt)
      << "the later of the two counts";
}

TEST(ScaleCheck, ThatFailedDoesNotCount) {
  EXPECT_EQ(gap(kit(), booked("2026-09-20T08:00:00Z", false)), ScaleGap::failed);
  // Nor does the kit sheet's word of that day or before; one that came later does.
  EXPECT_EQ(gap(kit_checked("2026-09-19"), booked("2026-09-20T08:00:00Z", false)), ScaleGap::failed);
  EXPECT_EQ(gap(kit_checked("2026-09-20"), booked("2026-09-20T08:00:00Z", false)), ScaleGap::failed);
  EXPECT_EQ(gap(kit_checked("2026-09-21"), booked("2026-09-20T08:00:00Z", false)), std::nullopt);
}

TEST(ScaleCheck, InTheBookEndsWhereTheChannelsLinesChange) {
  using Change = std::function<void(sheet::KitInstrument&, sheet::KitChannel&)>;
  const Checks checks = booked("2026-09-20T08:00:00Z"), failed = booked("2026-09-20T08:00:00Z", false);
  const std::vector<std::pair<const char*, Change>> changes{
      {"transducer", [](auto&, auto& it) { it.transducer = "P"; }},
      {"within", [](auto&, auto& it) { it.within = true; }},
      {"unit", [](auto&, auto& it) { it.unit = "deg"; }},
      {"sign", [](auto&, auto& it) { it.sign = -1; }},
      {"base", [](auto&, auto& it) { it.base_m = 0.2; }},
      {"range", [](auto&, auto& it) { it.range_from = -0.1; }},
      {"range", [](auto&, auto& it) { it.range_to = 0.1; }},
      {"sigma", [](auto&, auto& it) { it.sigma = 3e-5; }},
      {"zero_sigma", [](auto&, auto& it) { it.zero_sigma = 1e-3; }},
      {"zero_keeps", [](auto&, auto& it) { it.zero_keeps = 1e-3; }},
      {"settle", [](auto&, auto& it) { it.settle_window_s = 1; }},
      {"settle", [](auto&, auto& it) { it.settle_spread = 1e-3; }},
      {"station", [](auto&, auto& it) { it.station_m = 1.2; }},
      {"edge", [](auto&, auto& it) { it.edge = survey::Edge::left; }},
      {"register", [](auto&, auto& it) { it.modbus = sheet::Register{}; }}};
  for (const auto& [what, change] : changes) {
    const sheet::KitSheet changed = kit_with(change);
    EXPECT_EQ(gap(changed, checks), ScaleGap::lines_changed) << what;
    EXPECT_EQ(gap(changed, failed), ScaleGap::lines_changed) << what;
    // The kit sheet's own word stands for its lines as they are.
    sheet::KitSheet vouched = changed;
    vouched.instruments[0].channels[0].scale_checked = "2026-09-20";
    EXPECT_EQ(gap(vouched, failed), std::nullopt) << what << ": what failed were other lines";
  }
  for (const auto& [what, change] : std::vector<std::pair<const char*, Change>>{
           {"port", [](auto&it, auto&) { it.port = "/dev/ttyUSB7"; }},
           {"line of the file", [](auto&, auto&it) { it.line += 3; }},
           {"scale_checked", [](auto&, auto&it) { it.scale_checked = "2026-09-14"; }}})
    EXPECT_EQ(gap(kit_with(change), checks), std::nullopt) << what;
}

TEST(ScaleCheck, KnowsARegisterByAllThatItSays) {
  sheet::KitChannel channel = kit().instruments[0].channels[0];
  std::vector<std::string> hashes{lines_hash(channel)};
  channel.modbus = sheet::Register{};
  hashes.push_back(lines_hash(channel));
  const auto add = [&](auto change) {
    sheet::KitChannel other = channel;
    change(*other.modbus);
    hashes.push_back(lines_hash(other));
  };
  add([](sheet::Register& it) { it.holding = true; });
  add([](sheet::Register& it) { it.number = 1; });
  add([](sheet::Register& it) { it.type = sheet::RegisterType::float32; });
  add([](sheet::Register& it) { it.high_word_first = false; });
  add([](sheet::Register& it) { it.scale = 0.1; });
  for (std::size_t i = 0; i < hashes.size(); ++i)
    for (std::size_t j = 0; j < i; ++j) EXPECT_NE(hashes[i], hashes[j]) << i << ' ' << j;
}

}  // namespace
}  // namespace hangtrue::job

// A move under watch, by the shipped daemon: what is told while an instrument is silent.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "tests/firmware-host/daemon/bench.hpp"

namespace hangtrue::daemon {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

TEST(WatchedChange, KnowsNothingWhileAnInstrumentIsSilent) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  ASSERT_EQ(surveyed(*daemon, instrument).at("moves").size(), 1u);
  EXPECT_THAT(daemon->ask("begin moves"), StartsWith("result"));
  const auto watch_line = [&](const char* words) {
    std::string line;
    do line = daemon->await({"watch", "refused"});
    while (!line.empty() && line.find(words) == std::string::npos && !line.starts_with("refused"));
    return line;
  };
  std::string begun;
  do {  // until it has settled
    daemon->send("watch 1\n");
    begun = daemon->await({"watch", "refused"});
  } while (begun.find("wait until") != std::string::npos);
  EXPECT_THAT(begun, Not(StartsWith("refused")));
  EXPECT_THAT(watch_line("On the way"), HasSubstr("of it"));
  instrument.hush();
  EXPECT_THAT(watch_line("Nothing is known"), HasSubstr("silent"));
  instrument.hush(false);
  EXPECT_THAT(watch_line("speaks again"), HasSubstr("moved or knocked"));
  EXPECT_THAT(watch_line("On the way"), HasSubstr("of it"));
  instrument.hush();
  EXPECT_THAT(watch_line("Nothing is known"), HasSubstr("silent"));
  daemon->send("watch off\n");
  EXPECT_THAT(watch_line("left before its end"), HasSubstr("fell silent"));
}

}  // namespace
}  // namespace hangtrue::daemon

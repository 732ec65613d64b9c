#include "firmware-host/node/commands.hpp"

#include <gtest/gtest.h>

#include <string>

namespace hangtrue::node {
namespace {

TEST(NodeCommands, AreRead) {
  const struct {
    const char* line;
    Word word;
    std::uint32_t number;
  } kCases[] = {{"rate 10", Word::rate, 10},
                {" rate  50 ", Word::rate, 50},
                {"zero", Word::zero, 0},
                {"station 3", Word::station, 3},
                {"self test", Word::self_test, 0},
                {"log", Word::log, 0},
                {"taken 0", Word::taken, 0},
                {"run begin", Word::run_begin, 0},
                {"run end 1234", Word::run_end, 1234},
                {"run data 64 0aFF", Word::run_data, 64},
                {"card", Word::card, 0},
                {"forget", Word::forget, 0},
                {"who", Word::who, 0}};
  for (const auto& each : kCases) {
    const auto command = read_command(each.line);
    ASSERT_TRUE(command.ok()) << each.line;
    EXPECT_EQ(command.value().word, each.word) << each.line;
    EXPECT_EQ(command.value().number, each.number) << each.line;
  }
  EXPECT_EQ(read_command("run data 64 0aFF").value().data, "0aFF");
}

TEST(NodeCommands, RefusalsNameWhatWasFoundAndWhatWouldBeRight) {
  const struct {
    const char *line, *found, *wanted;
  } kCases[] = {{"rate 51", "51", "1 to 50"},     {"rate", "", "1 to 50"},
                {"rate 0", "0", "1 to 50"},       {"rate -1", "-1", "1 to 50"},
                {"rate 10 20", "20", "1 to 50"},  {"zero now", "now", "alone"},
                {"station 1.5", "1.5", "number"}, {"station 9999999999", "9999999999", "number"},
                {"dance", "dance", "rate N"},     {"", "", "rate N"},
                {"self", "self", "self test"},    {"run data x 00", "x", "offset"},
                {"run data 0 0", "0", "even"},    {"run data 0 0g", "0g", "hexadecimal"},
                {"run", "", "run begin"},         {"run end", "end", "run end LENGTH"}};
  for (const auto& each : kCases) {
    const auto command = read_command(each.line);
    ASSERT_FALSE(command.ok()) << each.line;
    EXPECT_EQ(command.fault().found, each.found) << each.line;
    EXPECT_NE(std::string(command.fault().wanted).find(each.wanted), std::string::npos) << each.line;
  }
}

}  // namespace
}  // namespace hangtrue::node

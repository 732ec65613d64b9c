// Health of a line: what it makes of simulated wrong speeds, parities and data bits, of other devices' text,
// of noise and floods, that good traffic with damaged lines is never suspected, and that every verdict ends
// when its cause does.
#include "firmware-host/serial/line_health.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>
#include <random>
#include <string>
#include <tuple>
#include <vector>

#include "firmware-host/wire/line_pattern.hpp"
#include "firmware-host/wire/line_reader.hpp"
#include "firmware-host/wire/xdr.hpp"
#include "tests/firmware-host/serial/uart.hpp"

namespace hangtrue::serial {
namespace {

using test::LineLevel;
using test::Resync;
using test::UartFrame;
using ::testing::AnyOf;
using ::testing::HasSubstr;
using Random = std::mt19937;

constexpr unsigned kSpeeds[] = {2400, 4800, 9600, 19200, 38400, 57600, 115200};
constexpr std::int64_t kSecond_us = 1'000'000;

/// Ways in which a device speaks.
enum class Says { sentences, named_lines, bare_numbers };
constexpr Says kAllSayings[] = {Says::sentences, Says::named_lines, Says::bare_numbers};

std::string with_checksum(const std::string& text) {
  char end[8];
  std::snprintf(end, sizeof end, "*%02X\r\n", unsigned{wire::checksum(text)});
  return '$' + text + end;
}

std::string line_of(Says says, Random& random) {
  const double value = std::uniform_real_distribution<>(-2, 2)(random);
  char text[90];
  switch (says) {
    case Says::sentences:
      std::snprintf(text, sizeof text, "IIXDR,A,%.3f,D,INCL,C,%.1f,C,TEMP", value, 20 + value);
      return with_checksum(text);
    case Says::named_lines:
      std::snprintf(text, sizeof text, "DIST %.3f m\r\n", value + 3);
      break;
    case Says::bare_numbers:
      std::snprintf(text, sizeof text, "%.3f\r\n", value);
      break;
  }
  return text;
}

/// A line's health beside the decoder that its kit sheet asks for.
class Judged {
 public:
  explicit Judged(Says says, unsigned baud = 9600, wire::Extent extent = wire::Extent::whole)
      : says_(says),
        pattern_(
            wire::LinePattern::compile(says == Says::named_lines ? "DIST {number} m" : "{number}", extent)
                .value()),
        health_("the line", baud, 10, LineHealth::Speech::text) {}

  bool hear(std::string_view chunk, std::int64_t now_us) {
    std::uint64_t understood = 0;
    if (says_ == Says::sentences) {
      xdr_.push(chunk, [](auto) {});
      understood = xdr_.bytes_used();
    } else {
      lines_.push(chunk, [&](std::string_view line) {
        return pattern_.match(line).fit == wire::LineMatch::Fit::once;
      });
      understood = lines_.counts().used;
    }
    return health_.bytes(chunk, understood, now_us);
  }
  /// In chunks of 16, evenly over the time. Calls check(bytes so far) after each.
  template <class Check>
  void hear_all(std::string_view bytes, double seconds, Check check) {
    constexpr std::size_t kChunk = 16;
    const double from_us = time_us_;
    for (std::size_t at = 0; at < bytes.size(); at += kChunk) {
      time_us_ = from_us + seconds * 1e6 * static_cast<double>(at) / static_cast<double>(bytes.size());
      hear(bytes.substr(at, kChunk), static_cast<std::int64_t>(time_us_));
      check(std::min(at + kChunk, bytes.size()));
    }
    time_us_ = from_us + seconds * 1e6;
  }
  void hear_all(std::string_view bytes, double seconds) {
    hear_all(bytes, seconds, [](std::size_t) {});
  }
  /// Good lines of its own, one each tenth of a second.
  void hear_good(int lines) {
    for (int i = 0; i < lines; ++i) hear_all(line_of(says_, random_), 0.1);
  }

  [[nodiscard]] LineVerdict verdict() const { return health_.verdict(); }
  [[nodiscard]] std::string sentence() const { return health_.sentence(); }

  Says says_;
  wire::XdrReader xdr_;
  wire::LineReader lines_;
  wire::LinePattern pattern_;
  LineHealth health_;
  double time_us_ = 0;
  Random random_{11};
};

/// What a device that speaks that way sends in about that time. Its bursts come with pauses between them, or without.
LineLevel sent(Says says, const UartFrame& frame, bool pauses, double seconds) {
  Random random(7);
  LineLevel level;
  level.idle(0.01);
  while (level.end_s() < seconds) {
    level.send(line_of(says, random), frame);
    if (pauses) level.idle(std::uniform_real_distribution<>(0.05, 0.15)(random));
  }
  return level;
}

class WrongSpeed : public ::testing::TestWithParam<std::tuple<unsigned, unsigned>> {};
INSTANTIATE_TEST_SUITE_P(EveryPair, WrongSpeed,
                         ::testing::Combine(::testing::ValuesIn(kSpeeds), ::testing::ValuesIn(kSpeeds)),
                         [](const auto& instance) {
                           return std::to_string(std::get<0>(instance.param)) + "_read_at_" +
                                  std::to_string(std::get<1>(instance.param));
                         });

TEST_P(WrongSpeed, IsRecognisedWithin256BytesAndKept) {
  const auto [sends_at, read_at] = GetParam();
  for (const Says says : kAllSayings)
    for (const bool pauses : {false, true})
      for (const Resync resync : {Resync::at_next_edge, Resync::with_the_low_bit})
        for (const bool damaged_is_nul : {false, true}) {
          SCOPED_TRACE(::testing::Message()
                       << "way " << static_cast<int>(says) << " pauses " << pauses << " resync "
                       << static_cast<int>(resync) << " nul " << damaged_is_nul);
          const LineLevel level = sent(says, {.baud = double(sends_at)}, pauses,
                                       pauses ? 60 : 6000.0 / std::min(sends_at, read_at));
          const std::string bytes = test::read_line(level, {.baud = double(read_at)}, resync, damaged_is_nul);
          ASSERT_GT(bytes.size(), 256u);
          Judged judged(says, read_at);
          judged.hear_all(bytes.substr(0, 5000), level.end_s(), [&](std::size_t heard) {
            if (sends_at == read_at) {
              ASSERT_THAT(judged.verdict(), AnyOf(LineVerdict::not_judged, LineVerdict::well)) << heard;
            } else if (heard >= 256) {
              ASSERT_THAT(judged.verdict(), AnyOf(LineVerdict::wrong_speed, LineVerdict::held_low)) << heard;
            }
          });
          if (sends_at == read_at) {
            EXPECT_EQ(judged.verdict(), LineVerdict::well);
          } else {
            EXPECT_THAT(judged.sentence(), HasSubstr("set baud"));
          }
        }
}

TEST(LineHealth, RecognisesAWrongSpeedBy32BytesOfASlowDevice) {
  const LineLevel level = sent(Says::bare_numbers, {.baud = 9600}, /*pauses=*/false, 0.2);
  const std::string bytes =
      test::read_line(level, {.baud = 4800}, Resync::at_next_edge, /*damaged_is_nul=*/true).substr(0, 32);
  ASSERT_EQ(bytes.size(), 32u);
  Judged judged(Says::bare_numbers, 4800);
  judged.hear(bytes.substr(0, 16), 0);
  judged.hear(bytes.substr(16, 15), 5 * kSecond_us);
  EXPECT_EQ(judged.verdict(), LineVerdict::not_judged);
  judged.hear(bytes.substr(31), 5 * kSecond_us);
  EXPECT_EQ(judged.verdict(), LineVerdict::wrong_speed);
}

// The right speed, but another parity or another number of data bits. Some ttys do not report a wrong stop bit and hand
// damaged bytes on as they are. There a parity bit too many does no harm, so only ttys that report it are simulated.
struct Setting {
  const char* name;
  UartFrame sends, reads;
  LineVerdict verdict;
};
class WrongSetting : public ::testing::TestWithParam<Setting> {};
INSTANTIATE_TEST_SUITE_P(
    Frames, WrongSetting,
    ::testing::Values(
        Setting{"even_for_none", {9600, 8, 'E'}, {9600, 8, 'N'}, LineVerdict::wrong_parity},
        Setting{"odd_for_none", {9600, 8, 'O'}, {9600, 8, 'N'}, LineVerdict::wrong_parity},
        Setting{"odd_for_even", {9600, 8, 'O'}, {9600, 8, 'E'}, LineVerdict::held_low},
        Setting{"none_for_even", {9600, 8, 'N'}, {9600, 8, 'E'}, LineVerdict::wrong_speed},
        Setting{"seven_even_for_eight", {9600, 7, 'E'}, {9600, 8, 'N'}, LineVerdict::seven_bits},
        Setting{"seven_odd_for_eight", {9600, 7, 'O'}, {9600, 8, 'N'}, LineVerdict::seven_bits},
        Setting{"seven_none_for_eight", {9600, 7, 'N'}, {9600, 8, 'N'}, LineVerdict::wrong_speed}),
    [](const auto& instance) { return std::string(instance.param.name); });

TEST_P(WrongSetting, IsNamedWithin256BytesWithParityInItsSentence) {
  for (const Says says : kAllSayings) {
    SCOPED_TRACE(static_cast<int>(says));
    const LineLevel level = sent(says, GetParam().sends, /*pauses=*/true, 60);
    const std::string bytes =
        test::read_line(level, GetParam().reads, Resync::at_next_edge, /*damaged_is_nul=*/true);
    ASSERT_GT(bytes.size(), 256u);
    Judged judged(says);
    judged.hear_all(bytes.substr(0, 256), 10);
    EXPECT_EQ(judged.verdict(), GetParam().verdict) << word(judged.verdict());
    EXPECT_THAT(judged.sentence(), HasSubstr("parity"));
  }
}

/// One of every hundred lines: bits flipped, cut, glued to the next, or noise of up to 20 bytes before it.
std::string damage(std::string line, Random& random) {
  const auto below = [&](std::size_t limit) {
    return std::uniform_int_distribution<std::size_t>(0, limit - 1)(random);
  };
  switch (below(4)) {
    case 0:
      for (std::size_t flips = 1 + below(4); flips > 0; --flips)
        line[below(line.size())] ^= static_cast<char>(1u << below(8));
      return line;
    case 1:
      return line.substr(0, below(line.size()));
    case 2:
      return line.substr(0, line.size() - 2);
    default:
      for (std::size_t noise = 1 + below(20); noise > 0; --noise)
        line.insert(line.begin(), static_cast<char>(below(256)));
      return line;
  }
}

TEST(LineHealth, NeverSuspectsGoodTrafficWithOneLineInAHundredDamaged) {
  for (const Says says : kAllSayings)
    for (const double line_s : {0.02, 0.1, 10.0}) {
      SCOPED_TRACE(::testing::Message()
                   << "way " << static_cast<int>(says) << ", a line in " << line_s << " s");
      Random random(3);
      Judged judged(says, /*baud=*/115200);
      judged.hear_good(2);
      for (int i = 0; i < 20'000; ++i) {
        std::string line = line_of(says, random);
        if (random() % 100 == 0) line = damage(line, random);
        judged.hear_all(line, line_s,
                        [&](std::size_t) { ASSERT_EQ(judged.verdict(), LineVerdict::well) << i; });
      }
    }
}

TEST(LineHealth, TakesTheDegreeSignForTextInBothItsForms) {
  for (const char* degree : {"\xB0", "\xC2\xB0"}) {
    Judged judged(Says::named_lines, /*baud=*/9600, wire::Extent::within);
    for (int i = 0; i < 300; ++i) judged.hear_all(std::string("DIST 1.250 m 20 ") + degree + "C\r\n", 0.1);
    EXPECT_EQ(judged.verdict(), LineVerdict::well);
  }
}

// Every verdict: what brings it about, and that two good lines end it. "Noisy" ends only when good lines outweigh the
// noise, "flood" after a second.
std::string garbage(std::size_t bytes) {
  Random random(5);
  std::string all;
  while (all.size() < bytes) all += static_cast<char>(random() % 256);
  return all;
}

struct Trouble {
  const char* name;
  LineVerdict verdict;
  void (*make)(Judged&);
  int good_lines;  // that end it, at most
  const char* says;
};
class Verdict : public ::testing::TestWithParam<Trouble> {};

void other_sentences(Judged& judged) {
  for (int i = 0; i < 6; ++i) judged.hear_all(with_checksum("GPHDT,123.4,T"), 1.1);
}
INSTANTIATE_TEST_SUITE_P(
    Each, Verdict,
    ::testing::Values(
        Trouble{"wrong_speed", LineVerdict::wrong_speed,
                [](Judged& judged) { judged.hear_all(garbage(3000), 3); }, 2, "set baud"},
        Trouble{"wrong_parity", LineVerdict::wrong_parity,
                [](Judged& judged) {
                  for (int i = 0; i < 20; ++i) judged.hear_all(std::string("$I\0XD\0,\0A,0\0\0\n", 15), 0.1);
                },
                2, "set parity"},
        Trouble{"seven_bits", LineVerdict::seven_bits,
                [](Judged& judged) {
                  LineLevel level = sent(Says::sentences, {9600, 7, 'E'}, true, 10);
                  judged.hear_all(
                      test::read_line(level, {9600, 8, 'N'}, Resync::at_next_edge, true).substr(0, 400), 1);
                },
                2, "7 data bits"},
        Trouble{"held_low", LineVerdict::held_low,
                [](Judged& judged) { judged.hear_all(std::string(256, '\0'), 1); }, 2, "wires"},
        Trouble{"other_speech", LineVerdict::other_speech, other_sentences, 1, "correct speaks, talker"},
        Trouble{"text_without_line_ends", LineVerdict::other_speech,
                [](Judged& judged) { judged.hear_all(std::string(300, 'x'), 6); }, 1, "kit sheet"},
        Trouble{"noisy", LineVerdict::noisy,
                [](Judged& judged) {
                  for (int i = 0; i < 60; ++i) {
                    judged.hear_good(2);
                    judged.hear_all("\x01\x02\x83\x04\r\n", 0.1);
                  }
                },
                400, "cable"},
        Trouble{"flood", LineVerdict::flood,
                [](Judged& judged) {
                  for (int i = 0; i < 500; ++i)
                    judged.hear_all(line_of(Says::sentences, judged.random_), 0.01);
                },
                25, "more than 9600 baud can carry"}),
    [](const auto& instance) { return std::string(instance.param.name); });

TEST_P(Verdict, IsReachedFromTheStartSaysWhatToDoAndEndsWithItsCause) {
  Judged judged(Says::sentences);
  GetParam().make(judged);
  ASSERT_EQ(judged.verdict(), GetParam().verdict) << word(judged.verdict());
  EXPECT_FALSE(judged.health_.is_well());
  EXPECT_THAT(judged.sentence(), HasSubstr(GetParam().says));
  EXPECT_THAT(judged.sentence(), HasSubstr("the line"));
  judged.hear_all("\r\n", 0.1);  // what is left of a line goes
  judged.hear_good(GetParam().good_lines);
  EXPECT_EQ(judged.verdict(), LineVerdict::well) << word(judged.verdict());
  EXPECT_TRUE(judged.health_.is_well());
}

TEST_P(Verdict, IsReachedAfterGoodTrafficToo) {
  Judged judged(Says::sentences);
  judged.hear_good(200);
  ASSERT_EQ(judged.verdict(), LineVerdict::well);
  for (int i = 0; i < 8 && judged.verdict() == LineVerdict::well; ++i) GetParam().make(judged);
  EXPECT_EQ(judged.verdict(), GetParam().verdict) << word(judged.verdict());
}

TEST_P(Verdict, IsForgottenWithTheStream) {
  Judged judged(Says::sentences);
  GetParam().make(judged);
  judged.health_.lost();
  EXPECT_EQ(judged.verdict(), LineVerdict::not_judged);
  judged.hear("$IIXDR", 1000 * kSecond_us);
  EXPECT_EQ(judged.verdict(), LineVerdict::not_judged);
}

TEST(LineHealth, TellsOfAChangeOnce) {
  Judged judged(Says::sentences);
  int told = 0;
  for (const char byte : garbage(1000)) told += judged.hear({&byte, 1}, 0);
  EXPECT_EQ(told, 1);
  told = 0;
  for (const char byte :
       "\r\n" + line_of(Says::sentences, judged.random_) + line_of(Says::sentences, judged.random_))
    told += judged.hear({&byte, 1}, kSecond_us);
  EXPECT_EQ(told, 1);
}

TEST(LineHealth, IsNotTalkedOutOfAWrongSpeedByOneLineThatPassesByChance) {
  Judged judged(Says::bare_numbers);
  judged.hear_all(garbage(256), 1);
  for (int i = 0; i < 10; ++i) {
    judged.hear_all("\r\n7\r\n" + garbage(40), 1,
                    [&](std::size_t) { ASSERT_EQ(judged.verdict(), LineVerdict::wrong_speed); });
  }
}

TEST(LineHealth, IsNotTalkedOutOfAWrongSpeedByTwoSuchLinesWithGarbageBetweenThemInOneChunk) {
  Judged judged(Says::bare_numbers);
  judged.hear_all(garbage(256), 1);
  for (int i = 0; i < 10; ++i) {
    judged.hear("\r\n7\r\n" + garbage(11), kSecond_us);
    judged.hear("\r\n7\r\n", kSecond_us);
    ASSERT_EQ(judged.verdict(), LineVerdict::wrong_speed);
  }
}

TEST(LineHealth, ForgetsAnHourOfGarbageWhenTextComesThatIsNotUnderstood) {
  Judged judged(Says::sentences);
  judged.hear_all(garbage(500'000), 3600);
  ASSERT_EQ(judged.verdict(), LineVerdict::wrong_speed);
  std::string text;
  while (text.size() < 20'000) text += with_checksum("GPHDT,123.4,T");
  judged.hear_all(text, 60);
  EXPECT_EQ(judged.verdict(), LineVerdict::other_speech);
}

TEST(LineHealth, CallsALineNoisyFrom2PercentAndNoLongerBelow1) {
  Judged judged(Says::bare_numbers);
  const auto lines_with_wrong_byte_in = [&](int every) {  // a line of 100 bytes, good but for one in so many
    for (int i = 0; i < 200; ++i) {
      const std::string good = "7\r\n" + std::string(94, '-') + "\r\n";
      judged.hear_all(i % every == 0 ? good.substr(0, 5) + std::string(3, '\x01') + good.substr(8) : good,
                      0.1);
    }
  };
  lines_with_wrong_byte_in(1);  // 3 %
  EXPECT_EQ(judged.verdict(), LineVerdict::noisy);
  lines_with_wrong_byte_in(2);  // 1.5 %
  EXPECT_EQ(judged.verdict(), LineVerdict::noisy) << "once it is, it stays above 1 %";
  lines_with_wrong_byte_in(4);  // 0.75 %
  EXPECT_EQ(judged.verdict(), LineVerdict::well);
  lines_with_wrong_byte_in(2);
  EXPECT_EQ(judged.verdict(), LineVerdict::well);
}

TEST(LineHealth, LeavesADeviceAloneWhoseSentencesAreFewAmongOthers) {
  Judged judged(Says::sentences);
  judged.hear_good(1);
  for (int i = 0; i < 20; ++i) {  // one every 28 s, 280 others between them
    for (int other = 0; other < 280; ++other)
      judged.hear_all(with_checksum("GPHDT,123.4,T"), 0.1,
                      [&](std::size_t) { ASSERT_EQ(judged.verdict(), LineVerdict::well); });
    judged.hear_good(1);
  }
}

TEST(LineHealth, OnAModbusLineTellsTextFromWhatMakesNoSense) {
  LineHealth text("the line", 9600, 11, LineHealth::Speech::modbus);
  for (int i = 0; i < 20; ++i) text.bytes("DIST 1.234 m\r\n", 0, 0);
  EXPECT_EQ(text.verdict(), LineVerdict::other_speech);
  EXPECT_THAT(text.sentence(), HasSubstr("no modbus line"));
  LineHealth wrong("the line", 9600, 11, LineHealth::Speech::modbus);
  wrong.bytes(garbage(256), 0, 0);
  EXPECT_EQ(wrong.verdict(), LineVerdict::wrong_speed);
  std::uint64_t understood = 0;
  for (int i = 0; i < 2; ++i) wrong.bytes(garbage(9), understood += 9, kSecond_us);
  EXPECT_EQ(wrong.verdict(), LineVerdict::well);
}

TEST(LineHealth, OnAModbusLineIsNoisyWhenATenthIsNotUnderstood) {
  LineHealth health("the line", 9600, 11, LineHealth::Speech::modbus);
  std::uint64_t understood = 0;
  const auto frames = [&](int count, int bad_of_a_hundred) {
    for (int i = 0; i < count; ++i) {
      const bool good = i % 100 >= bad_of_a_hundred;
      health.bytes(garbage(9).substr(0, 4), understood, 0);
      health.bytes(garbage(9).substr(4), understood += good ? 9u : 0u, 0);
    }
  };
  frames(2000, 5);
  EXPECT_EQ(health.verdict(), LineVerdict::well);
  frames(2000, 12);
  EXPECT_EQ(health.verdict(), LineVerdict::noisy);
  frames(2000, 1);
  EXPECT_EQ(health.verdict(), LineVerdict::well);
}

}  // namespace
}  // namespace hangtrue::serial

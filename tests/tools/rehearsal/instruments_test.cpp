#include "tools/rehearsal/instruments.hpp"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>

#include "core/quantity/units.hpp"
#include "core/survey/settling.hpp"
#include "tests/tools/rehearsal/listener.hpp"
#include "tests/tools/rehearsal/sheets.hpp"

namespace hangtrue::rehearsal {
namespace {

using ::testing::HasSubstr;

class InstrumentOnTheTestShelf : public ::testing::Test {
 protected:
  /// The test kit has all ways of speaking.
  [[nodiscard]] std::unique_ptr<Instrument> make(std::size_t index, std::uint64_t seed,
                                                 FaultRates rates = kNoFaults, double handling_s = 0) const {
    return make_instrument(truth, kit, index, seed, rates, handling_s);
  }
  [[nodiscard]] Listener listener(std::size_t index) const {
    return Listener(kit.instruments[index], run.stations_m.size());
  }
  sheet::RunSheet run = run_sheet();
  sheet::KitSheet kit = kit_sheet(run, kKitText + kOtherSpeechText);
  Truth truth{run, kit, 0, 5};
};

std::string all_it_says(Instrument& instrument, const sheet::KitInstrument& kit, double now_s) {
  std::string all = instrument.sample(now_s) + instrument.hear(kit.ask, now_s);
  if (kit.speaks == sheet::Speaks::modbus) {
    const auto request = wire::read_request(daemon::KitRegisters(kit, 1).map().requests().front()).value();
    all += instrument.hear({request.data(), request.size()}, now_s);
  }
  return all;
}

TEST_F(InstrumentOnTheTestShelf, SaysTheSameForTheSameSeed) {
  for (std::size_t i = 0; i < kit.instruments.size(); ++i) {
    const auto one = make(i, 9, {}, 1), same = make(i, 9, {}, 1), other = make(i, 10, {}, 1);
    const sheet::KitInstrument& device = kit.instruments[i];
    bool differs = false;
    for (double now_s = 0; now_s < 30; now_s += 0.1) {
      const std::string said = all_it_says(*one, device, now_s);
      EXPECT_EQ(said, all_it_says(*same, device, now_s)) << device.name;
      differs = differs || said != all_it_says(*other, device, now_s);
    }
    EXPECT_TRUE(differs) << device.name;
  }
}

/// From the simulated device through framing, decoding, mapping and settling: the value that comes out is the truth.
void expect_truth(const sheet::RunSheet& run, const sheet::KitSheet& kit, const Truth& truth,
                  std::size_t index) {
  const sheet::KitInstrument& device = kit.instruments[index];
  const auto instrument = make_instrument(truth, kit, index, 21, kNoFaults, 0.1);
  const Stand stand{.at_m = run.stations_m[3], .face = -1, .set_up = 1};
  instrument->place(stand, 0);
  Listener listener(device, run.stations_m.size());
  std::vector<survey::Settling<double>> settling;
  for (const sheet::KitChannel& channel : device.channels) {
    survey::SettleLimits<double> limits;
    limits.window_us = 2'000'000;
    limits.spread = settle_spread(channel);
    limits.sigma = channel.sigma;
    settling.emplace_back(limits);
  }
  std::uint64_t now_us = 0;
  for (; now_us < 3'000'000; now_us += 100'000)
    for (const wire::Sample& sample : listener.listen(*instrument, 1e-6 * double(now_us)))
      settling[sample.channel].add(now_us, sample.value);
  EXPECT_EQ(listener.bytes_lost(), 0u) << device.name;
  EXPECT_TRUE(listener.channels().unknown().empty()) << device.name;
  for (std::size_t i = 0; i < device.channels.size(); ++i) {
    const sheet::KitChannel& channel = device.channels[i];
    const std::string where = kit.file + ", " + device.name + ", " + channel.transducer;
    const double wanted = truth.reading(index, i, stand);
    ASSERT_TRUE(settling[i].newest().has_value()) << where;
    if (channel.gives == Channel::station) {
      EXPECT_EQ(settling[i].newest(), wanted - 1) << where;
    } else if (channel.gives == Channel::temperature) {
      EXPECT_NEAR(*settling[i].newest(), wanted, 0.05 + 1e-9) << where;  // tenths of a degree, C or F
    } else {
      const auto settled = settling[i].value(now_us);
      ASSERT_TRUE(settled.ok()) << where;
      // Placing error, noise of the mean, and the last digit sent.
      EXPECT_NEAR(settled.value().mean, wanted, 4 * channel.sigma) << where;
      EXPECT_NE(settled.value().mean, wanted) << where;
    }
  }
}

TEST_F(InstrumentOnTheTestShelf, SettlesToTheTruthThroughTheWholeWire) {
  for (std::size_t index = 0; index < kit.instruments.size(); ++index) expect_truth(run, kit, truth, index);
}

// One sheet a way of speaking, and mixed ones; each goes with both runs.
TEST(KitSheetsOfTheDemo, SettleToTheTruthThroughTheWholeWire) {
  const std::string data = HANGTRUE_DATA_DIR;
  std::map<sheet::Speaks, int> spoken;
  std::size_t sheets = 0;
  for (const char* const run_name : {"/runs/reading-room-bridge-shelf.toml", "/runs/bottle-canopy.toml"}) {
    const auto run = sheet::read_run_sheet(data + run_name);
    ASSERT_TRUE(run.sheet) << sheet::text(run.complaints);
    for (const auto& entry : std::filesystem::directory_iterator(data + "/kits")) {
      const auto kit = sheet::read_kit_sheet(entry.path().string(), *run.sheet);
      ASSERT_TRUE(kit.sheet) << sheet::text(kit.complaints);
      ++sheets;
      const Truth truth(*run.sheet, *kit.sheet, 2, 5);
      for (std::size_t i = 0; i < kit.sheet->instruments.size(); ++i) {
        ++spoken[kit.sheet->instruments[i].speaks];
        expect_truth(*run.sheet, *kit.sheet, truth, i);
      }
    }
  }
  EXPECT_GE(sheets, 2 * 10u);
  EXPECT_EQ(spoken.size(), 3u);
}

TEST_F(InstrumentOnTheTestShelf, PlacingErrorsHaveTheKitsSigma) {
  const auto instrument = make(1, 22);
  Listener laser(kit.instruments[1], run.stations_m.size());
  const Stand stand{.at_m = 1.0};
  const double wanted = truth.reading(1, 0, stand);
  double squares = 0;
  constexpr int kPlacings = 2000;
  for (int i = 0; i < kPlacings; ++i) {
    instrument->place(stand, i);
    double sum = 0;
    for (int k = 0; k < 20; ++k)
      for (const wire::Sample& sample : laser.listen(*instrument, i + 0.5)) sum += sample.value;
    squares += std::pow(sum / 20 - wanted, 2);
  }
  // Expected sigma^2 of a mean: placing 0.1 mm, noise (0.3 mm / 9)^2 / 20; 2,000 placings tell it to 1.6 %.
  EXPECT_NEAR(std::sqrt(squares / kPlacings), 1e-4, 0.06e-4);
}

TEST_F(InstrumentOnTheTestShelf, OneThatStaysKeepsItsPlacing) {
  for (std::size_t index = 0; index < kit.instruments.size(); ++index) {
    const bool stays = kit.instruments[index].channels[0].station_m.has_value();
    const auto instrument = make(index, 26);
    Listener listener(kit.instruments[index], run.stations_m.size());
    std::vector<double> means;
    for (int placing = 0; placing < 2; ++placing) {
      instrument->place({.at_m = 1.0}, placing);
      double sum = 0;
      for (int k = 0; k < 400; ++k)
        for (const wire::Sample& sample : listener.listen(*instrument, placing + 0.5))
          if (sample.channel == 0) sum += sample.value / 400;
      means.push_back(sum);
    }
    // The sigma of a mean of 400 samples is a sixtieth of the channel's, with rounding below a twentieth. With these seeds two
    // placings differ by more than a fifth of the channel's.
    const double moved = std::abs(means[1] - means[0]) / kit.instruments[index].channels[0].sigma;
    if (stays)
      EXPECT_LT(moved, 0.1) << kit.instruments[index].name;
    else
      EXPECT_GT(moved, 0.2) << kit.instruments[index].name;
  }
}

TEST_F(InstrumentOnTheTestShelf, SwingsFarBeyondTheSpreadWhileHandsAreOnIt) {
  for (std::size_t index = 0; index < kit.instruments.size(); ++index) {
    const sheet::KitChannel& channel = kit.instruments[index].channels[0];
    if (channel.station_m) continue;
    const auto instrument = make(index, 23, kNoFaults, 1);
    const Stand stand{.at_m = 1.0};
    const double wanted = truth.reading(index, 0, stand);
    instrument->place(stand, 10);
    Listener listener(kit.instruments[index], run.stations_m.size());
    double largest_in_hands = 0, largest_alone = 0;
    for (double now_s = 10; now_s < 14; now_s += 0.1) {
      double& largest = now_s < 11 ? largest_in_hands : largest_alone;
      for (const wire::Sample& sample : listener.listen(*instrument, now_s))
        if (sample.channel == 0) largest = std::max(largest, std::abs(sample.value - wanted));
    }
    EXPECT_GT(largest_in_hands, 10 * channel.settle_spread) << kit.instruments[index].name;
    EXPECT_LT(largest_alone, 2 * channel.settle_spread) << kit.instruments[index].name;
  }
}

// Five sigma of a binomial of 20,000.
void expect_about(double count, double rate) {
  EXPECT_NEAR(count, 20'000 * rate, 5 * std::sqrt(20'000 * rate * (1 - rate)));
}

TEST_F(InstrumentOnTheTestShelf, SpoilsSentencesAtTheStatedRatesAndTheWireCountsThem) {
  const FaultRates rates{.torn = 0.02, .wrong_checksum = 0.03, .outlier = 0.01};
  const auto instrument = make(1, 24, rates);
  wire::XdrReader reader;
  std::uint64_t good = 0;
  for (int i = 0; i < 20'000; ++i)
    reader.push(instrument->sample(i), [&good](std::span<const wire::XdrQuad>) { ++good; });
  reader.finish();
  const FaultCounts& made = instrument->faults();
  EXPECT_EQ(made.messages, 20'000u);
  expect_about(double(made.torn), rates.torn);
  expect_about(double(made.wrong_checksum), rates.wrong_checksum);
  expect_about(double(made.outliers), rates.outlier);
  // What is torn is cut off by the next; what is neither torn nor wrong is good.
  EXPECT_GT(reader.bytes_dropped(wire::Dropped::cut_by_next), made.torn);
  EXPECT_LE(reader.sentences().refused_as(wire::XdrFault::checksum_mismatch), made.wrong_checksum);
  EXPECT_GE(good + made.torn + made.wrong_checksum, made.messages);
  EXPECT_LE(good, made.messages - made.wrong_checksum);
}

TEST_F(InstrumentOnTheTestShelf, SpoilsModbusAnswersAtTheStatedRatesAndTheWireSeesEachOfThem) {
  const FaultRates rates{
      .torn = 0.02, .wrong_checksum = 0.03, .outlier = 0.01, .no_answer = 0.015, .exception = 0.025};
  const auto instrument = make(kModbus, 24, rates);
  const wire::ReadRequest wanted{.address = 17, .function = 4, .first = 40, .count = 2};
  const auto request = wire::read_request(wanted).value();
  wire::ModbusAnswer answer;
  std::uint64_t good = 0, busy = 0, silent = 0, crc = 0, cut = 0;
  for (int i = 0; i < 20'000; ++i) {
    answer.expect(wanted);
    answer.push(instrument->hear({request.data(), request.size()}, i));
    switch (answer.finish()) {
      case wire::ModbusAnswer::State::registers:
        ++good;
        break;
      case wire::ModbusAnswer::State::exception:
        EXPECT_EQ(wire::exception_name(answer.exception_code()), "server device busy");
        ++busy;
        break;
      default:
        silent += answer.fault() == wire::ModbusFault::silent ? 1 : 0;
        crc += answer.fault() == wire::ModbusFault::wrong_crc ? 1 : 0;
        cut += answer.fault() == wire::ModbusFault::cut_short || answer.fault() == wire::ModbusFault::noise;
    }
  }
  const FaultCounts& made = instrument->faults();
  EXPECT_EQ(made.messages + made.not_answered, 20'000u);
  expect_about(double(made.torn), rates.torn);
  expect_about(double(made.wrong_checksum), rates.wrong_checksum);
  expect_about(double(made.exceptions), rates.exception);
  expect_about(double(made.not_answered), rates.no_answer);
  EXPECT_EQ(silent, made.not_answered);
  EXPECT_EQ(cut, made.torn);
  // One answer may have both faults: it counts once.
  EXPECT_LE(crc, made.wrong_checksum);
  EXPECT_LE(busy, made.exceptions);
  EXPECT_EQ(good + busy + silent + crc + cut, 20'000u);
}

TEST_F(InstrumentOnTheTestShelf, SpoilsLinesAtTheStatedRatesAndFewOfThemPassForGood) {
  const FaultRates rates{
      .torn = 0.02, .wrong_checksum = 1, .outlier = 0, .garbled = 0.03, .no_answer = 0.015};
  const auto instrument = make(kAskedLine, 24, rates);
  Listener listener(kit.instruments[kAskedLine], run.stations_m.size());
  const double wanted = truth.reading(kAskedLine, 0, {});
  std::uint64_t good = 0, wrong = 0;
  for (int i = 1; i <= 20'000; ++i) {
    for (const wire::Sample& sample : listener.listen(*instrument, i)) {
      const bool right = std::abs(sample.value - wanted) < 5 * kit.instruments[kAskedLine].channels[0].sigma;
      ++(right ? good : wrong);
    }
  }
  const FaultCounts& made = instrument->faults();
  EXPECT_EQ(made.messages + made.not_answered, 20'000u);
  EXPECT_EQ(made.wrong_checksum, 0u);  // a line has none
  expect_about(double(made.torn), rates.torn);
  expect_about(double(made.garbled), rates.garbled);
  expect_about(double(made.not_answered), rates.no_answer);
  // A torn line spoils the next as well; the rest is good.
  EXPECT_GE(good, made.messages - 2 * made.torn - 2 * made.garbled);
  // A line has no checksum, so that a garbled digit that is another digit gives another number. 10 of 256 bytes are digits, and
  // so are 6 of the 16 bytes of the line: of lines with two garbled bytes about three in a hundred give another number.
  EXPECT_LT(wrong, made.garbled / 10);
  EXPECT_GT(listener.bytes_lost(), 0u);
}

TEST_F(InstrumentOnTheTestShelf, KeepsEverySentenceWithinItsLength) {
  sheet::KitSheet long_names = kit;
  for (sheet::KitChannel& channel : long_names.instruments[0].channels)
    channel.transducer += "-WITH-A-LONG-NAME";
  const Truth long_truth(run, long_names, 0, 5);
  const auto instrument = make_instrument(long_truth, long_names, 0, 25, kNoFaults, 1);
  wire::XdrReader reader;
  std::uint64_t quads = 0;
  reader.push(instrument->sample(0), [&quads](std::span<const wire::XdrQuad> read) { quads += read.size(); });
  EXPECT_EQ(quads, 4u);
  EXPECT_GT(instrument->faults().messages, 1u);
  EXPECT_EQ(reader.bytes_lost(), 0u);
}

TEST_F(InstrumentOnTheTestShelf, PutsNumberAndUnitIntoItsPattern) {
  // The last digit is at most half of sigma: 0.05 mm of 0.1 mm, so five decimals in m; 0.15 mm of 0.3 mm, so one in mm.
  EXPECT_THAT(make(kTalkingLine, 31)->sample(100), ::testing::MatchesRegex("D: [0-9]\\.[0-9]{5} m\r\n"));
  EXPECT_THAT(make(kAskedLine, 31)->hear("how far?\r\n", 100),
              ::testing::MatchesRegex("it is [0-9]{4},[0-9] mm\r\n"));
}

TEST_F(InstrumentOnTheTestShelf, AnswersOncePerAskingHoweverTheAskingIsCut) {
  const auto laser = make(kAskedLine, 32);
  EXPECT_EQ(laser->sample(100), "");
  EXPECT_EQ(laser->hear("how fa", 100), "");
  const std::string one = laser->hear("r?\r\n", 100);
  EXPECT_EQ(std::count(one.begin(), one.end(), '\n'), 1);
  const std::string two = laser->hear("??how far?\r\nhow far?\r\nhow", 100);
  EXPECT_EQ(std::count(two.begin(), two.end(), '\n'), 2);
  EXPECT_EQ(make(kTalkingLine, 32)->hear("how far?\r\n", 100), "");
}

TEST(FaultCounts, SaysOnlyWhatThereWas) {
  FaultCounts counts{.messages = 12};
  EXPECT_EQ(words(counts), "12 messages of the instruments");
  counts += {.messages = 8, .torn = 2, .exceptions = 1};
  EXPECT_EQ(words(counts), "20 messages of the instruments; spoilt on purpose:\n  2 torn, 1 refused");
}

TEST(InUnit, IsTheInverseOfWhatTheWireMakesOfIt) {
  wire::ChannelSpec channel;
  const auto expect_back = [&](Channel gives, double value, std::initializer_list<const char*> units) {
    channel.gives = gives;
    for (const char* const unit : units) {
      const auto back = wire::to_si(channel, in_unit(value, unit, gives), wire::unit_named(unit).value(), 0);
      ASSERT_TRUE(back.has_value()) << unit;
      EXPECT_NEAR(*back, value, 1e-14 * std::abs(value)) << unit;
    }
  };
  expect_back(Channel::slope, -0.3, {"deg", "rad", "mm/m", "in/ft"});
  expect_back(Channel::roll, 0.3, {"deg", "rad", "mm/m", "in/ft"});
  expect_back(Channel::distance, 1.7, {"mm", "cm", "m", "in", "ft"});
  expect_back(Channel::temperature, 21.5, {"C", "F"});
}

// ---- modbus --------------------------------------------------------------------------------------------------------

class ModbusServer : public InstrumentOnTheTestShelf {
 protected:
  /// With its CRC, low byte first.
  static std::string frame(std::string bytes) {
    const unsigned crc = wire::crc16(bytes);
    bytes += static_cast<char>(crc & 0xFF);
    bytes += static_cast<char>(crc >> 8);
    return bytes;
  }
  static std::string read(int unit, int function, int first, int count) {
    return frame({char(unit), char(function), char(first >> 8), char(first), char(count >> 8), char(count)});
  }
  std::string hear(const std::string& bytes, double now_s = 100) { return server->hear(bytes, now_s); }
  static std::string exception(int function, int code) {
    return frame({char(17), char(function | 0x80), char(code)});
  }
  std::unique_ptr<Instrument> server = make(kModbus, 30);
};

TEST_F(ModbusServer, AnswersWithItsRegisters) {
  const std::string answer = hear(read(17, 4, 40, 2));
  ASSERT_EQ(answer.size(), 9u);
  EXPECT_EQ(answer.substr(0, 3), std::string("\x11\x04\x04"));
  EXPECT_EQ(answer, frame(answer.substr(0, 7)));
}

// Codes: Modbus Application Protocol V1.1b3, section 7; when each is due: 6.3 and 6.4.
TEST_F(ModbusServer, RefusesByTheNumberWhatItHasNot) {
  EXPECT_EQ(hear(read(17, 4, 40, 3)), exception(4, 2));  // 42 is none of its registers
  EXPECT_EQ(hear(read(17, 4, 39, 1)), exception(4, 2));
  EXPECT_EQ(hear(read(17, 3, 40, 2)), exception(3, 2));     // they are input registers
  EXPECT_EQ(hear(read(17, 3, 65535, 2)), exception(3, 2));  // beyond the last
  EXPECT_EQ(hear(read(17, 4, 40, 0)), exception(4, 3));
  EXPECT_EQ(hear(read(17, 4, 40, 126)), exception(4, 3));
  EXPECT_EQ(hear(read(17, 6, 40, 1)), exception(6, 1));  // writing one register
  EXPECT_EQ(hear(frame({17, 16, 0, 40, 0, 1, 2, 0, 7})), exception(16, 1));
  EXPECT_EQ(hear(frame({17, 17})), exception(17, 1));
}

TEST_F(ModbusServer, IsSilentToOthersToAllAndToDamage) {
  EXPECT_EQ(hear(read(18, 4, 40, 2)), "");
  EXPECT_EQ(hear(read(0, 4, 40, 2)), "");  // broadcast
  std::string damaged = read(17, 4, 40, 2);
  damaged[7] = char(damaged[7] ^ 1);
  EXPECT_EQ(hear(damaged), "");
  EXPECT_EQ(server->faults().messages, 0u);
  // What stays unfinished is forgotten, and then it answers again.
  EXPECT_EQ(hear(read(17, 4, 40, 2), 100 + 2 * kForgets_s).size(), 9u);
}

TEST_F(ModbusServer, PutsARequestTogetherFromPieces) {
  const std::string request = read(17, 4, 40, 2);
  for (std::size_t cut = 1; cut < request.size(); ++cut) {
    EXPECT_EQ(hear(request.substr(0, cut)), "");
    EXPECT_EQ(hear(request.substr(cut)).size(), 9u);
  }
  EXPECT_EQ(hear(request + request).size(), 18u);
  EXPECT_EQ(hear(read(18, 4, 0, 1) + request).size(), 9u);  // another unit's first
}

TEST_F(ModbusServer, HoldsTheEndsOfItsRegister) {
  sheet::KitSheet narrow = kit;
  narrow.instruments[kModbus].channels[0].modbus->scale = 1e-7;  // 32,767 of it are 0.06 mm/m
  narrow.instruments[kModbus].channels[0].range_from.reset();
  narrow.instruments[kModbus].channels[0].range_to.reset();
  server = make_instrument(truth, narrow, kModbus, 30, kNoFaults, 0);
  const std::string answer = hear(read(17, 4, 40, 1));
  ASSERT_EQ(answer.size(), 7u);
  const bool climbs = truth.reading(kModbus, 0, {}) * narrow.instruments[kModbus].channels[0].sign > 0;
  EXPECT_EQ(answer.substr(3, 2), climbs ? std::string("\x7F\xFF", 2) : std::string("\x80\x00", 2));
}

// ---- what cannot be rehearsed --------------------------------------------------------------------------------------

class NotToBeRehearsed : public InstrumentOnTheTestShelf {
 protected:
  sheet::KitChannel& channel(std::size_t index) { return kit.instruments[index].channels[0]; }
  /// The complaint, which names the instrument and the channel.
  std::string complaint(std::size_t index) {
    try {
      (void)make(index, 1);
    } catch (const std::invalid_argument& error) {
      EXPECT_THAT(error.what(), HasSubstr(kit.instruments[index].name));
      EXPECT_THAT(error.what(), HasSubstr(channel(index).transducer));
      return error.what();
    }
    return "";
  }
};

TEST_F(NotToBeRehearsed, ARegisterThatIsCoarserThanItsSigma) {
  channel(kModbus).sigma = 0.0000085;  // rad; half a step of 0.001 deg is 0.0000087
  EXPECT_THAT(complaint(kModbus), HasSubstr("half a step"));
  channel(kModbus).sigma = 0.0000089;
  EXPECT_EQ(complaint(kModbus), "");
}

TEST_F(NotToBeRehearsed, ARegisterThatCannotHoldItsRange) {
  channel(kModbus).range_to = std::tan(32.769 * kPi / 180);  // -32769 in it: its sign is -1
  EXPECT_THAT(complaint(kModbus), HasSubstr("range"));
  channel(kModbus).range_to = std::tan(32.768 * kPi / 180);
  EXPECT_EQ(complaint(kModbus), "");
  channel(kModbus).modbus->type = sheet::RegisterType::uint16;
  EXPECT_THAT(complaint(kModbus), HasSubstr("negative"));
}

TEST_F(NotToBeRehearsed, APatternWithoutItsNumber) {
  channel(kAskedLine).transducer = "it is {unit}";
  EXPECT_THAT(complaint(kAskedLine), HasSubstr("{number}"));
  channel(kAskedLine).transducer = "it is {number} or {number,} mm";
  EXPECT_THAT(complaint(kAskedLine), HasSubstr("{number}"));
}

}  // namespace
}  // namespace hangtrue::rehearsal

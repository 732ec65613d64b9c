#include "tools/rehearsal/instruments.hpp"

#include <gmock/gmock.h>

#include <cmath>

#include "core/survey/settling.hpp"
#include "firmware-host/wire/channels.hpp"
#include "tests/tools/rehearsal/sheets.hpp"

namespace hangtrue::rehearsal {
namespace {

using ::testing::HasSubstr;

constexpr FaultRates kNoFaults{.torn = 0, .wrong_checksum = 0, .outlier = 0};

class InstrumentOnTheTestShelf : public ::testing::Test {
 protected:
  sheet::RunSheet run = run_sheet();
  sheet::KitSheet kit = kit_sheet(run);
  Truth truth{run, kit, 0, 5};
};

TEST_F(InstrumentOnTheTestShelf, SaysTheSameForTheSameSeed) {
  Instrument one(truth, kit, 0, 9, {}, 1), same(truth, kit, 0, 9, {}, 1), other(truth, kit, 0, 10, {}, 1);
  EXPECT_EQ(one.sample(0), same.sample(0));
  EXPECT_NE(one.sample(0.1), other.sample(0.1));
}

// From the simulated device through framing, decoding, mapping and settling: the value that comes out is the truth.
TEST_F(InstrumentOnTheTestShelf, SettlesToTheTruthThroughTheWholeWire) {
  for (std::size_t index = 0; index < kit.instruments.size(); ++index) {
    const sheet::KitInstrument& device = kit.instruments[index];
    Instrument instrument(truth, kit, index, 21, kNoFaults, 0.1);
    const Stand stand{.at_m = 1.5, .face = -1, .set_up = 1};
    instrument.place(stand, 0);
    wire::XdrReader reader;
    wire::ChannelMap channels(device, run.stations_m.size());
    std::vector<survey::Settling<double>> settling;
    for (const sheet::KitChannel& channel : device.channels) {
      survey::SettleLimits<double> limits;
      limits.window_us = 2'000'000;
      limits.spread = settle_spread(channel);
      limits.sigma = channel.sigma;
      settling.emplace_back(limits);
    }
    std::uint64_t now_us = 0;
    for (; now_us < 3'000'000; now_us += 100'000) {
      reader.push(instrument.sample(1e-6 * double(now_us)), [&](std::span<const wire::XdrQuad> quads) {
        channels.read(
            quads, [&](const wire::Sample& sample) { settling[sample.channel].add(now_us, sample.value); });
      });
    }
    EXPECT_EQ(reader.bytes_in(), reader.bytes_used()) << device.name;
    EXPECT_TRUE(channels.unknown().empty()) << device.name;
    for (std::size_t i = 0; i < device.channels.size(); ++i) {
      const double wanted = truth.reading(index, i, stand);
      if (device.channels[i].gives == sheet::Gives::station) {
        EXPECT_EQ(settling[i].newest(), wanted - 1);
        continue;
      }
      if (device.channels[i].gives == sheet::Gives::temperature) continue;
      const auto settled = settling[i].value(now_us);
      ASSERT_TRUE(settled.ok()) << device.name << " " << device.channels[i].transducer;
      // Placing error, noise of the mean, and the last digit sent.
      EXPECT_NEAR(settled.value().mean, wanted, 4 * device.channels[i].sigma) << device.name;
      EXPECT_NE(settled.value().mean, wanted) << device.name;
    }
  }
}

TEST_F(InstrumentOnTheTestShelf, PlacingErrorsHaveTheKitsSigma) {
  Instrument instrument(truth, kit, 1, 22, kNoFaults, 0);
  wire::XdrReader reader;
  wire::ChannelMap channels(kit.instruments[1], run.stations_m.size());
  const Stand stand{.at_m = 1.0};
  const double wanted = truth.reading(1, 0, stand);
  double squares = 0;
  constexpr int kPlacings = 2000;
  for (int i = 0; i < kPlacings; ++i) {
    instrument.place(stand, i);
    double sum = 0;
    for (int k = 0; k < 20; ++k) {
      reader.push(instrument.sample(i + 0.5), [&](std::span<const wire::XdrQuad> quads) {
        channels.read(quads, [&](const wire::Sample& sample) { sum += sample.value; });
      });
    }
    squares += std::pow(sum / 20 - wanted, 2);
  }
  // Expected sigma^2 of a mean: placing 0.1 mm, noise (0.3 mm / 9)^2 / 20; 2,000 placings tell it to 1.6 %.
  EXPECT_NEAR(std::sqrt(squares / kPlacings), 1e-4, 0.06e-4);
}

TEST_F(InstrumentOnTheTestShelf, SwingsFarBeyondTheSpreadWhileHandsAreOnIt) {
  Instrument instrument(truth, kit, 1, 23, kNoFaults, 1);
  const Stand stand{.at_m = 1.0};
  const double wanted = truth.reading(1, 0, stand);
  instrument.place(stand, 10);
  wire::XdrReader reader;
  wire::ChannelMap channels(kit.instruments[1], run.stations_m.size());
  double largest_in_hands = 0, largest_alone = 0;
  for (double now_s = 10; now_s < 14; now_s += 0.1) {
    double& largest = now_s < 11 ? largest_in_hands : largest_alone;
    reader.push(instrument.sample(now_s), [&](std::span<const wire::XdrQuad> quads) {
      channels.read(quads,
                    [&](const wire::Sample& s) { largest = std::max(largest, std::abs(s.value - wanted)); });
    });
  }
  EXPECT_GT(largest_in_hands, 10 * 0.3e-3);
  EXPECT_LT(largest_alone, 2 * 0.3e-3);
}

TEST_F(InstrumentOnTheTestShelf, MakesFaultsAtTheStatedRatesAndTheWireCountsThem) {
  const FaultRates rates{.torn = 0.02, .wrong_checksum = 0.03, .outlier = 0.01};
  Instrument instrument(truth, kit, 1, 24, rates, 0);
  wire::XdrReader reader;
  std::uint64_t good = 0;
  for (int i = 0; i < 20'000; ++i) {
    reader.push(instrument.sample(i), [&good](std::span<const wire::XdrQuad>) { ++good; });
  }
  reader.finish();
  const FaultCounts& made = instrument.faults();
  EXPECT_EQ(made.sentences, 20'000u);
  // Five sigma of a binomial: sqrt(20000 p (1 - p)).
  EXPECT_NEAR(double(made.torn), 400, 5 * 19.8);
  EXPECT_NEAR(double(made.wrong_checksum), 600, 5 * 24.1);
  EXPECT_NEAR(double(made.outliers), 200, 5 * 14.1);
  // What is torn is cut off by the next; what is neither torn nor wrong is good.
  EXPECT_GT(reader.bytes_dropped(wire::Dropped::cut_by_next), made.torn);
  EXPECT_LE(reader.sentences().refused_as(wire::XdrFault::checksum_mismatch), made.wrong_checksum);
  EXPECT_GE(good + made.torn + made.wrong_checksum, made.sentences);
  EXPECT_LE(good, made.sentences - made.wrong_checksum);
}

TEST_F(InstrumentOnTheTestShelf, KeepsEverySentenceWithinItsLength) {
  sheet::KitSheet long_names = kit;
  for (sheet::KitChannel& channel : long_names.instruments[0].channels)
    channel.transducer += "-WITH-A-LONG-NAME";
  const Truth long_truth(run, long_names, 0, 5);
  Instrument instrument(long_truth, long_names, 0, 25, kNoFaults, 1);
  wire::XdrReader reader;
  std::uint64_t quads = 0;
  reader.push(instrument.sample(0), [&quads](std::span<const wire::XdrQuad> read) { quads += read.size(); });
  EXPECT_EQ(quads, 4u);
  EXPECT_GT(instrument.faults().sentences, 1u);
  EXPECT_EQ(reader.bytes_lost(), 0u);
}

TEST_F(InstrumentOnTheTestShelf, RefusesOneThatDoesNotSpeakXdrByItsName) {
  sheet::KitSheet other = kit;
  other.instruments[1].speaks = sheet::Speaks::modbus;
  try {
    const Instrument instrument(truth, other, 1, 1, {}, 1);
    FAIL() << "nothing was refused";
  } catch (const std::invalid_argument& error) {
    EXPECT_THAT(error.what(), HasSubstr("laser meter"));
  }
}

}  // namespace
}  // namespace hangtrue::rehearsal

// instruments.hpp: simulated instruments of a kit sheet: what they send by themselves, and what they answer.
//
// A value is the truth at the stand, plus the placing's own error (drawn anew at each placing, sigma as in the kit: what
// the kit's sigma of a settled reading stands for), plus noise well within the settling spread. After each placing hands
// are on it: for `handling_s` it swings far beyond the spread. At the stated rates a value is an outlier and a message
// is spoilt in its way of speaking, each counted.
//
// xdr     sentences as firmware-host/wire/xdr.hpp reads them, each at most 82 characters; angles to 0.0001 degree,
//         distances to 0.01 mm; of the kit's talker, or YX (transducer). A torn one lacks its end, line end included.
// line    a line a channel, CR LF at its end: the channel's pattern with number and unit put in (m, deg or C where the kit
//         names no unit); as many decimals as make a step of the last one at most half the channel's sigma. By themselves,
//         or once for each `ask` that is heard.
// modbus  a server (Modbus Application Protocol V1.1b3, 6.3 and 6.4; frames as Modbus over serial line V1.02, 2.5.1): its
//         unit's registers by functions 03 and 04, values rounded as the register is and held at its ends. Exception 01
//         for any other function, 02 where it has not all the registers asked for, 03 for a count that is not 1 ... 125.
//         Silent to other units, to address 0 (broadcast), and to a wrong CRC. A request that stays unfinished for
//         kForgets_s is forgotten.
// Limits  std::invalid_argument names an instrument that its wire makes coarser than its sigma allows (half a step above
//         it), whose register cannot hold its range or its sign, or whose pattern has not {number} once.
// Seeds   the same seed and the same calls give the same bytes.
#pragma once

#include <cstdint>
#include <memory>
#include <random>
#include <string>
#include <string_view>
#include <vector>

#include "tools/rehearsal/truth.hpp"

namespace hangtrue::rehearsal {

inline constexpr double kForgets_s = 0.1;

/// Chance of each, a message (outlier: a value). A message is an XDR sentence, a line, an answer.
struct FaultRates {
  double torn = 0.002;            // the end is missing
  double wrong_checksum = 0.002;  // xdr, modbus
  double outlier = 0.0005;        // off by forty times the settling spread
  double garbled = 0.002;         // line: some characters become others
  double no_answer = 0.002;       // modbus, and line with `ask`
  double exception = 0.001;       // modbus: 06, server device busy
};
inline constexpr FaultRates kNoFaults{0, 0, 0, 0, 0, 0};

struct FaultCounts {
  std::uint64_t messages = 0, torn = 0, wrong_checksum = 0, outliers = 0, garbled = 0, not_answered = 0,
                exceptions = 0;
  FaultCounts& operator+=(const FaultCounts& other);
};
/// "8210 messages of the instruments; spoilt on purpose:\n  17 torn, 15 wrong checksums"; only what there was.
[[nodiscard]] std::string words(const FaultCounts& counts);

/// Highest minus lowest that a channel's readings may have in order to be settled, SI.
[[nodiscard]] double settle_spread(const sheet::KitChannel& channel);

/// A value in SI as a number of this unit: the inverse of what wire/ makes of it, but for the sign. A slope in degrees is
/// the angle whose tangent it is.
[[nodiscard]] double in_unit(double value, const std::string& unit, Channel gives);

class Instrument {
 public:
  virtual ~Instrument() = default;
  Instrument(const Instrument&) = delete;
  Instrument& operator=(const Instrument&) = delete;

  /// Someone puts it there, at time `now_s` of the rehearsal's own clock.
  void place(const Stand& stand, double now_s);
  /// What it sends by itself, for one sample of all its channels at that time; nothing from one that only answers.
  [[nodiscard]] virtual std::string sample(double /*now_s*/) { return {}; }
  /// What it answers to bytes on its line, of which it may hold back some that are no whole request yet.
  [[nodiscard]] virtual std::string hear(std::string_view /*bytes*/, double /*now_s*/) { return {}; }

  [[nodiscard]] const FaultCounts& faults() const { return faults_; }
  [[nodiscard]] const sheet::KitInstrument& kit() const { return kit_; }

 protected:
  Instrument(const Truth& truth, const sheet::KitSheet& kit, std::size_t index, std::uint64_t seed,
             FaultRates rates, double handling_s);
  /// Of that channel, SI, its sign not yet applied; temperature in Celsius, a station's number from 1.
  [[nodiscard]] double value(std::size_t channel, double now_s);
  [[nodiscard]] bool happens(double rate);
  /// A number from 0 to n - 1.
  [[nodiscard]] std::size_t any_of(std::size_t n) { return random_() % n; }
  /// Now and then cuts a message: at least its first byte is left, at least its last two are missing.
  void maybe_tear(std::string& message);
  [[noreturn]] void refuse(std::size_t channel, const std::string& why) const;

  FaultRates rates_;
  FaultCounts faults_;

 private:
  const Truth& truth_;
  std::string kit_file_;
  sheet::KitInstrument kit_;
  std::size_t index_;
  double handling_s_;
  Stand stand_;
  double placed_s_ = 0;
  std::vector<double> placing_error_;
  /// Of each sample, whose number is a matter of time; and of each placing, so that a seed gives the same ones in every run.
  std::mt19937_64 random_, placings_;
};

/// Instrument `index` of the kit, in its way of speaking. The truth must outlive it.
[[nodiscard]] std::unique_ptr<Instrument> make_instrument(const Truth& truth, const sheet::KitSheet& kit,
                                                          std::size_t index, std::uint64_t seed,
                                                          FaultRates rates, double handling_s);

}  // namespace hangtrue::rehearsal

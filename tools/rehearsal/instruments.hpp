// instruments.hpp: simulated instruments of a kit sheet: what they would send, sentence by sentence.
//
// A sample is the truth at the stand, plus the placing's own error (drawn anew at each placing, sigma as in the kit: what
// the kit's sigma of a settled reading stands for), plus noise well within the settling spread. After each placing hands
// are on it: for `handling_s` it swings far beyond the spread. Now and then a sentence is torn, its checksum is wrong, or
// a value is an outlier, at the stated rates, each counted.
// Wire   XDR sentences as firmware-host/wire/xdr.hpp reads them, each at most 82 characters; angles to 0.0001 degree,
//        distances to 0.01 mm.
// Limits instruments that speak XDR; std::invalid_argument names one that does not.
// Seeds  the same seed and the same calls give the same bytes.
#pragma once

#include <cstdint>
#include <random>
#include <string>
#include <vector>

#include "tools/rehearsal/truth.hpp"

namespace hangtrue::rehearsal {

/// Chance of each, a sentence (outlier: a value).
struct FaultRates {
  double torn = 0.002;  // the end is missing, line end included: the next sentence cuts it off
  double wrong_checksum = 0.002;
  double outlier = 0.0005;  // off by forty times the settling spread
};

struct FaultCounts {
  std::uint64_t sentences = 0, torn = 0, wrong_checksum = 0, outliers = 0;
};

/// Highest minus lowest that a channel's readings may have in order to be settled, SI.
[[nodiscard]] double settle_spread(const sheet::KitChannel& channel);

/// One simulated instrument: index `index` of the kit.
class Instrument {
 public:
  /// The truth must outlive it.
  Instrument(const Truth& truth, const sheet::KitSheet& kit, std::size_t index, std::uint64_t seed,
             FaultRates rates, double handling_s);

  /// Someone puts it there, at time `now_s` of the rehearsal's own clock.
  void place(const Stand& stand, double now_s);
  /// The sentences of one sample of all its channels at that time.
  [[nodiscard]] std::string sample(double now_s);
  [[nodiscard]] const FaultCounts& faults() const { return faults_; }

 private:
  [[nodiscard]] double noisy_value(std::size_t channel, double now_s);
  [[nodiscard]] std::string quad(std::size_t channel, double now_s);
  void append_sentence(std::string& out, const std::string& fields);
  [[nodiscard]] bool happens(double rate);

  const Truth& truth_;
  sheet::KitInstrument kit_;
  std::size_t index_;
  FaultRates rates_;
  double handling_s_;
  Stand stand_;
  double placed_s_ = 0;
  std::vector<double> placing_error_;
  std::mt19937_64 random_;
  FaultCounts faults_;
};

}  // namespace hangtrue::rehearsal

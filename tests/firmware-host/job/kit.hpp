// kit.hpp: a run and a kit for the tests beside it. Invented.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/job/checks.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"
#include "tests/firmware-host/fixtures/kit_text.hpp"
#include "tests/firmware-host/sheet/example.hpp"

namespace hangtrue::job {

inline const sheet::RunSheet& run() {
  static const sheet::RunSheet sheet = *sheet::parse_run_sheet(sheet::kExample, "shelf.toml").sheet;
  return sheet;
}

inline constexpr double kSlopeSigma = 2e-5, kSlopeKeeps = 3e-5, kZeroSigma = 3e-4, kDistanceSigma = 1e-4;

inline const sheet::KitSheet& kit() {
  static const sheet::KitSheet sheet = *sheet::parse_kit_sheet(fixtures::kit_text(), "kit.toml", run()).sheet;
  return sheet;
}

inline const sheet::KitInstrument& level() { return kit().instruments[0]; }
inline const sheet::KitInstrument& laser() { return kit().instruments[1]; }

inline book::Time at(const std::string& time) { return *time_of(time); }

inline book::NumberedEntry zero_check(book::Number number, const std::string& time,
                                      const std::string& channel, double zero, double sigma = 1e-5) {
  book::ZeroCheck check;
  check.instrument = "level";
  check.channel = channel;
  check.zero = zero;
  check.sigma = sigma;
  return {number, {check, std::nullopt, at(time)}};
}

/// A datum check without noise.
inline book::NumberedEntry datum_check(book::Number number, const std::string& time, double tilt,
                                       double sigma = 1e-5) {
  book::DatumCheck check;
  check.instrument = "laser";
  check.near_m = 0.3;
  check.far_m = 3.9;
  check.near_1 = check.near_2 = check.far_1 = check.far_2 = {0.5, 0.5, 0.5};
  check.tilt_rad = tilt;
  check.sigma_rad = sigma;
  return {number, {check, std::nullopt, at(time)}};
}

}  // namespace hangtrue::job

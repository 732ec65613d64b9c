// sheets.hpp: a small invented run and kit, for targets that need one to read something else against.
#pragma once

#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"
#include "tests/fuzz/fuzz.hpp"

namespace hangtrue::fuzz {

inline const sheet::RunSheet& run() {
  static const auto read = sheet::parse_run_sheet(R"(
title = "fuzz"
length = "3 m"
width = "300 mm"
stations = { every = "500 mm" }
[[member]]
name = "spine"
from = "0 mm"
to = "3 m"
section = { shape = "given", EI = "20 kN m2", GJ = "10 kN m2", weight_per_length = "60 N/m" }
[[support]]
name = "left"
at = "0 mm"
rise = "rigid"
pitch = "free"
roll = "rigid"
holds = "both"
[[support]]
name = "right"
at = "3 m"
rise = "rigid"
pitch = "free"
roll = "free"
holds = "both"
[[stage]]
name = "hung"
supports = ["left", "right"]
loads = ["spine"]
)",
                                                  "fuzz.toml");
  if (!read.sheet) std::fputs(sheet::text(read.complaints).c_str(), stderr);
  require(read.sheet.has_value(), "the run sheet of the fuzz targets is right");
  return *read.sheet;
}

inline const sheet::KitSheet& kit() {
  static const auto read = sheet::parse_kit_sheet(R"(
[[instrument]]
name = "level"
port = "level"
speaks = "xdr"
[[instrument.channel]]
transducer = "PITCH"
gives = "slope"
sigma = "0.02 mm/m"
[[instrument.channel]]
transducer = "ROLL"
gives = "roll"
sigma = "0.02 mm/m"
[[instrument]]
name = "laser"
port = "laser"
speaks = "line"
[[instrument.channel]]
transducer = "{number} m"
gives = "distance"
unit = "m"
sigma = "0.1 mm"
)",
                                                  "fuzz.toml", run());
  if (!read.sheet) std::fputs(sheet::text(read.complaints).c_str(), stderr);
  require(read.sheet.has_value(), "the kit sheet of the fuzz targets is right");
  return *read.sheet;
}

}  // namespace hangtrue::fuzz

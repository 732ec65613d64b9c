// first_sheets.hpp: a run sheet and a kit sheet to begin with: every key of their sections is there, with its sentence, those that may be
// left out as comments.
//
// Values that nobody was asked for are invented, and say so. A sheet as it comes from here is read without a complaint, and can be
// solved; it is no description of any run but the one that its owner writes into it.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/sheet/complaint.hpp"
#include "firmware-host/sheet/format.hpp"

namespace hangtrue::tools {

/// Texts as somebody typed them.
struct FirstRun {
  std::string title = "My run", show = "metric", length, width, carries = "steel", left = "bracket",
              right = "rod", mass, mass_later;
};
struct FirstKit {
  std::string speaks = "xdr", port = "/dev/serial/by-id/PUT-YOURS-HERE", laser = "line",
              laser_port = "/dev/serial/by-id/PUT-YOURS-HERE-TOO";
};

inline constexpr const char* kCarries = "steel|timber";
inline constexpr const char* kHolders = "bracket|seat|post|rod";
inline constexpr const char* kSpeech = "xdr|modbus|line";
inline constexpr const char* kLasers = "xdr|modbus|line|none";

/// What was not said, where something must be said: by the units asked for.
[[nodiscard]] FirstRun filled_in(FirstRun first);
/// What is wrong with the answers; file is "command line", keys are the options.
[[nodiscard]] std::vector<sheet::Complaint> complaints_of(const FirstRun& first);
[[nodiscard]] std::vector<sheet::Complaint> complaints_of(const FirstKit& first);

/// Of answers without a complaint.
[[nodiscard]] std::string first_run_sheet(const FirstRun& first);
[[nodiscard]] std::string first_kit_sheet(const FirstKit& first);

}  // namespace hangtrue::tools

// kit_sheet.hpp: the kit sheet (TOML): which instruments are on which line, and what their channels give.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/survey/reading.hpp"
#include "firmware-host/sheet/complaint.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::sheet {

enum class Speaks { xdr, modbus, line };

/// What a channel gives. slope, roll, distance become readings; the others go with them.
enum class Gives { slope, roll, distance, temperature, station };

struct KitChannel {
  std::string transducer;                      // name in the sentence, register, or pattern
  Gives gives = Gives::slope;
  std::string unit;                            // of the raw value where the device does not say (line, modbus)
  int sign = 1;
  double base_m = 0;                           // distance between the feet (slope)
  std::optional<double> range_from, range_to;  // SI
  double sigma = 0;                            // of one settled reading, SI; > 0 for slope, roll, distance
  double zero_sigma = 0;                       // prior of the zero error, SI; 0: no zero error
  double settle_window_s = 2.0;
  double settle_spread = 0;                    // SI; 0: three sigma
  std::optional<double> station_m;             // an instrument that stays; empty: walking
  survey::Edge edge = survey::Edge::middle;
};

struct Calibration {
  std::string date, due, certificate;          // RFC 3339 full-date
};

struct KitInstrument {
  std::string name, port;
  int baud = 9600;
  Speaks speaks = Speaks::xdr;
  std::optional<Calibration> calibration;
  std::vector<KitChannel> channels;
};

struct KitSheet {
  std::string file;
  std::vector<KitInstrument> instruments;
  /// The channel of that instrument that gives it, or nullptr.
  [[nodiscard]] const KitChannel* find(std::string_view instrument, Gives gives) const;
};

struct KitSheetOrComplaints {
  std::optional<KitSheet> sheet;
  std::vector<Complaint> complaints;
};
[[nodiscard]] KitSheetOrComplaints read_kit_sheet(const std::string& path, const RunSheet& run);
[[nodiscard]] KitSheetOrComplaints parse_kit_sheet(std::string_view text, const std::string& shown_name, const RunSheet& run);

}  // namespace hangtrue::sheet

// kit_sheet.hpp: the kit sheet (TOML): which instruments are on which line, and what their channels give.
//
// Only values are checked here; what a transducer name, a register or a pattern decodes to is the business of wire/.
// SI inside, but temperatures in degrees Celsius. All errors at once, as for a run sheet.
//   xdr     transducer is the name in the sentence; the sentence itself carries the unit. `talker` (two capitals) where
//           several talkers on one line use the same names
//   modbus  transducer is "input N" or "holding N", N the protocol address 0 ... 65535; the instrument has an `address`
//           (1 ... 247), is asked `every` so often, answers within `timeout` and is asked again `retries` times; the
//           channel has a `type` (int16 unless it says otherwise), `words` and `scale`; unit is due
//   line    transducer is a text pattern with {number}, and {unit} where the line says its unit; else unit is due. It is the
//           whole line, or a part of it where the channel says `within = true`.
//           `ask` is sent `every` so often to a device that answers on request
// Instruments may share a port when they speak the same way, xdr or modbus, with the same settings; modbus then by address.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/survey/reading.hpp"
#include "firmware-host/sheet/complaint.hpp"
#include "firmware-host/sheet/run_sheet.hpp"
#include "firmware-host/sheet/units.hpp"

namespace hangtrue::sheet {

enum class Speaks { xdr, modbus, line };
[[nodiscard]] constexpr const char* word(Speaks speaks) {
  return speaks == Speaks::xdr ? "xdr" : speaks == Speaks::modbus ? "modbus" : "line";
}

/// What the values of a channel are: a slope, an angle (roll), a temperature or a length. A station has no unit and counts
/// as a length.
[[nodiscard]] Kind kind_of(Channel gives);

/// What a modbus register holds; the value in `unit` is scale times it.
enum class RegisterType { int16, uint16, int32, uint32, float32 };
struct Register {
  bool holding = false;  // false: input register
  int number = 0;        // protocol address, from 0
  RegisterType type = RegisterType::int16;
  bool high_word_first = true;
  double scale = 1;
};

struct KitChannel {
  std::string transducer;  // name in the sentence, register, or pattern
  bool within = false;     // of a pattern: it may be a part of the line
  // The sheet's key of `transducer`, and where it stands: for complaints that only wire/ can make.
  std::string key;
  int line = 0;
  Channel gives = Channel::slope;
  std::string unit;                // of the raw value where the device does not say (line, modbus)
  std::optional<Register> modbus;  // parsed transducer
  int sign = 1;
  double base_m = 0;                           // distance between the feet (slope)
  std::optional<double> range_from, range_to;  // SI
  double sigma = 0;                            // of one settled reading, SI; > 0 for slope, roll, distance
  double zero_sigma = 0;  // prior of the zero error, SI; 0: no zero error (distance by default)
  double zero_keeps =
      0;  // how well a checked zero keeps until the next check, one sigma, SI; `sigma` by default
  double settle_window_s = 2.0;
  double settle_spread = 0;         // SI; three sigma unless the sheet says otherwise
  std::optional<double> station_m;  // an instrument that stays; empty: walking
  survey::Edge edge = survey::Edge::middle;
  std::optional<std::string>
      scale_checked;  // full-date: on that day somebody found its scale, unit and sign right
};

struct Calibration {
  std::string date, due, certificate;  // RFC 3339 full-date
};

enum class Parity { none, even, odd };

struct KitInstrument {
  std::string name, port;
  int baud = 9600;
  Parity parity = Parity::none;
  int stop_bits = 1;
  Speaks speaks = Speaks::xdr;
  std::string talker;      // xdr: only sentences of this one; empty: of any
  int address = 1;         // modbus
  double timeout_s = 0.5;  // modbus: until a unit that has been asked counts as not answering
  int retries = 2;         // modbus: asked again so often before the poll counts as failed
  double every_s = 0.1;    // modbus, and line with `ask`: from one asking to the next
  std::string ask;         // line: what is sent, line end and all; empty: the device sends by itself
  std::optional<Calibration> calibration;
  std::vector<KitChannel> channels;
};

struct KitSheet {
  std::string file;
  std::vector<KitInstrument> instruments;
  /// The channel of that instrument that gives it, or nullptr.
  [[nodiscard]] const KitChannel* find(std::string_view instrument, Channel gives) const;
};

struct KitSheetOrComplaints {
  std::optional<KitSheet> sheet;
  std::vector<Complaint> complaints;
};
/// Zero error prior of slope and roll where the sheet names none.
inline constexpr double kDefaultZeroSigma_rad = 0.0003;

[[nodiscard]] KitSheetOrComplaints read_kit_sheet(const std::string& path, const RunSheet& run);
[[nodiscard]] KitSheetOrComplaints parse_kit_sheet(std::string_view text, const std::string& shown_name,
                                                   const RunSheet& run);

}  // namespace hangtrue::sheet

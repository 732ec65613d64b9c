// sheets.hpp: an invented run and kit for the tests of the rehearsal.
#pragma once

#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <string>

#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"
#include "tests/firmware-host/fixtures/short_shelf.hpp"

namespace hangtrue::rehearsal {

inline const std::string kRunText = fixtures::short_shelf("Test shelf", fixtures::Post::fixed);

inline const std::string kKitText = R"([[instrument]]
name = "walking inclinometer"
port = "/dev/walking"
baud = 115200
speaks = "xdr"
calibration = { date = 2026-09-14, due = 2027-09-14, certificate = "invented" }
[[instrument.channel]]
transducer = "PITCH"
gives = "slope"
sign = -1
base = "250 mm"
range = ["-50 mm/m", "50 mm/m"]
sigma = "0.02 mm/m"
zero_sigma = "0.3 mm/m"
settle = { window = "200 ms", spread = "0.06 mm/m" }
station = "walking"
[[instrument.channel]]
transducer = "ROLL"
gives = "roll"
sigma = "0.02 mm/m"
zero_sigma = "0.3 mm/m"
settle = { window = "200 ms", spread = "0.06 mm/m" }
station = "walking"
[[instrument.channel]]
transducer = "PITCH"
gives = "temperature"
[[instrument.channel]]
transducer = "POS"
gives = "station"
[[instrument]]
name = "laser meter"
port = "/dev/laser"
baud = 115200
speaks = "xdr"
[[instrument.channel]]
transducer = "LDM"
gives = "distance"
sigma = "0.1 mm"
settle = { window = "200 ms", spread = "0.3 mm" }
station = "walking"
[[instrument]]
name = "post inclinometer"
port = "/dev/post"
baud = 115200
speaks = "xdr"
[[instrument.channel]]
transducer = "P2"
gives = "slope"
sigma = "0.02 mm/m"
settle = { window = "200 ms", spread = "0.06 mm/m" }
station = "2700 mm"
)";

/// More instruments, behind those of kKitText: one a way of speaking, and one of two on a line.
inline constexpr std::size_t kModbus = 3, kOtherModbus = 4, kTalkingLine = 5, kAskedLine = 6;
inline const std::string kOtherSpeechText = R"([[instrument]]
name = "register inclinometer"
port = "/dev/rs485"
baud = 115200
speaks = "modbus"
address = 17
[[instrument.channel]]
transducer = "input 40"
type = "int16"
scale = 0.001
unit = "deg"
gives = "slope"
sign = -1
base = "200 mm"
range = ["-80 mm/m", "80 mm/m"]
sigma = "0.03 mm/m"
zero_sigma = "0.3 mm/m"
settle = { window = "200 ms", spread = "0.1 mm/m" }
station = "walking"
[[instrument.channel]]
transducer = "input 41"
scale = 0.1
unit = "F"
gives = "temperature"
[[instrument]]
name = "register laser"
port = "/dev/rs485"
baud = 115200
speaks = "modbus"
address = 18
[[instrument.channel]]
transducer = "holding 100"
type = "float32"
words = "low first"
unit = "m"
gives = "distance"
sigma = "0.1 mm"
settle = { window = "200 ms", spread = "0.3 mm" }
station = "1000 mm"
edge = "left"
[[instrument.channel]]
transducer = "holding 102"
type = "int32"
scale = -0.001
unit = "mm/m"
gives = "roll"
sigma = "0.02 mm/m"
zero_sigma = "0.3 mm/m"
settle = { window = "200 ms", spread = "0.06 mm/m" }
station = "1000 mm"
[[instrument.channel]]
transducer = "holding 104"
type = "uint32"
words = "low first"
gives = "station"
[[instrument]]
name = "talking laser"
port = "/dev/talking"
baud = 115200
speaks = "line"
[[instrument.channel]]
transducer = "D: {number} {unit}"
gives = "distance"
sigma = "0.1 mm"
settle = { window = "200 ms", spread = "0.3 mm" }
station = "walking"
[[instrument]]
name = "asked laser"
port = "/dev/asked"
baud = 115200
speaks = "line"
ask = "how far?\r\n"
[[instrument.channel]]
transducer = "it is {number,} mm"
unit = "mm"
gives = "distance"
sigma = "0.3 mm"
settle = { window = "200 ms", spread = "0.9 mm" }
station = "walking"
)";

inline sheet::RunSheet run_sheet(const std::string& text = kRunText) {
  auto read = sheet::parse_run_sheet(text, "run.toml");
  if (!read.sheet) throw std::runtime_error(sheet::text(read.complaints));
  return std::move(*read.sheet);
}

inline sheet::KitSheet kit_sheet(const sheet::RunSheet& run, const std::string& text = kKitText,
                                 const std::string& file = "kit.toml") {
  auto read = sheet::parse_kit_sheet(text, file, run);
  if (!read.sheet) throw std::runtime_error(sheet::text(read.complaints));
  return std::move(*read.sheet);
}

/// A directory for one test, gone at its end.
class Directory {
 public:
  Directory() {
    std::string name = (std::filesystem::temp_directory_path() / "hangtrue-test-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary directory");
    path_ = name;
  }
  ~Directory() { std::filesystem::remove_all(path_); }
  Directory(const Directory&) = delete;
  Directory& operator=(const Directory&) = delete;
  [[nodiscard]] std::filesystem::path write(const std::string& name, const std::string& text) const {
    std::ofstream(path_ / name) << text;
    return path_ / name;
  }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

}  // namespace hangtrue::rehearsal

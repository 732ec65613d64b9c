// Any text as a kit sheet: either a kit or complaints that have words; and whatever kit it is, the maps of
// wire/ can be made from it.
#include "firmware-host/daemon/kit_channels.hpp"
#include "tests/fuzz/sheets.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace hangtrue;
  const auto read = sheet::parse_kit_sheet(fuzz::text_of(data, size), "fuzz.toml", fuzz::run());
  fuzz::require(read.sheet.has_value() == read.complaints.empty(), "a kit or complaints");
  for (const auto& complaint : read.complaints)
    fuzz::require(complaint.line >= 0 && !complaint.found.empty() && !complaint.expected.empty(),
                  "a complaint has words");
  if (!read.sheet) return 0;
  for (const sheet::KitInstrument& instrument : read.sheet->instruments) {
    const std::size_t stations = fuzz::run().stations_m.size();
    daemon::KitQuads quads(instrument, stations);
    quads.read("YX", std::vector<wire::XdrQuad>{{'A', 1, "PITCH"}, {'G', 2, "POS"}},
               [](const wire::Sample&) {});
    daemon::KitRegisters kit_registers(instrument, stations);
    wire::RegisterMap& registers = kit_registers.map();
    for (std::size_t i = 0; i < registers.requests().size(); ++i) {
      const wire::ReadRequest& request = registers.requests()[i];
      fuzz::require(wire::read_request(request).ok(), "what is asked can be asked");
      registers.read(i, std::vector<std::uint16_t>(std::size_t(request.count), 0x7FC0),
                     [](const wire::Sample&) {});
    }
    daemon::KitLines lines(instrument, stations);
    for (const auto& complaint : daemon::complaints_of_speech(instrument, "fuzz.toml"))
      fuzz::require(!complaint.found.empty() && !complaint.expected.empty(), "a complaint has words");
    (void)lines.map().read("DIST 1.234 m", [](const wire::Sample&) {});
  }
  return 0;
}

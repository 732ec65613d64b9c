#include "firmware-host/daemon/sheets.hpp"

#include <utility>

#include "firmware-host/daemon/kit_channels.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/sheet/walk.hpp"

namespace hangtrue::daemon {
namespace {

void add(std::vector<sheet::Complaint>& all, const std::vector<sheet::Complaint>& more) {
  all.insert(all.end(), more.begin(), more.end());
}

/// The text, or nothing and its complaints added.
std::optional<std::string> text_of(const std::string& path, std::vector<sheet::Complaint>& complaints) {
  sheet::Sink sink;
  sink.file = path;
  auto text = sheet::read_text_file(path, sink);
  add(complaints, sink.complaints);
  return text;
}

}  // namespace

std::variant<Sheets, std::vector<sheet::Complaint>> load_sheets(const std::string& run_path,
                                                                const std::string& kit_path) {
  std::vector<sheet::Complaint> complaints;
  auto run_text = text_of(run_path, complaints);
  auto kit_text = text_of(kit_path, complaints);
  std::optional<sheet::RunSheet> run;
  std::optional<sheet::KitSheet> kit;
  if (run_text) {
    auto parsed = sheet::parse_run_sheet(*run_text, run_path);
    add(complaints, parsed.complaints);
    run = std::move(parsed.sheet);
  }
  if (run) {
    const job::SolvedRun solved(*run);
    if (solved.trouble()) complaints.push_back(say::complaint(*run, *solved.trouble()));
  }
  if (run && kit_text) {  // a kit sheet is read against its run
    auto parsed = sheet::parse_kit_sheet(*kit_text, kit_path, *run);
    add(complaints, parsed.complaints);
    kit = std::move(parsed.sheet);
  }
  if (kit)
    for (const sheet::KitInstrument& instrument : kit->instruments)
      add(complaints, complaints_of_speech(instrument, kit_path));
  if (!complaints.empty()) return complaints;
  return Sheets{*std::move(run), *std::move(run_text), *std::move(kit), *std::move(kit_text)};
}

Told Sheets::told(const job::Fault& fault) const {
  return both([&](const sheet::RunSheet& sheet) { return say::complaint_words(sheet, fault); });
}

Told Sheets::told(const book::Fault& fault) const {
  if (shown.show.language == sheet::Language::english) return fault.says;
  return {fault.says,
          say::said(shown.show, "The level book cannot be read or written. The computer says more.")};
}

}  // namespace hangtrue::daemon

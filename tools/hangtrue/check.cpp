// hangtrue check RUN.toml [KIT.toml]: what is wrong with the sheets, and what is doubtful; nothing else.
#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/daemon/kit_channels.hpp"
#include "firmware-host/say/sheet_doubts.hpp"
#include "tools/hangtrue/colour.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

constexpr const char* kNothing = "Nothing is wrong, and nothing doubtful, as far as a program can tell.\n";

struct CheckArguments {
  std::string run, kit;
  bool json = false;
};

/// Everything that was found, as it is found.
class Findings {
 public:
  explicit Findings(bool json) : json_(json) {}

  void complaints(const std::vector<sheet::Complaint>& complaints) {
    for (const sheet::Complaint& each : complaints) {
      if (json_)
        line("complaint", each.file, each.line, each.key,
             "found " + each.found + ", expected " + each.expected);
      else
        show(each.text() + '\n', {{each.text(), Tone::bad}});
    }
    wrong_ = wrong_ || !complaints.empty();
  }
  void doubts(const sheet::RunSheet& run, const std::vector<job::SheetDoubt>& doubts) {
    if (json_)
      for (const job::SheetDoubt& each : doubts)
        line("doubt", run.file, each.line, each.key, say::doubt_words(run, each));
    else
      show(say::doubts_view(run, doubts), {{say::doubts_view(run, doubts), Tone::caution}});
    doubtful_ = doubtful_ || !doubts.empty();
  }
  [[nodiscard]] bool wrong() const { return wrong_; }
  [[nodiscard]] bool doubtful() const { return doubtful_; }

 private:
  static void line(const char* what, const std::string& file, int at, const std::string& key,
                   const std::string& says) {
    using Json = nlohmann::ordered_json;
    const Json object = {{"what", what}, {"file", file}, {"line", at}, {"key", key}, {"says", says}};
    std::cout << object.dump(-1, ' ', false, Json::error_handler_t::replace) << '\n';
  }

  bool json_, wrong_ = false, doubtful_ = false;
};

void check_kit(const std::string& path, const sheet::RunSheet& run, Findings& findings) {
  const sheet::KitSheetOrComplaints read = sheet::read_kit_sheet(path, run);
  findings.complaints(read.complaints);
  if (!read.sheet) return;
  for (const sheet::KitInstrument& each : read.sheet->instruments)
    findings.complaints(daemon::complaints_of_speech(each, path));
  findings.doubts(run, job::kit_doubts(run, *read.sheet, sheet::lines_of_file(run.file)));
}

}  // namespace

void add_check(CLI::App& app, int& exit_code) {
  CLI::App* const command =
      app.add_subcommand("check", "what is wrong with the sheets, and what is doubtful; nothing else");
  const auto arguments = std::make_shared<CheckArguments>();
  command->add_option("RUN", arguments->run, "the run sheet (TOML)")->required();
  command->add_option("KIT", arguments->kit, "the kit sheet (TOML)");
  command->add_flag("--json", arguments->json, "for programs: an object a line");
  command->callback([arguments, &exit_code] {
    Findings findings(arguments->json);
    try {
      const QuestionedRun run = question_run(arguments->run);
      findings.doubts(run.sheet, run.doubts);
      if (!arguments->kit.empty()) check_kit(arguments->kit, run.sheet, findings);
    } catch (const Stop& stop) {
      if (stop.complaints.empty()) throw;
      findings.complaints(stop.complaints);
      if (!arguments->kit.empty())
        std::cerr << "Note: " << arguments->kit
                  << " was not looked at: a kit sheet is read against a run sheet that is whole\n";
    }
    if (findings.wrong()) exit_code = kBadInput;
    if (!findings.wrong() && !findings.doubtful() && !arguments->json)
      show(kNothing, {{kNothing, Tone::good}});
  });
}

}  // namespace hangtrue::tools

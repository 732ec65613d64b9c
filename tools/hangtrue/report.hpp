// report.hpp: hangtrue report [RUN.toml] --book B --survey ID -o F.pdf: the as-built record; with --card the shim card to print; with
// --from ID --to ID the recheck report. F.html: the same for those who do not see.
//
// The libraries that draw are linked by a program of its own, hangtrue-report, so that the command does without them where
// nobody wants documents. The command reads the options and becomes that program.
#pragma once

#include <functional>
#include <optional>
#include <string>

namespace CLI {
class App;
}

namespace hangtrue::tools {

inline constexpr const char* kReportProgram = "hangtrue-report";

struct ReportArguments {
  std::string run, book, survey, from, to, out, paper, kit, tolerance;
  std::optional<double> days;
  bool card = false, force = false, json = false;
};

/// The subcommand, with what makes the document.
void add_report(CLI::App& app, int& exit_code, std::function<void(const ReportArguments&)> make);

/// Makes it here and now: in the program that draws. Errors: a Stop.
void draw_report(const ReportArguments& arguments);

}  // namespace hangtrue::tools

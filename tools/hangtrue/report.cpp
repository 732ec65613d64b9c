#include "tools/hangtrue/report.hpp"

#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <iterator>
#include <memory>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

/// The words that ask the drawing program for the same.
std::vector<std::string> words_of(const ReportArguments& arguments) {
  std::vector<std::string> words = {"report"};
  // In one word with its option: a value may begin with a dash.
  for (const auto& [option, value] : {std::pair{"--book=", arguments.book},
                                      {"--out=", arguments.out},
                                      {"--survey=", arguments.survey},
                                      {"--from=", arguments.from},
                                      {"--to=", arguments.to},
                                      {"--paper=", arguments.paper},
                                      {"--kit=", arguments.kit},
                                      {"--tolerance=", arguments.tolerance}})
    if (!value.empty()) words.push_back(option + value);
  if (arguments.days) words.push_back(fmt::format("--days={}", *arguments.days));
  for (const auto& [flag, is_set] :
       {std::pair{"--card", arguments.card}, {"--force", arguments.force}, {"--json", arguments.json}})
    if (is_set) words.emplace_back(flag);
  if (!arguments.run.empty()) words.insert(words.end(), {"--", arguments.run});
  return words;
}

/// Becomes the program that draws: beside this command in a build, in libexec once installed.
void hand_over(const ReportArguments& arguments) {
  const std::filesystem::path here = std::filesystem::read_symlink("/proc/self/exe").parent_path();
  for (const std::filesystem::path& place :
       {here / kReportProgram, here.parent_path() / "libexec" / "hangtrue" / kReportProgram}) {
    if (!std::filesystem::exists(place)) continue;
    std::vector<std::string> words = words_of(arguments);
    words.insert(words.begin(), place.string());
    std::vector<char*> argv;
    for (std::string& word : words) argv.push_back(word.data());
    argv.push_back(nullptr);
    ::execv(argv[0], argv.data());
    throw Stop{kCouldNot,
               "hangtrue report: " + place.string() + " cannot be started: " + std::strerror(errno) + '\n'};
  }
  throw Stop{kCouldNot, std::string("hangtrue report: the program that draws, ") + kReportProgram +
                            ", is not there: it comes with the package hangtrue-report\n"};
}

}  // namespace

void add_report(CLI::App& app, int& exit_code, std::function<void(const ReportArguments&)> make) {
  CLI::App* const command = app.add_subcommand(
      "report", "as-built record, shim card to print, or recheck report: PDF, HTML, SVG or PNG");
  const auto arguments = std::make_shared<ReportArguments>();
  command->add_option("RUN", arguments->run, "the run sheet (TOML); that of the survey unless given");
  command->add_option("--book", arguments->book, "the level book")->required();
  command->add_option("--survey", arguments->survey, "the survey; hangtrue surveys lists them");
  CLI::Option* const from = command->add_option("--from", arguments->from, "a recheck: the earlier survey");
  CLI::Option* const to = command->add_option("--to", arguments->to, "and the later one");
  add_days(*command, arguments->days)->needs(from);
  add_tolerance(*command, arguments->tolerance)->needs(from);
  command
      ->add_option(
          "--kit", arguments->kit,
          "with --from: a kit sheet (TOML) in the place of those in the book: sigmas, signs, scales, feet")
      ->needs(from);
  CLI::Option* const card = command->add_flag("--card", arguments->card, "the shim card, on one page");
  command
      ->add_option("-o,--out", arguments->out,
                   "the file to write: .pdf, or .html to be read aloud, or .svg or .png with a file a page")
      ->required();
  command->add_option("--paper", arguments->paper, "a4 or letter; by the sheet's units unless given")
      ->check(CLI::IsMember({"a4", "letter"}));
  command->add_flag("--force", arguments->force, "write over existing files");
  command->add_flag("--json", arguments->json, "for programs: the pages and the files written");
  from->needs(to);
  to->needs(from);
  card->excludes(from);
  command->footer("Made from the level book alone: the same book gives the same bytes.");
  command->callback([arguments, &exit_code, make = std::move(make)] {
    make(*arguments);
    exit_code = kDone;
  });
}

void add_report(CLI::App& app, int& exit_code) { add_report(app, exit_code, hand_over); }

}  // namespace hangtrue::tools

// subcommand.hpp: what each subcommand offers to main, and what they share.
//
// Exit codes  0 done; 1 the answer is "no" (limit exceeded, seal broken, shims cannot, read again); 2 wrong use or bad input;
//             3 could not do it.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/job/history.hpp"
#include "firmware-host/job/sheet_doubts.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace CLI {
class App;
class Option;
}  // namespace CLI

namespace hangtrue::tools {

enum ExitCode { kDone = 0, kAnswerIsNo = 1, kBadInput = 2, kCouldNot = 3 };

/// Ends a subcommand: the words go to standard error, with --json as an object; the code to the shell.
struct Stop {
  int code;
  std::string words;
  std::vector<sheet::Complaint> complaints = {};  // that the words are made of
};
[[noreturn]] void stop_for(const std::vector<sheet::Complaint>& complaints);

/// The sheet, and what of it is doubtful. A run that nothing holds in some stage stops with its words.
struct QuestionedRun {
  sheet::RunSheet sheet;
  std::vector<job::SheetDoubt> doubts;
};
[[nodiscard]] QuestionedRun question_run(const std::string& path);
/// The sheet; its doubts go to standard error.
[[nodiscard]] sheet::RunSheet load_run(const std::string& path);
/// Likewise: what this kit cannot tell of the run.
[[nodiscard]] sheet::KitSheet load_kit(const std::string& path, const sheet::RunSheet& run);

/// kBadInput where another file would cure it, kCouldNot where the file or the machine is at fault.
[[nodiscard]] ExitCode exit_code(book::Trouble trouble);
/// What the book gave, or the end with the words of the fault.
template <class Value>
[[nodiscard]] Value from_book(Result<Value, book::Fault> result) {
  if (result.ok()) return std::move(result).value();
  throw Stop{exit_code(result.fault().trouble), result.fault().says + '\n'};
}
/// The end with kAnswerIsNo and the audit's findings where the book is not whole; `consequence`: "and was not sealed".
void stop_if_broken(const book::Book& book, const std::string& book_path, const std::string& consequence);
/// What is to be said of a book whose log may be missing.
[[nodiscard]] std::string log_may_be_missing(const std::string& book_path);
/// The survey of that name, or a complaint that names those there are. `option`: by which it was named.
[[nodiscard]] book::SurveyRecord survey_named(const book::Book& book, const std::string& id,
                                              const std::string& book_path,
                                              const std::string& option = "--survey");
/// The run sheet that a survey went by, as the book has it: that one counts. The end where the one given differs in what
/// matters to readings; what else differs, as remarks, in the language
/// of `show`. One that cannot be read any more gives way to the one given.
struct BookedRun {
  sheet::RunSheet sheet;
  std::vector<std::string> remarks;
};
[[nodiscard]] BookedRun booked_run(const book::Book& book, const book::SurveyRecord& survey,
                                   const sheet::RunSheet& given, const std::string& given_path,
                                   sheet::Show show = {});
/// The run sheet that a survey went by, where no other is given; the end where it cannot be read any more.
[[nodiscard]] sheet::RunSheet run_of_book(const book::Book& book, const book::SurveyRecord& survey,
                                          const std::string& book_path);
/// The title in a run sheet of the book; the sheet's file name where it cannot be read any more.
[[nodiscard]] std::string run_title(const book::Book& book, book::Number run);

/// "--days N" of a recheck: what truly passed, where the times in the book are wrong.
CLI::Option* add_days(CLI::App& command, std::optional<double>& days);
/// "--tolerance LENGTH" of a recheck: in the place of the sheet's.
CLI::Option* add_tolerance(CLI::App& command, std::string& tolerance);
/// Nothing where the text is empty.
void take_tolerance(const std::string& tolerance, sheet::RunSheet& run);

/// Index of a stage; `where` is the file that named it.
[[nodiscard]] int stage_named(const sheet::RunSheet& run, const std::string& name, const std::string& where);

/// Where a survey's readings come from: a CSV and a stage, or a level book and a survey. From a book come its checks of
/// the instruments too (session/checks.hpp); a CSV has none.
struct SurveySource {
  std::string run_path, kit_path, readings_path, stage, book_path, survey;
  bool json = false;

  void add_options(CLI::App& command);
};
/// A survey read and fitted; from a book, with what the surveys of the run before it taught. Its fit refers to the sheets
/// beside it: keep them together.
struct FittedSurvey {
  sheet::RunSheet run;
  std::optional<sheet::KitSheet> kit;
  job::History history;                 // of a book
  std::unique_ptr<job::SurveyFit> csv;  // of readings
  job::SurveyFit* session = nullptr;    // one of the two
};
[[nodiscard]] std::unique_ptr<FittedSurvey> fitted(const SurveySource& source);

/// The whole command: all subcommands, in the order of --help.
void add_hangtrue(CLI::App& app, int& exit_code);
/// main() of a program whose parser `add` fills: what a subcommand throws becomes words, or JSON, and the exit code.
[[nodiscard]] int run_command(int argc, char** argv, const std::function<void(CLI::App&, int&)>& add);

// Each adds itself to the command; its work sets `exit_code`.
void add_new(CLI::App& app, int& exit_code);
void add_check(CLI::App& app, int& exit_code);
void add_explain(CLI::App& app, int& exit_code);
void add_predict(CLI::App& app, int& exit_code);
void add_fit(CLI::App& app, int& exit_code);
void add_shims(CLI::App& app, int& exit_code);
void add_rehearse(CLI::App& app, int& exit_code);
void add_surveys(CLI::App& app, int& exit_code);
void add_seal(CLI::App& app, int& exit_code);
void add_audit(CLI::App& app, int& exit_code);
void add_copy(CLI::App& app, int& exit_code);
void add_export(CLI::App& app, int& exit_code);
void add_report(CLI::App& app, int& exit_code);
void add_recheck(CLI::App& app, int& exit_code);
void add_stations(CLI::App& app, int& exit_code);
void add_spring(CLI::App& app, int& exit_code);
void add_sheet(CLI::App& app, int& exit_code);
void add_pack(CLI::App& app, int& exit_code);

}  // namespace hangtrue::tools

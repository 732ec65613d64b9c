// subcommand.hpp: what each subcommand offers to main, and what they share.
//
// Exit codes  0 done; 1 the answer is "no" (limit exceeded, seal broken, shims cannot, read again); 2 wrong use or bad input;
//             3 could not do it.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "firmware-host/session/survey_session.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace CLI {
class App;
}

namespace hangtrue::tools {

enum ExitCode { kDone = 0, kAnswerIsNo = 1, kBadInput = 2, kCouldNot = 3 };

/// Ends a subcommand: the words go to standard error, the code to the shell.
struct Stop {
  int code;
  std::string words;
};
[[noreturn]] void stop_for(const std::vector<sheet::Complaint>& complaints);

/// The sheet, solved; a run that nothing holds in some stage stops with its words.
[[nodiscard]] sheet::RunSheet load_run(const std::string& path);
[[nodiscard]] sheet::KitSheet load_kit(const std::string& path, const sheet::RunSheet& run);

/// Index of a stage; `where` is the file that named it.
[[nodiscard]] int stage_named(const sheet::RunSheet& run, const std::string& name, const std::string& where);

/// Where a survey's readings come from: a CSV and a stage, or a level book and a survey.
struct SurveySource {
  std::string run_path, kit_path, readings_path, stage, book_path, survey;
  bool json = false;

  void add_options(CLI::App& command);
};
/// A survey read and fitted. Its fit refers to the sheets beside it: keep them together.
struct FittedSurvey {
  sheet::RunSheet run;
  std::optional<sheet::KitSheet> kit;
  std::unique_ptr<session::SurveySession> session;
};
[[nodiscard]] std::unique_ptr<FittedSurvey> fitted(const SurveySource& source);

// Each adds itself to the command; its work sets `exit_code`.
void add_predict(CLI::App& app, int& exit_code);
void add_fit(CLI::App& app, int& exit_code);
void add_shims(CLI::App& app, int& exit_code);
void add_rehearse(CLI::App& app, int& exit_code);

}  // namespace hangtrue::tools

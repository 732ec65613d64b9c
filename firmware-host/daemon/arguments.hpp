// arguments.hpp: what hangtrued is called with. Apart from the daemon, so that its manual page is written from the same parser.
#pragma once

#include <string>

namespace CLI {
class App;
class Option;
}  // namespace CLI

namespace hangtrue::daemon {

struct Arguments {
  std::string run_path, kit_path, book_path, stage_name, survey, page, clock_ahead;
  std::string broker, broker_version = "3.1.1", broker_password_file;
  bool json_lines = false;
  double patience_s = 30;
  CLI::Option* where_page = nullptr;  // whether a page was asked for
};

/// What the help says the program is.
inline constexpr const char* kWhatItIs =
    "hangtrued: reads inclinometers and distance meters along a run, and says what to set before bolting";
/// `arguments` must outlive the parser.
void add_arguments(CLI::App& app, Arguments& arguments);

}  // namespace hangtrue::daemon

#include <algorithm>
#include <exception>
#include <iostream>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/sheet/nearest.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {
namespace {

/// Whoever asks with --json gets what is wrong as JSON too: one object on one line, the last on standard error.
int end(const Stop& stop, bool json) {
  if (!json) {
    std::cerr << stop.words;
    return stop.code;
  }
  nlohmann::ordered_json says = {{"exit_code", stop.code},
                                 {"message", stop.words.substr(0, stop.words.find_last_not_of('\n') + 1)}};
  if (!stop.complaints.empty()) says["complaints"] = nlohmann::ordered_json::array();
  for (const sheet::Complaint& each : stop.complaints)
    says["complaints"].push_back({{"file", each.file},
                                  {"line", each.line},
                                  {"key", each.key},
                                  {"found", each.found},
                                  {"expected", each.expected}});
  std::cerr << says.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
  return stop.code;
}

std::vector<std::string> subcommands(const CLI::App& app) {
  std::vector<std::string> names;
  for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; }))
    names.push_back(command->get_name());
  return names;
}

std::string did_you_mean(const std::string& written, const std::vector<std::string>& names) {
  const std::string near = sheet::nearest(written, names);
  return near.empty() ? "" : "; did you mean \"" + near + "\"?";
}

/// `written`: in the place of a subcommand; empty: nothing.
Stop no_subcommand(const CLI::App& app, const std::string& written) {
  std::string known;
  for (const std::string& name : subcommands(app)) known += (known.empty() ? "" : ", ") + name;
  return {kBadInput, "hangtrue: found " + (written.empty() ? "nothing" : '"' + written + '"') +
                         ", expected one of: " + known + did_you_mean(written, subcommands(app)) +
                         "\nhangtrue --help says what each does\n"};
}

/// What the parser says, of which subcommand, and what an option that there is not may mean.
Stop wrong_use(const CLI::App& app, const CLI::ParseError& error, std::span<char* const> arguments) {
  const CLI::App& command = app.get_subcommands().empty() ? app : *app.get_subcommands().front();
  const std::string name = &command == &app ? "hangtrue" : "hangtrue " + command.get_name();
  std::vector<std::string> options;
  for (const CLI::Option* option : command.get_options())
    for (const std::string& each : option->get_lnames()) options.push_back("--" + each);
  std::string says = name + ": " + error.what();
  for (const std::string_view argument : arguments) {
    const std::string written(argument.substr(0, argument.find('=')));
    if (written.starts_with("--") && written.size() > 2 && std::ranges::count(options, written) == 0)
      says += did_you_mean(written, options);
  }
  return {kBadInput, says + '\n' + name + " --help says what it takes\n"};
}

}  // namespace

int run_command(int argc, char** argv, const std::function<void(CLI::App&, int&)>& add) {
  CLI::App app;
  int exit_code = kDone;
  add(app, exit_code);
  const std::span<char*> arguments(argv, std::size_t(argc));
  const bool json = std::ranges::count(arguments, std::string_view("--json")) > 0;
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) return app.exit(error);  // --help and --version
    if (app.get_subcommands().empty() && (argc < 2 || argv[1][0] != '-'))
      return end(no_subcommand(app, argc < 2 ? "" : argv[1]), json);
    return end(wrong_use(app, error, arguments), json);
  } catch (const Stop& stop) {
    return end(stop, json);
  } catch (const std::exception& error) {
    return end({kCouldNot, "hangtrue: " + std::string(error.what()) + '\n'}, json);
  }
  std::cout.flush();
  if (!std::cout) return end({kCouldNot, "hangtrue: standard output could not be written\n"}, json);
  return exit_code;
}

}  // namespace hangtrue::tools

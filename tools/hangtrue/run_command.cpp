#include <algorithm>
#include <exception>
#include <iostream>
#include <span>
#include <string_view>

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

Stop no_subcommand(const CLI::App& app, const std::string& written) {
  std::string known;
  std::vector<std::string> names;
  for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; })) {
    names.push_back(command->get_name());
    known += (known.empty() ? "" : ", ") + names.back();
  }
  const std::string near = sheet::nearest(written, names);
  return {kBadInput, "hangtrue: found \"" + written + "\", expected one of: " + known +
                         (near.empty() ? "" : "; did you mean \"" + near + "\"?") + '\n'};
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
    if (argc > 1 && argv[1][0] != '-' && app.get_subcommands().empty())
      return end(no_subcommand(app, argv[1]), json);
    if (json && error.get_exit_code() != 0) return end({kBadInput, error.what()}, json);
    return app.exit(error) == 0 ? int(kDone) : int(kBadInput);
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

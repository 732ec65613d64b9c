// hangtrue: the command. One file a subcommand.
#include <exception>
#include <iostream>

#include <CLI/CLI.hpp>

#include "tools/hangtrue/subcommand.hpp"

int main(int argc, char** argv) {
  using namespace hangtrue::tools;
  CLI::App app{"hangtrue: level and sag of a suspended run, and what to set before its last bolts are tight"};
  app.require_subcommand(1);
  app.footer(
      "Exit codes: 0 done; 1 the answer is no; 2 wrong use or bad input; 3 could not do it.\n"
      "Shape, not strength. Keep lifts or props under the run until every final bolt is tight and checked.");
  int exit_code = kDone;
  add_predict(app, exit_code);
  add_fit(app, exit_code);
  add_shims(app, exit_code);
  add_rehearse(app, exit_code);
  add_surveys(app, exit_code);
  add_seal(app, exit_code);
  add_audit(app, exit_code);
  add_copy(app, exit_code);
  add_export(app, exit_code);
  add_report(app, exit_code);
  add_recheck(app, exit_code);
  add_stations(app, exit_code);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (argc > 1 && argv[1][0] != '-' && app.get_subcommands().empty()) {
      std::string known;
      for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; }))
        known += (known.empty() ? "" : ", ") + command->get_name();
      std::cerr << "hangtrue: found \"" << argv[1] << "\", expected one of: " << known << '\n';
      return kBadInput;
    }
    return app.exit(error) == 0 ? int(kDone) : int(kBadInput);
  } catch (const Stop& stop) {
    std::cerr << stop.words;
    return stop.code;
  } catch (const std::exception& error) {
    std::cerr << "hangtrue: " << error.what() << '\n';
    return kCouldNot;
  }
  std::cout.flush();
  if (!std::cout) {
    std::cerr << "hangtrue: standard output could not be written\n";
    return kCouldNot;
  }
  return exit_code;
}

// hangtrue-report: draws the documents. `hangtrue report` becomes this program.
#include <CLI/CLI.hpp>

#include "tools/hangtrue/report.hpp"
#include "tools/hangtrue/subcommand.hpp"

int main(int argc, char** argv) {
  using namespace hangtrue::tools;
  return run_command(argc, argv, [](CLI::App& app, int& exit_code) {
    app.require_subcommand(1);
    add_report(app, exit_code, draw_report);
  });
}

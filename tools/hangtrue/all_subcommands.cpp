#include <CLI/CLI.hpp>

#include "firmware-host/version/version.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

void add_hangtrue(CLI::App& app, int& exit_code) {
  app.description(
      "hangtrue: level and sag of a suspended run, and what to set before its last bolts are tight");
  app.require_subcommand(1);
  app.set_version_flag("--version", version_text("hangtrue"), "version, commit and formats");
  app.footer(
      "Exit codes: 0 done; 1 the answer is no; 2 wrong use or bad input; 3 could not do it.\n"
      "Shape, not strength. Keep lifts or props under the run until every final bolt is tight and checked.");
  add_new(app, exit_code);
  add_check(app, exit_code);
  add_explain(app, exit_code);
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
  add_spring(app, exit_code);
  add_sheet(app, exit_code);
  add_pack(app, exit_code);
}

}  // namespace hangtrue::tools

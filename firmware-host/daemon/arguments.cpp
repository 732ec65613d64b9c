#include "firmware-host/daemon/arguments.hpp"

#include <cmath>

#include <CLI/CLI.hpp>

#include "firmware-host/version/version.hpp"

namespace hangtrue::daemon {

void add_arguments(CLI::App& app, Arguments& arguments) {
  app.set_version_flag("--version", version_text("hangtrued"), "version, commit and formats");
  app.add_option("RUN", arguments.run_path, "the run sheet (TOML)")->required();
  app.add_option("KIT", arguments.kit_path, "the kit sheet (TOML)")->required();
  app.add_option("--book", arguments.book_path, "the level book; made when it is not there")->required();
  app.add_option("--stage", arguments.stage_name, "the stage to survey; the first unless given");
  app.add_option("--survey", arguments.survey, "a name for the survey; numbered unless given");
  app.add_option("--patience", arguments.patience_s, "seconds that take waits for what has not settled")
      ->check(CLI::Validator(
          [](const std::string& text) {
            double seconds = -1;
            const bool is_number = CLI::detail::lexical_cast(text, seconds) && std::isfinite(seconds);
            return is_number && seconds >= 0 && seconds <= 3600 ? std::string()
                                                                : "a number of seconds from 0 to 3600";
          },
          "SECONDS"))
      ->capture_default_str();
  arguments.where_page =
      app.add_option(
             "--page", arguments.page,
             "address and port of the page for phones, or off; 127.0.0.1:8765 unless given, which this "
             "machine alone can reach")
          ->type_name("ADDRESS:PORT");
  CLI::Option* const broker = app.add_option("--broker", arguments.broker,
                                             "an MQTT broker that is told readings, live values, states, "
                                             "cards and seals; none unless given. mqtts:// for TLS")
                                  ->type_name("mqtt://[USER@]HOST[:PORT]");
  app.add_option("--broker-version", arguments.broker_version, "of MQTT")
      ->check(CLI::IsMember({"3.1.1", "5"}))
      ->needs(broker)
      ->capture_default_str();
  app.add_option(
         "--broker-password-file", arguments.broker_password_file,
         "a file whose first line is the user's password; else the variable HANGTRUE_BROKER_PASSWORD has it")
      ->type_name("FILE")
      ->needs(broker);
  app.add_option(
      "--clock-ahead", arguments.clock_ahead,
      "for rehearsals: the clock is taken to be so much ahead, such as \"365 days\" or \"1 year\"; the "
      "book says so");
  app.add_flag("--json-lines", arguments.json_lines, "one JSON object a line on standard output");
  app.footer(
      "Commands on standard input, one a line; \"help\" lists them.\nKeep lifts or props under the run until "
      "every final bolt is tight and checked.");
}

}  // namespace hangtrue::daemon

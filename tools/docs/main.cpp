// write_docs TO: manual pages, completions and JSON Schemas into folders of TO: man, completions, schemas. In the project
// `write_docs data`; a test sees that what lies there is what this writes.
#include <filesystem>
#include <fstream>
#include <iostream>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/daemon/arguments.hpp"
#include "firmware-host/json/keys.hpp"
#include "tools/docs/completions.hpp"
#include "tools/docs/man.hpp"
#include "tools/hangtrue/subcommand.hpp"

int main(int argc, char** argv) {
  using namespace hangtrue;
  if (argc != 2) {
    std::cerr << "write_docs: one folder, into which to write\n";
    return 2;
  }
  CLI::App command;
  int exit_code = 0;
  tools::add_hangtrue(command, exit_code);
  CLI::App daemon{daemon::kWhatItIs};
  daemon::Arguments arguments;
  daemon::add_arguments(daemon, arguments);
  const std::filesystem::path to = argv[1];
  bool written = true;
  const auto write = [&](const char* name, const std::string& text) {
    std::filesystem::create_directories((to / name).parent_path());
    std::ofstream file(to / name, std::ios::binary);
    file << text;
    file.close();
    if (!file) std::cerr << "write_docs: " << (to / name).string() << " cannot be written\n";
    written = written && file.good();
  };
  try {
    write("man/hangtrue.1", docs::command_page(command));
    write("man/hangtrued.8", docs::daemon_page(daemon));
    write("man/hangtrue-run-sheet.5", docs::sheet_page(sheet::SheetSort::run));
    write("man/hangtrue-kit-sheet.5", docs::sheet_page(sheet::SheetSort::kit));
    write("completions/hangtrue.bash", docs::bash_completion(command, daemon));
    write("completions/hangtrue.zsh", docs::zsh_completion(command, daemon));
    write("completions/hangtrue.fish", docs::fish_completion(command, daemon));
    write("schemas/run-sheet.schema.json", json::sheet_schema(sheet::SheetSort::run).dump(1) + '\n');
    write("schemas/kit-sheet.schema.json", json::sheet_schema(sheet::SheetSort::kit).dump(1) + '\n');
  } catch (const std::exception& error) {
    std::cerr << "write_docs: " << error.what() << '\n';
    return 3;
  }
  return written ? 0 : 3;
}

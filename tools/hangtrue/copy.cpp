// hangtrue copy BOOK TO: a true copy of a level book, also of one that a daemon writes in.
#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

struct CopyArguments {
  std::string book, to;
  bool json = false;
};

}  // namespace

void add_copy(CLI::App& app, int& exit_code) {
  CLI::App* const command = app.add_subcommand(
      "copy", "a true copy of a level book: one file, itself whole, also beside a running hangtrued");
  const auto arguments = std::make_shared<CopyArguments>();
  command->add_option("BOOK", arguments->book, "the level book")->required();
  command->add_option("TO", arguments->to, "the file to make; nothing may lie there yet")->required();
  command->add_flag("--json", arguments->json, "for programs");
  command->callback([arguments, &exit_code] {
    const book::Book book = from_book(book::Book::open_to_read(arguments->book));
    const book::Audit copy = from_book(book.copy_to(arguments->to));
    if (!copy.whole()) {
      std::string words = arguments->book + " is not whole and was not copied:\n";
      for (const std::string& finding : copy.findings) words += "  " + finding + '\n';
      throw Stop{kAnswerIsNo, words};
    }
    if (copy.log_may_be_missing) std::cerr << "Note: " << log_may_be_missing(arguments->book) << '\n';
    exit_code = kDone;
    if (arguments->json) {
      const nlohmann::ordered_json json{{"copy", arguments->to},
                                        {"entries", copy.entries},
                                        {"log_may_be_missing", copy.log_may_be_missing}};
      std::cout << json.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
      return;
    }
    std::cout << arguments->to << ": a true copy of " << arguments->book << ", " << copy.entries
              << (copy.entries == 1 ? " entry" : " entries") << ", whole\n";
  });
}

}  // namespace hangtrue::tools

// hangtrue seal B: a seal over everything in a level book so far, short enough to be noted elsewhere.
#include <unistd.h>

#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/book/qr_code.hpp"
#include "firmware-host/book/short_form.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

struct SealArguments {
  std::string book;
  bool qr = false, json = false;
};

/// Dark on light whatever the terminal's own colours are, since few readers take an inverted code.
void print_qr(const std::string& text) {
  const auto code = book::qr_code(text);
  if (!code) throw Stop{kCouldNot, "hangtrue: no QR code could be made of \"" + text + "\"\n"};
  const bool colours = ::isatty(STDOUT_FILENO) != 0;
  for (const std::string& line : book::terminal_lines(*code))
    std::cout << (colours ? "\x1b[30;107m" : "") << line << (colours ? "\x1b[0m" : "") << '\n';
}

/// A seal over a book that is not whole would promise what is not so. It must be there, too: sealing makes no books.
void check_whole(const std::string& path) {
  stop_if_broken(from_book(book::Book::open_to_read(path)), path, "and was not sealed");
}

}  // namespace

void add_seal(CLI::App& app, int& exit_code) {
  CLI::App* const command =
      app.add_subcommand("seal", "append a seal to a level book, and say what to note of it");
  const auto arguments = std::make_shared<SealArguments>();
  command->add_option("BOOK", arguments->book, "the level book")->required();
  command->add_flag("--qr", arguments->qr, "also as a QR code");
  command->add_flag("--json", arguments->json, "for programs")->excludes("--qr");
  command->callback([arguments, &exit_code] {
    check_whole(arguments->book);
    book::Book book = from_book(book::Book::open(arguments->book));
    const book::SealRecord seal = from_book(book.seal());
    const std::string short_form = book::short_form(seal.hash),
                      noted = std::to_string(seal.number) + ' ' + short_form;
    exit_code = kDone;
    if (arguments->json) {
      const nlohmann::ordered_json json{{"number", seal.number},      {"time", seal.time},
                                        {"entries", seal.number - 1}, {"hash", seal.hash},
                                        {"short", short_form},        {"text", book::seal_text(seal)}};
      std::cout << json.dump() << '\n';
      return;
    }
    std::cout << "Seal " << seal.number << " over the " << seal.number - 1 << " entries of "
              << arguments->book << ", " << seal.time << "\n  hash   " << seal.hash << "\n  short  "
              << short_form << '\n';
    if (arguments->qr) print_qr(book::seal_text(seal));
    std::cout << "Note number and short form outside of the book: on paper, by phone, by mail. Later:\n"
              << "  hangtrue audit " << arguments->book << " --seal \"" << noted << "\"\n";
  });
}

}  // namespace hangtrue::tools

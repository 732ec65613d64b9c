// hangtrue sheet BOOK [--survey ID] [--kit] [-o F.toml]: the run sheet or kit sheet of a level book, as it was then.
#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>

#include "tools/hangtrue/new_file.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

struct SheetArguments {
  std::string book, survey, out;
  bool kit = false, force = false;
};

std::string sheet_text(const book::Book& book, const SheetArguments& arguments) {
  book::SurveyRecord survey;
  if (arguments.survey.empty()) {
    std::vector<book::SurveyRecord> all = from_book(book.surveys());
    if (all.empty())
      stop_for(
          {{arguments.book, 0, "BOOK", "no survey", "a level book with a survey, whose sheets it holds"}});
    survey = std::move(all.back());
  } else {
    survey = survey_named(book, arguments.survey, arguments.book);
  }
  const book::Entry entry = from_book(book.entry(arguments.kit ? survey.begun.kit : survey.begun.run));
  if (const auto* const run = std::get_if<book::RunText>(&entry.content); run != nullptr && !arguments.kit)
    return run->text;
  if (const auto* const kit = std::get_if<book::KitText>(&entry.content); kit != nullptr && arguments.kit)
    return kit->text;
  stop_for({{arguments.book, 0, "survey " + survey.begun.id,
             std::string("no ") + (arguments.kit ? "kit" : "run") + " sheet in the book",
             "the sheet it went by"}});
}

}  // namespace

void add_sheet(CLI::App& app, int& exit_code) {
  CLI::App* const command =
      app.add_subcommand("sheet", "the run sheet or kit sheet of a level book, as a file again");
  const auto arguments = std::make_shared<SheetArguments>();
  command->add_option("BOOK", arguments->book, "the level book")->required();
  command->add_option("--survey", arguments->survey, "the survey that went by it; the last unless given");
  command->add_flag("--kit", arguments->kit, "the kit sheet, instead of the run sheet");
  command->add_option("-o,--out", arguments->out, "the file to write; standard output unless given");
  command->add_flag("--force", arguments->force, "write over an existing file");
  command->callback([arguments, &exit_code] {
    const book::Book book = from_book(book::Book::open_to_read(arguments->book));
    stop_if_broken(book, arguments->book, "and its sheet was not written out");
    const std::string text = sheet_text(book, *arguments);
    exit_code = kDone;
    if (arguments->out.empty()) {
      std::cout << text;
      return;
    }
    check_place(arguments->out, arguments->book, arguments->force);
    NewFile file(arguments->out);
    file.write(text);
    file.keep(arguments->force);
  });
}

}  // namespace hangtrue::tools

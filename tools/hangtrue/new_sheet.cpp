// hangtrue new run|kit [-o FILE]: a sheet to fill in, by options, or by a few questions at a terminal.
#include <unistd.h>

#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>

#include "tools/hangtrue/first_sheets.hpp"
#include "tools/hangtrue/new_file.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

struct NewSheetArguments {
  FirstRun run;
  FirstKit kit;
  std::string to;
  bool force = false, no_questions = false;
};

/// A question, its option, and where the answer goes. Not asked where the option was given.
template <class Answers>
struct Question {
  const char* words;
  CLI::Option* option;
  std::string Answers::*answer;
};

// An empty line takes what stands in brackets; an answer that cannot be used is said, and asked for again.
template <class Answers, class Filled>
void ask(const std::vector<Question<Answers>>& questions, Answers& answers, Filled filled) {
  for (const Question<Answers>& each : questions) {
    if (each.option->count() > 0) continue;
    while (true) {
      std::cerr << each.words << " [" << filled(answers).*each.answer << "] " << std::flush;
      std::string line;
      if (!std::getline(std::cin, line))
        throw Stop{kBadInput, "\nhangtrue: standard input ended before all was answered\n"};
      const std::string before = answers.*each.answer;
      if (!line.empty()) answers.*each.answer = line;
      std::vector<sheet::Complaint> complaints = complaints_of(filled(answers));
      std::erase_if(complaints,
                    [&](const sheet::Complaint& one) { return one.key != each.option->get_name(); });
      if (complaints.empty()) break;
      std::cerr << sheet::text(complaints);
      answers.*each.answer = before;
    }
  }
}

void write_out(const NewSheetArguments& arguments, const std::string& text) {
  if (arguments.to.empty()) {
    std::cout << text;
    return;
  }
  check_place(arguments.to, "", arguments.force);
  NewFile file(arguments.to);
  file.write(text);
  file.keep(arguments.force);
  std::cerr << arguments.to << " is written. Put your own figures where it says INVENTED.\n";
}

bool may_ask(const NewSheetArguments& arguments) {
  return !arguments.no_questions && ::isatty(STDIN_FILENO) == 1;
}

void add_common(CLI::App& command, NewSheetArguments& arguments) {
  command.add_option("-o", arguments.to, "where to write it; standard output unless given");
  command.add_flag("--force", arguments.force, "write over a file that is there");
  command.add_flag("--no-questions", arguments.no_questions,
                   "ask nothing: what no option says is invented, and marked so");
}

void add_new_run(CLI::App& above, const std::shared_ptr<NewSheetArguments>& arguments) {
  CLI::App* const command =
      above.add_subcommand("run", "a run sheet: what carries, what holds it, what loads it, step by step");
  FirstRun& run = arguments->run;
  const std::vector<Question<FirstRun>> questions = {
      {"What is it called?", command->add_option("--title", run.title, "what the run is called"),
       &FirstRun::title},
      {"Shown in metric or imperial units?", command->add_option("--show", run.show, "metric or imperial"),
       &FirstRun::show},
      {"How long is it?",
       command->add_option("--length", run.length, "its length with its unit: \"4200 mm\", \"11 ft 4 in\""),
       &FirstRun::length},
      {"How wide is it?", command->add_option("--width", run.width, "its width, likewise"), &FirstRun::width},
      {"What carries, steel or timber?",
       command->add_option("--carries", run.carries, "steel (a hollow section) or timber"),
       &FirstRun::carries},
      {"What holds its left end: bracket, seat, post or rod?",
       command->add_option("--left", run.left, "what holds its left end: bracket, seat, post or rod"),
       &FirstRun::left},
      {"And its right end?", command->add_option("--right", run.right, "what holds its right end, likewise"),
       &FirstRun::right},
      {"How much hangs on it when it is put up, in all?",
       command->add_option("--mass", run.mass, "mass of what hangs on it when it is put up, in all"),
       &FirstRun::mass},
      {"How much comes later, in use?",
       command->add_option("--mass-later", run.mass_later, "mass of what comes later, in use"),
       &FirstRun::mass_later},
  };
  add_common(*command, *arguments);
  command->callback([arguments, questions] {
    if (may_ask(*arguments)) ask(questions, arguments->run, filled_in);
    const FirstRun first = filled_in(arguments->run);
    if (const auto complaints = complaints_of(first); !complaints.empty()) stop_for(complaints);
    write_out(*arguments, first_run_sheet(first));
  });
}

void add_new_kit(CLI::App& above, const std::shared_ptr<NewSheetArguments>& arguments) {
  CLI::App* const command =
      above.add_subcommand("kit", "a kit sheet: an inclinometer, a laser, and how each speaks");
  FirstKit& kit = arguments->kit;
  const std::vector<Question<FirstKit>> questions = {
      {"How does the inclinometer speak: xdr (sentences of NMEA 0183), modbus or line (lines of text)?",
       command->add_option("--speaks", kit.speaks, "how the inclinometer speaks: xdr, modbus or line"),
       &FirstKit::speaks},
      {"On which port is it?", command->add_option("--port", kit.port, "port of the inclinometer"),
       &FirstKit::port},
      {"How does the laser distance meter speak: xdr, modbus, line, or none?",
       command->add_option("--laser", kit.laser,
                           "how the laser speaks: xdr, modbus, line; none where there is none"),
       &FirstKit::laser},
      {"On which port is that?", command->add_option("--laser-port", kit.laser_port, "port of the laser"),
       &FirstKit::laser_port},
  };
  add_common(*command, *arguments);
  command->callback([arguments, questions] {
    if (may_ask(*arguments))
      ask(questions, arguments->kit, [](const FirstKit& as_it_is) { return as_it_is; });
    if (const auto complaints = complaints_of(arguments->kit); !complaints.empty()) stop_for(complaints);
    write_out(*arguments, first_kit_sheet(arguments->kit));
  });
}

}  // namespace

void add_new(CLI::App& app, int&) {
  CLI::App* const command =
      app.add_subcommand("new", "a run sheet or kit sheet to fill in, every key with what it means");
  command->require_subcommand(1);
  add_new_run(*command, std::make_shared<NewSheetArguments>());
  add_new_kit(*command, std::make_shared<NewSheetArguments>());
}

}  // namespace hangtrue::tools

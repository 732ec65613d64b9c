#include "tools/hangtrue/subcommand.hpp"

#include <CLI/CLI.hpp>

#include "firmware-host/book/book.hpp"
#include "firmware-host/session/solved_run.hpp"
#include "firmware-host/session/words.hpp"

namespace hangtrue::tools {

void stop_for(const std::vector<sheet::Complaint>& complaints) {
  throw Stop{kBadInput, sheet::text(complaints)};
}

sheet::RunSheet load_run(const std::string& path) {
  sheet::RunSheetOrComplaints read = sheet::read_run_sheet(path);
  if (!read.sheet) stop_for(read.complaints);
  const session::SolvedRun solved(*read.sheet);
  if (solved.trouble()) stop_for({*solved.trouble()});
  return std::move(*read.sheet);
}

sheet::KitSheet load_kit(const std::string& path, const sheet::RunSheet& run) {
  sheet::KitSheetOrComplaints read = sheet::read_kit_sheet(path, run);
  if (!read.sheet) stop_for(read.complaints);
  return std::move(*read.sheet);
}

void SurveySource::add_options(CLI::App& command) {
  command.add_option("RUN", run_path, "the run sheet (TOML)")->required();
  CLI::Option* const readings = command.add_option("--readings", readings_path, "readings (CSV)");
  CLI::Option* const at_stage = command.add_option("--stage", stage, "the stage at which they were taken");
  CLI::Option* const book = command.add_option("--book", book_path, "a level book, instead of readings");
  CLI::Option* const id = command.add_option("--survey", survey, "number of the survey in the book");
  command.add_option("--kit", kit_path, "the kit sheet (TOML): feet, sigmas, zero errors");
  command.add_flag("--json", json, "for programs, SI units");
  readings->needs(at_stage)->excludes(book);
  at_stage->excludes(book);
  book->needs(id);
  id->needs(book);
}

int stage_named(const sheet::RunSheet& run, const std::string& name, const std::string& where) {
  const int stage = run.stage(name);
  if (stage < 0)
    stop_for(
        {{where, 0, "--stage", '"' + name + '"', "a stage of the run sheet: " + session::stages_of(run)}});
  return stage;
}

namespace {

// What the book gave, or the end: words of the fault, and exit code 2 for a file that is no book, 3 for one that fails.
template <class Value>
Value from(Result<Value, book::Fault> result) {
  if (result) return std::move(result).value();
  const book::Fault& fault = result.fault();
  const bool failed = fault.trouble == book::Trouble::cannot_read || fault.trouble == book::Trouble::damaged;
  throw Stop{failed ? kCouldNot : kBadInput, fault.says + '\n'};
}

// The kept readings of a survey in a book; the kit is the one in the book unless a sheet was given.
std::vector<sheet::ReadingEntry> from_book(const SurveySource& source, FittedSurvey& survey, int& stage) {
  const book::Book book = from(book::Book::open_to_read(source.book_path));
  std::string known;
  for (const book::SurveyRecord& record : from(book.surveys())) {
    known += (known.empty() ? "" : ", ") + record.begun.id;
    if (record.begun.id != source.survey) continue;
    stage = stage_named(survey.run, record.begun.stage, source.book_path);
    if (!survey.kit) {
      const book::Entry entry = from(book.entry(record.begun.kit));
      if (const auto* const kit = std::get_if<book::KitText>(&entry.content)) {
        sheet::KitSheetOrComplaints read =
            sheet::parse_kit_sheet(kit->text, kit->file + " (in the book)", survey.run);
        if (!read.sheet) stop_for(read.complaints);
        survey.kit = std::move(*read.sheet);
      }
    }
    std::vector<sheet::ReadingEntry> entries;
    for (const book::BookedReading& booked : from(book.readings(record.number)))
      if (booked.kept) entries.push_back(booked.reading);
    return entries;
  }
  stop_for({{source.book_path, 0, "--survey", '"' + source.survey + '"',
             known.empty() ? "a survey, but the book holds none" : "a survey of the book: " + known}});
}

}  // namespace

std::unique_ptr<FittedSurvey> fitted(const SurveySource& source) {
  auto survey = std::make_unique<FittedSurvey>();
  survey->run = load_run(source.run_path);
  if (!source.kit_path.empty()) survey->kit = load_kit(source.kit_path, survey->run);

  std::vector<sheet::ReadingEntry> entries;
  int stage = 0;
  if (!source.book_path.empty()) {
    entries = from_book(source, *survey, stage);
  } else if (!source.readings_path.empty()) {
    stage = stage_named(survey->run, source.stage, source.run_path);
    sheet::ReadingsOrComplaints read =
        sheet::read_readings(source.readings_path, survey->run, survey->kit ? &*survey->kit : nullptr);
    if (!read.entries) stop_for(read.complaints);
    entries = std::move(*read.entries);
  } else {
    throw Stop{kBadInput,
               "hangtrue: give --readings R.csv and --stage NAME, or --book B.levelbook and --survey ID\n"};
  }
  survey->session =
      std::make_unique<session::SurveySession>(survey->run, survey->kit ? &*survey->kit : nullptr, stage);
  for (sheet::ReadingEntry& entry : entries) survey->session->add(std::move(entry));
  if (const auto complaint = survey->session->fit()) stop_for({*complaint});
  return survey;
}

}  // namespace hangtrue::tools

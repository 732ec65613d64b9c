#include "tools/hangtrue/subcommand.hpp"

#include <iostream>

#include <CLI/CLI.hpp>

#include "firmware-host/job/sheet_changes.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/sheet_changes.hpp"
#include "firmware-host/say/sheet_doubts.hpp"
#include "firmware-host/say/words.hpp"
#include "firmware-host/sheet/units.hpp"
#include "tools/hangtrue/progress.hpp"

namespace hangtrue::tools {

void stop_for(const std::vector<sheet::Complaint>& complaints) {
  throw Stop{kBadInput, sheet::text(complaints), complaints};
}

QuestionedRun question_run(const std::string& path) {
  sheet::RunSheetOrComplaints read = sheet::read_run_sheet(path);
  if (!read.sheet) stop_for(read.complaints);
  job::SolvedRun solved(*read.sheet);
  if (solved.trouble()) stop_for({say::complaint(*read.sheet, *solved.trouble())});
  std::vector<job::SheetDoubt> doubts = job::sheet_doubts(*read.sheet, solved, sheet::lines_of_file(path));
  return {std::move(*read.sheet), std::move(doubts)};
}

sheet::RunSheet load_run(const std::string& path) {
  QuestionedRun questioned = question_run(path);
  std::cerr << say::doubts_view(questioned.sheet, questioned.doubts);
  return std::move(questioned.sheet);
}

sheet::KitSheet load_kit(const std::string& path, const sheet::RunSheet& run) {
  sheet::KitSheetOrComplaints read = sheet::read_kit_sheet(path, run);
  if (!read.sheet) stop_for(read.complaints);
  std::cerr << say::doubts_view(run, job::kit_doubts(run, *read.sheet, sheet::lines_of_file(run.file)));
  return std::move(*read.sheet);
}

void SurveySource::add_options(CLI::App& command) {
  command.add_option("RUN", run_path, "the run sheet (TOML); with --book that of the survey unless given");
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

CLI::Option* add_days(CLI::App& command, std::optional<double>& days) {
  constexpr double kMost = 36525;  // 100 years
  return command
      .add_option("--days", days,
                  "days that truly passed between the two, where a clock was wrong; by the times in the book "
                  "unless given")
      ->check(CLI::Range(1e-3, kMost));
}

CLI::Option* add_tolerance(CLI::App& command, std::string& tolerance) {
  return command.add_option(
      "--tolerance", tolerance,
      "how level the finished run must be now, such as \"3 mm\"; as the run sheet has it unless given");
}

void take_tolerance(const std::string& tolerance, sheet::RunSheet& run) {
  if (tolerance.empty()) return;
  const auto length = sheet::parse_quantity(tolerance, sheet::Kind::length);
  if (!length.ok() || !(length.value() > 0))
    stop_for({{"command line", 0, "--tolerance",
               '"' + tolerance + '"' + (length.ok() ? "" : " (" + length.fault().what + ')'),
               "a length above zero with its unit, such as \"3 mm\" or \"1/8 in\""}});
  run.tolerance.level_m = length.value();
}

int stage_named(const sheet::RunSheet& run, const std::string& name, const std::string& where) {
  const int stage = run.stage(name);
  if (stage < 0)
    stop_for({{where, 0, "--stage", '"' + name + '"', "a stage of the run sheet: " + say::stages_of(run)}});
  return stage;
}

ExitCode exit_code(book::Trouble trouble) {
  switch (trouble) {
    case book::Trouble::absent:
    case book::Trouble::not_a_file:
    case book::Trouble::foreign:
    case book::Trouble::newer:
    case book::Trouble::not_an_entry:
      return kBadInput;
    default:
      return kCouldNot;
  }
}

void stop_if_broken(const book::Book& book, const std::string& book_path, const std::string& consequence) {
  const book::Audit audit = [&] {
    const Progress progress("checking " + book_path);
    return from_book(book.verify());
  }();
  if (audit.log_may_be_missing && !audit.ends_at_rest)
    std::cerr << "Note: " << log_may_be_missing(book_path) << '\n';
  if (audit.whole()) return;
  std::string words = book_path + " is not whole " + consequence + ":\n";
  for (const std::string& finding : audit.findings) words += "  " + finding + '\n';
  throw Stop{kAnswerIsNo, words};
}

std::string log_may_be_missing(const std::string& book_path) {
  return book_path + " was in use when it was last written, and its log " + book_path +
         "-wal does not lie beside it: what was written last may be missing. Copy the log too, or make the "
         "copy with hangtrue "
         "copy. (A book that was closed by an earlier version looks the same.)";
}

book::SurveyRecord survey_named(const book::Book& book, const std::string& id, const std::string& book_path,
                                const std::string& option) {
  constexpr int kMostNamed = 20;
  std::string known;
  int named = 0;
  for (book::SurveyRecord& record : from_book(book.surveys())) {
    if (record.begun.id == id) return std::move(record);
    if (++named <= kMostNamed) known += (known.empty() ? "" : ", ") + record.begun.id;
  }
  if (named > kMostNamed) known += " and " + std::to_string(named - kMostNamed) + " more";
  stop_for({{book_path, 0, option, '"' + id + '"',
             known.empty() ? "a survey, but the book holds none" : "a survey of the book: " + known}});
}

std::string run_title(const book::Book& book, book::Number run) {
  const book::Entry entry = from_book(book.entry(run));
  const auto* const text = std::get_if<book::RunText>(&entry.content);
  if (text == nullptr) return "entry " + std::to_string(run);
  const sheet::RunSheetOrComplaints read = sheet::parse_run_sheet(text->text, text->file);
  return read.sheet ? read.sheet->title : text->file;
}

BookedRun booked_run(const book::Book& book, const book::SurveyRecord& survey, const sheet::RunSheet& given,
                     const std::string& given_path, sheet::Show show) {
  show.units = given.show.units;
  const book::Entry entry = from_book(book.entry(survey.begun.run));
  const auto* const text = std::get_if<book::RunText>(&entry.content);
  sheet::RunSheetOrComplaints was;
  if (text != nullptr) was = sheet::parse_run_sheet(text->text, text->file + " (in the book)");
  if (!was.sheet)
    return {given,
            {say::text(show,
                       "The run sheet that survey {} went by can no longer be read; {} stands in its place.",
                       survey.begun.id, given_path)}};
  BookedRun booked{std::move(*was.sheet), {}};
  booked.sheet.language = given.language;
  std::vector<sheet::Complaint> complaints;
  for (const job::SheetChange& change : job::sheet_changes(booked.sheet, given)) {
    if (change.matters)
      complaints.push_back(
          {given_path, 0, "RUN",
           "another sheet than survey " + survey.begun.id + " went by: " + say::words(change, given.show),
           "the sheet as it was then"});
    else
      booked.remarks.push_back(say::text(
          show, "The run sheet was changed since survey {}: {}. What counts here is the sheet as it was.",
          survey.begun.id, say::words(change, show)));
  }
  if (!complaints.empty()) stop_for(complaints);
  return booked;
}

sheet::RunSheet run_of_book(const book::Book& book, const book::SurveyRecord& survey,
                            const std::string& book_path) {
  const book::Entry entry = from_book(book.entry(survey.begun.run));
  const auto* const text = std::get_if<book::RunText>(&entry.content);
  sheet::RunSheetOrComplaints read;
  if (text != nullptr) read = sheet::parse_run_sheet(text->text, text->file + " (in the book)");
  if (!read.sheet)
    stop_for({{book_path, 0, "RUN",
               "none, and the run sheet that survey " + survey.begun.id + " went by can no longer be read",
               "RUN.toml"}});
  return std::move(*read.sheet);
}

std::unique_ptr<FittedSurvey> fitted(const SurveySource& source) {
  auto survey = std::make_unique<FittedSurvey>();
  if (!source.run_path.empty())
    survey->run = load_run(source.run_path);
  else if (source.book_path.empty())
    throw Stop{kBadInput, "hangtrue: give RUN.toml; only a level book holds the run sheet itself (--book)\n"};
  const auto take_kit = [&]() -> const sheet::KitSheet* {
    if (!source.kit_path.empty()) survey->kit = load_kit(source.kit_path, survey->run);
    return survey->kit ? &*survey->kit : nullptr;
  };
  if (!source.book_path.empty()) {
    const book::Book book = from_book(book::Book::open_to_read(source.book_path));
    stop_if_broken(book, source.book_path, "and was not read");
    const book::SurveyRecord record = survey_named(book, source.survey, source.book_path);
    if (source.run_path.empty()) survey->run = run_of_book(book, record, source.book_path);
    const sheet::KitSheet* const kit = take_kit();
    BookedRun booked = booked_run(book, record, survey->run, source.run_path);
    survey->run = std::move(booked.sheet);
    for (const std::string& remark : booked.remarks) std::cerr << "Note: " << remark << '\n';
    (void)stage_named(survey->run, record.begun.stage, source.book_path);
    {
      const Progress progress("fitting the surveys of " + source.book_path);
      survey->history = from_book(job::fit_history(book, survey->run, record, kit));
    }
    if (const job::Fault* const fault = survey->history.last().fault())
      stop_for({say::complaint(survey->run, *fault)});
    survey->session = survey->history.last().session.get();
    return survey;
  }
  if (source.readings_path.empty())
    throw Stop{kBadInput,
               "hangtrue: give --readings R.csv and --stage NAME, or --book B.levelbook and --survey ID\n"};
  const sheet::KitSheet* const kit = take_kit();
  const int stage = stage_named(survey->run, source.stage, source.run_path);
  sheet::ReadingsOrComplaints read = sheet::read_readings(source.readings_path, survey->run, kit);
  if (!read.entries) stop_for(read.complaints);
  survey->csv = std::make_unique<job::SurveyFit>(survey->run, kit, stage);
  survey->session = survey->csv.get();
  for (sheet::ReadingEntry& entry : *read.entries) survey->csv->add(std::move(entry));
  survey->csv->take_answers(std::move(read.remarks));
  if (!read.starts_at.empty()) survey->csv->take_start(std::move(read.starts_at));
  const Progress progress("fitting the readings of " + source.readings_path);
  if (const auto done = survey->csv->fit(); !done) stop_for({say::complaint(survey->run, done.fault())});
  return survey;
}

}  // namespace hangtrue::tools

#include <algorithm>
#include <filesystem>
#include <iostream>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include <nlohmann/json.hpp>

#include "firmware-host/job/history.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/language.hpp"
#include "tools/hangtrue/new_file.hpp"
#include "tools/hangtrue/report.hpp"
#include "tools/hangtrue/subcommand.hpp"
#include "tools/report/layout/html.hpp"
#include "tools/report/layout/pages.hpp"
#include "tools/report/reports.hpp"

namespace hangtrue::tools {

namespace {

enum class Ending { pdf, svg, png, html };

Ending ending_of(const std::string& out) {
  const std::string ending = std::filesystem::path(out).extension().string();
  if (ending == ".pdf") return Ending::pdf;
  if (ending == ".svg") return Ending::svg;
  if (ending == ".png") return Ending::png;
  if (ending == ".html") return Ending::html;
  stop_for({{"hangtrue report", 0, "-o", '"' + out + '"', "a name that ends in .pdf, .html, .svg or .png"}});
}

/// A document that speaks of a book which is not whole would promise what is not so.
book::Book whole_book(const std::string& path, report::Record& record) {
  auto opened = book::Book::open_to_read(path);
  if (!opened.ok() && opened.fault().trouble == book::Trouble::damaged)
    throw Stop{kAnswerIsNo, path + " is not whole, so there is no report:\n  " + opened.fault().says + '\n'};
  book::Book book = from_book(std::move(opened));
  record.book_name = std::filesystem::path(path).filename().string();
  record.audit = from_book(book.verify());
  if (!record.audit.whole()) {
    std::string words = path + " is not whole, so there is no report:\n";
    for (const std::string& finding : record.audit.findings) words += "  " + finding + '\n';
    throw Stop{kAnswerIsNo, words};
  }
  record.checks = from_book(book.checks());
  record.as_of = book::rfc3339(from_book(book.entry(record.audit.entries)).time);
  return book;
}

report::Papers papers_of(const book::Book& book, const sheet::RunSheet& run,
                         const book::SurveyRecord& record) {
  report::Papers papers;
  const auto file_of = [&](book::Number number) {
    const book::Entry entry = from_book(book.entry(number));
    if (const auto* const sheet = std::get_if<book::RunText>(&entry.content)) return sheet->file;
    if (const auto* const sheet = std::get_if<book::KitText>(&entry.content)) return sheet->file;
    return std::string();
  };
  const auto name_of = [&](book::Number number) {
    return std::filesystem::path(file_of(number)).filename().string() + ", entry " + std::to_string(number);
  };
  papers.run_file = name_of(record.begun.run);
  papers.kit_file = name_of(record.begun.kit);
  if (const auto kit = from_book(job::booked_kit(book, run, record))) papers.kit = *kit;
  papers.booked = from_book(job::booked_survey(book, papers.kit ? *papers.kit : sheet::KitSheet{}, record));
  papers.entries =
      from_book(book.entries(record.number, {"set aside", "put back", "corrected", "card", "clock jump"}));
  return papers;
}

report::Document survey_document(const ReportArguments& arguments, report::Paper paper,
                                 const sheet::RunSheet& given, const book::Book& book,
                                 report::Record record) {
  const book::SurveyRecord survey = survey_named(book, arguments.survey, arguments.book);
  if (survey.kept == 0)
    stop_for({{arguments.book, 0, "--survey", '"' + arguments.survey + "\", which has no reading that counts",
               "a survey with readings"}});
  BookedRun booked = booked_run(book, survey, given, arguments.run, sheet::for_people(given).show);
  const sheet::RunSheet& run = booked.sheet;
  (void)stage_named(run, survey.begun.stage, arguments.book);
  const job::History history = from_book(job::fit_history(book, run, survey));
  if (const job::Fault* const fault = history.last().fault()) stop_for({say::complaint(run, *fault)});
  std::string no_card;
  std::optional<job::Card> card;
  if (run.tolerance.level_m > 0) {
    auto made = job::make_card(*history.last().session);
    if (!made) stop_for({say::complaint(run, made.fault())});
    card = std::move(made).value();
  } else {
    no_card = say::said(sheet::for_people(run).show,
                        "The run sheet names no level that the finished run must keep to, so that there is "
                        "neither a finding nor a card.");
    if (arguments.card)
      stop_for({{arguments.run, 0, "tolerance.level", "none",
                 "how level the finished run must be, such as \"1.5 mm\""}});
  }
  std::vector<report::Papers> papers;
  papers.reserve(history.surveys.size());
  for (const job::FittedSurvey& each : history.surveys)
    papers.push_back(papers_of(book, run, each.booked.record));
  const sheet::RunSheet shown = sheet::for_people(run);
  const report::AsBuilt from{
      shown, history, papers, card ? &*card : nullptr, no_card, std::move(record), std::move(booked.remarks)};
  return arguments.card ? report::shim_card(from, paper) : report::as_built(from, paper);
}

report::Document recheck_document(const ReportArguments& arguments, report::Paper paper,
                                  const sheet::RunSheet& given, const book::Book& book,
                                  report::Record record) {
  std::optional<sheet::KitSheet> kit;
  if (!arguments.kit.empty()) kit = load_kit(arguments.kit, given);
  const auto compared =
      job::recheck(book, given, arguments.from, arguments.to, arguments.days, kit ? &*kit : nullptr);
  if (!compared.ok()) stop_for({say::complaint(given, compared.fault())});
  const book::SurveyRecord from = survey_named(book, arguments.from, arguments.book),
                           to = survey_named(book, arguments.to, arguments.book);
  sheet::RunSheet run = sheet::for_people(booked_run(book, to, given, arguments.run).sheet);
  run.tolerance = compared.value().tolerance;
  return report::recheck_report(
      {run, compared.value(), papers_of(book, run, from), papers_of(book, run, to), std::move(record), {}},
      paper);
}

/// The files with their bytes; `pages` is how many the document has.
void keep_all(const ReportArguments& arguments, int pages,
              const std::vector<std::pair<std::string, std::string>>& files) {
  // All are written before the first gets its name.
  std::vector<std::unique_ptr<NewFile>> made;
  for (const auto& [name, bytes] : files) {
    check_place(name, arguments.book, arguments.force);
    made.push_back(std::make_unique<NewFile>(name));
    made.back()->write(bytes);
  }
  std::size_t kept = 0;
  try {
    for (; kept < made.size(); ++kept) made[kept]->keep(arguments.force);
  } catch (...) {  // some pages alone are no document
    for (std::size_t i = 0; i < kept; ++i) std::filesystem::remove(files[i].first);
    throw;
  }
  if (arguments.json) {
    std::vector<std::string> names(files.size());
    std::ranges::transform(files, names.begin(), [](const auto& file) { return file.first; });
    std::cout << nlohmann::ordered_json{{"pages", pages}, {"files", names}}.dump() << '\n';
    return;
  }
  std::cout << pages << (pages == 1 ? " page: " : " pages: ") << files.front().first
            << (files.size() > 1 ? " to " + files.back().first : "") << '\n';
}

void write(const ReportArguments& arguments, Ending ending, const report::Document& document) {
  const std::filesystem::path out = arguments.out;
  std::vector<std::pair<std::string, std::string>> files;  // name, bytes
  if (ending == Ending::html) {
    files.emplace_back(out.string(), report::html_of(document));
    keep_all(arguments, 1, files);
    return;
  }
  const report::Pages pages(document);
  if (ending == Ending::pdf) {
    files.emplace_back(out.string(), pages.pdf());
  } else {
    for (int page = 0; page < pages.count(); ++page) {
      std::filesystem::path name = out;
      if (pages.count() > 1)
        name.replace_filename(out.stem().string() + '-' + std::to_string(page + 1) +
                              out.extension().string());
      files.emplace_back(name.string(), ending == Ending::svg ? pages.svg(page) : pages.png(page));
    }
  }
  keep_all(arguments, pages.count(), files);
}

}  // namespace

void draw_report(const ReportArguments& arguments) {
  const Ending ending = ending_of(arguments.out);
  const bool rechecks = !arguments.from.empty();
  if (rechecks == !arguments.survey.empty())
    stop_for({{"hangtrue report", 0, "--survey", rechecks ? "--from and --to beside it" : "none",
               "--survey ID for one survey, or --from ID and --to ID for a recheck"}});
  sheet::RunSheet given;
  if (!arguments.run.empty()) given = load_run(arguments.run);
  report::Record record;
  const book::Book book = whole_book(arguments.book, record);
  if (arguments.run.empty())
    given = run_of_book(book, survey_named(book, rechecks ? arguments.to : arguments.survey, arguments.book),
                        arguments.book);
  take_tolerance(arguments.tolerance, given);
  const report::Paper paper = arguments.paper.empty()
                                  ? (given.show.is_metric() ? report::Paper::a4 : report::Paper::letter)
                              : arguments.paper == "a4" ? report::Paper::a4
                                                        : report::Paper::letter;
  try {
    write(arguments, ending,
          rechecks ? recheck_document(arguments, paper, given, book, std::move(record))
                   : survey_document(arguments, paper, given, book, std::move(record)));
  } catch (const report::Unset& unset) {
    throw Stop{kCouldNot, std::string("hangtrue report: ") + unset.what() + '\n'};
  }
}

}  // namespace hangtrue::tools

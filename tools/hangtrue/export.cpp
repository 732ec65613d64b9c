// hangtrue export B --survey ID [-o F]: one survey of a level book, as readings CSV or as JSON.
//
// CSV     the readings CSV that `hangtrue fit --readings` takes (SI, RFC 4180): corrections applied, what was set aside left
//         out. A field with a comma, a quote or a line break is quoted; nothing else is altered. Names come from the kit
//         sheet: one that a spreadsheet could take for a formula is said on standard error, and left as it is, since another
//         name would be another instrument. With the temperature of each reading where a support of the run grows in the warmth.
// JSON    everything of the survey, by entry number: readings as corrected and as taken, what was set aside and why,
//         set-ups, checks (also those outside of any survey), cards, moves made or taken back, what was found by hand, notes, raw samples counted
//         or whole, both sheets, seals.
// File    written beside its place under another name, then renamed: whole or not at all. An existing file is left alone
//         without --force, a level book always.
#include <algorithm>
#include <cctype>
#include <filesystem>
#include <iostream>
#include <memory>
#include <sstream>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/book/body.hpp"
#include "firmware-host/book/short_form.hpp"
#include "firmware-host/job/history.hpp"
#include "firmware-host/sheet/readings.hpp"
#include "tools/hangtrue/new_file.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

using Json = nlohmann::ordered_json;

struct ExportArguments {
  std::string book, survey, out, form;
  bool all = false, raw = false, force = false, json = false;
};

// What is written.

Json body(const book::Content& content) { return Json::parse(book::body_of(content).value_or("{}")); }

/// Entry number and time first, then what the entry says.
Json numbered(const book::NumberedEntry& entry) {
  Json json{{"entry", entry.number}, {"entry_time", book::rfc3339(entry.entry.time)}};
  json.update(body(entry.entry.content));
  return json;
}

Json reading_json(const book::BookedReading& booked, bool corrected) {
  book::Taken as_kept = booked.taken;
  as_kept.reading = booked.reading;
  Json json{{"entry", booked.number}, {"kept", booked.kept}};
  if (!booked.reason.empty()) json["reason"] = booked.reason;
  json.update(body(as_kept));
  if (corrected) json["as_taken"] = body(booked.taken);
  return json;
}

Json correction_json(const book::NumberedEntry& entry) {
  Json json = numbered(entry);
  json["kind"] = book::kind(entry.entry.content);
  json["reading"] = book::refers_to(entry.entry.content).value_or(0);
  return json;
}

Json samples_json(const book::NumberedEntry& entry, bool raw) {
  Json json = numbered(entry);
  const auto& samples = std::get<book::Samples>(entry.entry.content);
  json["from"] = book::rfc3339(samples.from);
  json["count"] = samples.values.size();
  json.erase("from_us");
  if (raw) return json;
  json.erase("after_us");
  json.erase("values");
  return json;
}

Json sheet_json(const book::Book& book, book::Number number) {
  Json json{{"entry", number}};
  json.update(body(from_book(book.entry(number)).content));
  return json;
}

std::string json_of(const book::Book& book, const book::SurveyRecord& survey,
                    const std::vector<book::NumberedEntry>& entries, bool raw) {
  const std::vector<book::BookedReading> readings = book::booked_readings(entries);
  Json json;
  json["survey"] = {{"id", survey.begun.id},
                    {"entry", survey.number},
                    {"stage", survey.begun.stage},
                    {"begun", survey.time},
                    {"closed", survey.closed}};
  for (const char* list : {"readings", "corrections", "set_ups", "checks", "cards", "moves", "found_by_hand",
                           "notes", "clock_jumps", "samples", "seals"})
    json[list] = Json::array();
  for (const book::BookedReading& booked : readings) {
    const bool corrected = std::any_of(entries.begin(), entries.end(), [&](const book::NumberedEntry& entry) {
      const auto* const it = std::get_if<book::Corrected>(&entry.entry.content);
      return it != nullptr && it->reading == booked.number;
    });
    json["readings"].push_back(reading_json(booked, corrected));
  }
  for (const book::NumberedEntry& entry : entries) {
    const book::Content& content = entry.entry.content;
    if (const auto* const move = std::get_if<book::MoveMade>(&content)) {
      json["moves"].push_back(numbered(entry));
      json["moves"].back()["card"] = move->card;
    } else if (book::refers_to(content)) {
      json["corrections"].push_back(correction_json(entry));
    }
    if (std::holds_alternative<book::SetUp>(content)) json["set_ups"].push_back(numbered(entry));
    const auto* const tried = std::get_if<book::TriedByHand>(&content);
    const auto* const start = std::get_if<book::StartTold>(&content);
    if (tried != nullptr || start != nullptr)
      json["found_by_hand"].push_back({{"entry", entry.number},
                                       {"entry_time", book::rfc3339(entry.entry.time)},
                                       {"support", tried != nullptr ? tried->support : start->support},
                                       {"found", start != nullptr ? "places begin"
                                                 : tried->bears   ? "bears"
                                                                  : "hangs free"}});
    if (std::holds_alternative<book::Note>(content)) json["notes"].push_back(numbered(entry));
    if (std::holds_alternative<book::ClockJump>(content)) json["clock_jumps"].push_back(numbered(entry));
    if (std::holds_alternative<book::Samples>(content)) json["samples"].push_back(samples_json(entry, raw));
    if (const auto* const card = std::get_if<book::Card>(&content)) {
      Json parsed = Json::parse(card->json, nullptr, /*allow_exceptions=*/false);
      json["cards"].push_back({{"entry", entry.number},
                               {"entry_time", book::rfc3339(entry.entry.time)},
                               {"card", parsed.is_discarded() ? Json(card->json) : std::move(parsed)}});
    }
  }
  for (const book::NumberedEntry& check : from_book(book.checks())) {
    if (check.entry.survey && *check.entry.survey != survey.number) continue;
    Json one = numbered(check);
    one["kind"] = book::kind(check.entry.content);
    one["of_this_survey"] = check.entry.survey.has_value();
    json["checks"].push_back(std::move(one));
  }
  for (const book::SealRecord& seal : from_book(book.seals()))
    if (seal.number > survey.last)
      json["seals"].push_back({{"number", seal.number},
                               {"time", seal.time},
                               {"hash", seal.hash},
                               {"short", book::short_form(seal.hash)}});
  json["run"] = sheet_json(book, survey.begun.run);
  json["kit"] = sheet_json(book, survey.begun.kit);
  return json.dump(1, ' ', false, Json::error_handler_t::replace) + '\n';
}

// Whether a fit asks for the temperature of its readings.
bool knows_growth(const book::Book& book, book::Number run_sheet) {
  const book::Entry entry = from_book(book.entry(run_sheet));
  const auto* const text = std::get_if<book::RunText>(&entry.content);
  const auto read =
      text != nullptr ? sheet::parse_run_sheet(text->text, text->file) : sheet::RunSheetOrComplaints{};
  return read.sheet && std::any_of(read.sheet->supports.begin(), read.sheet->supports.end(),
                                   [](const sheet::SupportEntry& each) { return each.growth_m_per_K != 0; });
}

std::string csv_of(const std::vector<book::NumberedEntry>& entries, bool with_temperatures) {
  std::vector<sheet::ReadingEntry> kept;
  for (const book::BookedReading& booked : book::booked_readings(entries)) {
    if (!booked.kept) continue;
    kept.push_back(booked.reading);
    if (!with_temperatures) kept.back().temperature_C.reset();
  }
  std::string said;
  for (const sheet::ReadingEntry& reading : kept)
    for (const std::string& name : {reading.set_up, reading.instrument, reading.mark}) {
      if (name.empty() || std::string_view("=+-@\t\r").find(name.front()) == std::string_view::npos ||
          name == said)
        continue;
      said = name;
      std::cerr << "hangtrue: a spreadsheet could take the name \"" << name
                << "\" for a formula; open the file there with all columns as text\n";
    }
  std::ostringstream text;
  sheet::write_readings(text, kept);
  // What was found by hand, as remarks: `fit` and `shims` take it with the readings.
  const job::FoundByHand found = job::found_by_hand(entries);
  for (const sheet::BearingRemark& each : found.bearing)
    text << "# " << each.support << (each.bears ? " bears" : " hangs free") << "\r\n";
  if (!found.starts_at.empty()) text << "# start at " << found.starts_at << "\r\n";
  return text.str();
}

// Where it is written.

void check_use(ExportArguments& arguments) {
  const std::filesystem::path out = arguments.out;
  const auto complain = [](const char* option, std::string found, std::string right) {
    stop_for({{"hangtrue export", 0, option, std::move(found), std::move(right)}});
  };
  std::string ending = out.extension().string();
  for (char& c : ending) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  if (arguments.form.empty() && !arguments.json && !ending.empty() && ending != ".csv" && ending != ".json")
    complain("-o", '"' + arguments.out + '"',
             "a name that ends in .csv or .json, or --form csv or --form json beside it");
  if (arguments.form.empty()) arguments.form = arguments.json || ending == ".json" ? "json" : "csv";
  if (arguments.json && arguments.form == "csv") complain("--json", "--form csv beside it", "one of them");
  if (arguments.form == "csv" && arguments.raw && !arguments.all)
    complain("--raw", "--form csv", "--form json, or --all: a CSV holds readings only");
  if (arguments.all && (arguments.form == "json" || arguments.out.empty() || ending == ".json"))
    complain("--all", arguments.form == "json" ? "--form json, which holds all by itself" : "no CSV file",
             "-o F.csv, for F.csv and F.json beside it");
}

void run(ExportArguments arguments) {
  check_use(arguments);
  const book::Book book = from_book(book::Book::open_to_read(arguments.book));
  stop_if_broken(book, arguments.book, "and was not exported");
  const book::SurveyRecord survey = survey_named(book, arguments.survey, arguments.book);
  const std::vector<book::NumberedEntry> entries = from_book(book.entries(survey.number));
  const std::string text = arguments.form == "csv" ? csv_of(entries, knows_growth(book, survey.begun.run))
                                                   : json_of(book, survey, entries, arguments.raw);
  if (arguments.out.empty()) {
    std::cout << text;
    return;
  }
  check_place(arguments.out, arguments.book, arguments.force);
  NewFile file(arguments.out);
  file.write(text);
  if (arguments.all) {
    const std::string beside = std::filesystem::path(arguments.out).replace_extension(".json").string();
    check_place(beside, arguments.book, arguments.force);
    NewFile json(beside);
    json.write(json_of(book, survey, entries, arguments.raw));
    json.keep(arguments.force);
  }
  file.keep(arguments.force);
}

}  // namespace

void add_export(CLI::App& app, int& exit_code) {
  CLI::App* const command =
      app.add_subcommand("export", "one survey of a level book, as readings CSV or as JSON");
  const auto arguments = std::make_shared<ExportArguments>();
  command->add_option("BOOK", arguments->book, "the level book")->required();
  command->add_option("--survey", arguments->survey, "its id in the book; hangtrue surveys lists them")
      ->required();
  command->add_option("-o,--out", arguments->out, "the file to write; standard output unless given");
  command->add_option("--form", arguments->form, "csv or json; by the file's name unless given, else csv")
      ->check(CLI::IsMember({"csv", "json"}));
  command->add_flag("--json", arguments->json, "the same as --form json");
  command->add_flag("--all", arguments->all,
                    "beside F.csv also F.json, with what was set aside and all else of the survey");
  command->add_flag("--raw", arguments->raw, "raw samples too, in the JSON");
  command->add_flag("--force", arguments->force, "write over an existing file");
  command->footer(
      "CSV: kept readings as corrected, SI, as `hangtrue fit --readings` takes them; fields quoted as in RFC "
      "4180.");
  command->callback([arguments, &exit_code] {
    run(*arguments);
    exit_code = kDone;
  });
}

}  // namespace hangtrue::tools

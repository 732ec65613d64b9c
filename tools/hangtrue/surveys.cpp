// hangtrue surveys B: the surveys of a level book.
#include <algorithm>
#include <cstdio>
#include <iostream>
#include <map>
#include <memory>
#include <optional>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/job/rehearsed_clock.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

struct SurveysArguments {
  std::string book;
  bool json = false;
};

struct Listed {
  book::SurveyRecord record;
  std::string title;
  std::optional<book::Number> sealed_by;  // the first seal that stands for all of it
  int seals = 0;                          // as many do
  std::optional<std::string> ahead;       // of a rehearsal: by how much its clock was
};

std::vector<Listed> listed(const book::Book& book) {
  const std::vector<book::SealRecord> seals = from_book(book.seals());
  std::map<book::Number, std::string> titles;
  std::vector<Listed> all;
  for (book::SurveyRecord& record : from_book(book.surveys())) {
    Listed survey{std::move(record), {}, {}, 0, {}};
    for (const book::NumberedEntry& each : from_book(book.entries(survey.record.number, {"note"})))
      if (const auto* const note = std::get_if<book::Note>(&each.entry.content);
          note != nullptr && !survey.ahead)
        survey.ahead = job::rehearsed_clock(note->text);
    const auto first = std::find_if(seals.begin(), seals.end(), [&](const book::SealRecord& seal) {
      return seal.number > survey.record.last;
    });
    if (first != seals.end()) survey.sealed_by = first->number;
    survey.seals = static_cast<int>(seals.end() - first);
    const book::Number run = survey.record.begun.run;
    if (!titles.contains(run)) titles[run] = run_title(book, run);
    survey.title = titles[run];
    all.push_back(std::move(survey));
  }
  return all;
}

void print_json(const std::vector<Listed>& surveys) {
  nlohmann::ordered_json json{{"surveys", nlohmann::ordered_json::array()}};
  for (const Listed& survey : surveys) {
    const book::SurveyRecord& record = survey.record;
    nlohmann::ordered_json one{
        {"id", record.begun.id}, {"entry", record.number},     {"stage", record.begun.stage},
        {"begun", record.time},  {"closed", record.closed},    {"readings", record.readings},
        {"kept", record.kept},   {"moves", record.moves},      {"run", survey.title},
        {"sealed_by", nullptr},  {"seals_after", survey.seals}};
    one["clock_ahead"] = survey.ahead ? nlohmann::ordered_json(*survey.ahead) : nlohmann::ordered_json();
    if (survey.sealed_by) one["sealed_by"] = *survey.sealed_by;
    json["surveys"].push_back(std::move(one));
  }
  std::cout << json.dump() << '\n';
}

/// "2026-09-14 08:30"
std::string minute(const std::string& rfc3339) {
  std::string text = rfc3339.substr(0, 16);
  std::replace(text.begin(), text.end(), 'T', ' ');
  return text;
}

/// Characters of UTF-8: bytes that go on with one do not count.
std::size_t width(const std::string& text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xC0) != 0x80; }));
}

std::string padded(std::string text, std::size_t columns) {
  text.append(columns - std::min(columns, width(text)), ' ');
  return text;
}

void print_table(const std::string& path, const std::vector<Listed>& surveys) {
  std::cout << path << ": " << surveys.size() << (surveys.size() == 1 ? " survey\n" : " surveys\n");
  std::size_t id = 2, stage = 5;
  for (const Listed& survey : surveys) {
    id = std::max(id, width(survey.record.begun.id));
    stage = std::max(stage, width(survey.record.begun.stage));
  }
  const auto row = [&](const std::string& a, const std::string& b, const std::string& c, const std::string& d,
                       const std::string& e, const std::string& f, const std::string& g) {
    std::printf("  %s  %s  %-16s  %-6s  %10s  %5s  %s\n", padded(a, id).c_str(), padded(b, stage).c_str(),
                c.c_str(), d.c_str(), e.c_str(), f.c_str(), g.c_str());
  };
  std::cout.flush();
  std::string title;
  for (const Listed& survey : surveys) {
    if (&survey == &surveys.front() || survey.title != title) {
      title = survey.title;
      std::printf("\n%s\n", title.c_str());
      row("id", "stage", "begun (UTC)", "state", "kept/taken", "moves", "sealed by");
    }
    const book::SurveyRecord& record = survey.record;
    row(record.begun.id, record.begun.stage, minute(record.time), record.closed ? "closed" : "open",
        std::to_string(record.kept) + '/' + std::to_string(record.readings), std::to_string(record.moves),
        survey.sealed_by ? std::to_string(*survey.sealed_by) : "-");
    if (survey.ahead)
      std::printf("  %s  a rehearsal: its clock was %s ahead\n", padded("", id).c_str(),
                  survey.ahead->c_str());
  }
  std::fflush(stdout);
}

}  // namespace

void add_surveys(CLI::App& app, int& exit_code) {
  CLI::App* const command = app.add_subcommand("surveys", "the surveys of a level book");
  const auto arguments = std::make_shared<SurveysArguments>();
  command->add_option("BOOK", arguments->book, "the level book")->required();
  command->add_flag("--json", arguments->json, "for programs");
  command->callback([arguments, &exit_code] {
    const book::Book book = from_book(book::Book::open_to_read(arguments->book));
    stop_if_broken(book, arguments->book, "and its surveys are not listed");
    const std::vector<Listed> surveys = listed(book);
    if (arguments->json)
      print_json(surveys);
    else
      print_table(arguments->book, surveys);
    exit_code = kDone;
  });
}

}  // namespace hangtrue::tools

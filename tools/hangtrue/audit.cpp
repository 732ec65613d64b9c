// hangtrue audit B [--seal "42 ABCD-EFGH-IJKL-MNOP"]...: is the level book as it was written?
#include <array>
#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/book/short_form.hpp"
#include "firmware-host/say/table.hpp"
#include "tools/hangtrue/progress.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

struct AuditArguments {
  std::string book;
  std::vector<std::string> seals;
  bool json = false;
};

std::vector<book::NotedSeal> noted_seals(const std::vector<std::string>& texts) {
  std::vector<book::NotedSeal> noted;
  std::vector<sheet::Complaint> complaints;
  for (const std::string& text : texts) {
    if (auto seal = book::parse_noted_seal(text))
      noted.push_back(*std::move(seal));
    else
      complaints.push_back({"hangtrue audit", 0, "--seal", '"' + text + '"',
                            "its number and its 16 letters, such as \"42 ABCD-EFGH-IJKL-MNOP\""});
  }
  if (!complaints.empty()) stop_for(complaints);
  return noted;
}

/// A book too damaged to be opened is an answer: not whole.
book::Audit audit_of(const std::string& path, const std::vector<book::NotedSeal>& noted) {
  book::Audit audit;
  auto opened = book::Book::open_to_read(path);
  if (!opened.ok() && opened.fault().trouble == book::Trouble::damaged) {
    audit.findings.push_back(opened.fault().says);
    audit.noted.assign(noted.size(), book::NotedAnswer::no_seal);
    return audit;
  }
  const book::Book book = from_book(std::move(opened));
  const Progress progress("checking " + path);
  return from_book(book.audit(noted));
}

constexpr std::array<const char*, 4> kAnswers{"matches", "differs", "no seal",
                                              "cut off"};  // in order of NotedAnswer
const char* word(book::NotedAnswer answer) { return kAnswers[static_cast<std::size_t>(answer)]; }

void print_json(const book::Audit& audit, const std::vector<book::NotedSeal>& noted) {
  using Json = nlohmann::ordered_json;
  Json json{{"whole", audit.whole()},     {"schema", audit.schema},
            {"entries", audit.entries},   {"first_bad", nullptr},
            {"findings", audit.findings}, {"seals", Json::array()},
            {"noted", Json::array()},     {"log_may_be_missing", audit.log_may_be_missing}};
  if (audit.first_bad)
    json["first_bad"] = {
        {"number", *audit.first_bad}, {"kind", audit.first_bad_kind}, {"time", audit.first_bad_time}};
  for (const book::SealRecord& seal : audit.seals)
    json["seals"].push_back({{"number", seal.number},
                             {"time", seal.time},
                             {"hash", seal.hash},
                             {"short", book::short_form(seal.hash)}});
  for (std::size_t i = 0; i < noted.size(); ++i)
    json["noted"].push_back(
        {{"number", noted[i].number}, {"short", noted[i].short_form}, {"answer", word(audit.noted[i])}});
  std::cout << json.dump(-1, ' ', false, Json::error_handler_t::replace) << '\n';
}

void print_words(const std::string& path, const book::Audit& audit,
                 const std::vector<book::NotedSeal>& noted) {
  const std::string entries = std::to_string(audit.entries) + (audit.entries == 1 ? " entry" : " entries");
  if (audit.whole()) {
    std::cout << path << (audit.log_may_be_missing ? ": whole as far as it goes, " : ": whole, ") << entries
              << ", format " << audit.schema << '\n';
  } else {
    std::cout << path << ": NOT WHOLE\n";
    for (const std::string& finding : audit.findings) std::cout << say::folded("  " + finding, 4);
    std::cout << "  The chain holds for the first " << entries << ".\n";
  }
  if (audit.log_may_be_missing) std::cout << say::folded("  " + log_may_be_missing(path), 2);
  for (const book::SealRecord& seal : audit.seals)
    std::cout << "  seal " << seal.number << "  " << book::short_form(seal.hash) << "  " << seal.time << '\n';
  for (std::size_t i = 0; i < noted.size(); ++i)
    std::cout << "  noted " << noted[i].number << ' ' << noted[i].short_form << ": " << word(audit.noted[i])
              << '\n';
  if (audit.whole() && noted.empty())
    std::cout << "The chain cannot show a cut-off end or a book written anew. A seal noted elsewhere can: "
                 "--seal.\n";
}

}  // namespace

void add_audit(CLI::App& app, int& exit_code) {
  CLI::App* const command = app.add_subcommand("audit", "check a level book: its chain, its seals, its file");
  const auto arguments = std::make_shared<AuditArguments>();
  command->add_option("BOOK", arguments->book, "the level book")->required();
  command
      ->add_option("--seal", arguments->seals,
                   "a seal noted outside of the book, to be compared: \"42 ABCD-EFGH-IJKL-MNOP\"")
      ->allow_extra_args(false);
  command->add_flag("--json", arguments->json, "for programs");
  command->callback([arguments, &exit_code] {
    const std::vector<book::NotedSeal> noted = noted_seals(arguments->seals);
    const book::Audit audit = audit_of(arguments->book, noted);
    if (arguments->json)
      print_json(audit, noted);
    else
      print_words(arguments->book, audit, noted);
    exit_code = audit.whole() ? kDone : kAnswerIsNo;
  });
}

}  // namespace hangtrue::tools

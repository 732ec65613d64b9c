#include "tools/docs/man.hpp"

#include <string_view>
#include <vector>

#include <CLI/CLI.hpp>

#include "firmware-host/say/keys.hpp"
#include "firmware-host/sheet/unit_names.hpp"
#include "firmware-host/version/version.hpp"
#include "tools/docs/subcommands.hpp"

namespace hangtrue::docs {
namespace {

constexpr const char* kCaution =
    "Keep lifts or props under the run until every final bolt is tight and checked by a second person. "
    "Nobody under a run that hangs on "
    "one support. Moving one support moves load to the others. The tool reads shape, not strength: anchors, "
    "welds, bolts and framing are "
    "designed and checked by those licensed for it, under the local code. Never look into a laser.";

// Text as roff has it: no request at the beginning of a line, backslashes and hyphens as they are.
std::string roff(std::string_view text) {
  std::string all;
  for (const char c : text) {
    if ((all.empty() || all.back() == '\n') && (c == '.' || c == '\'')) all += "\\&";
    if (c == '\\')
      all += "\\e";
    else if (c == '-')
      all += "\\-";
    else if (c == '\'')
      all += "\\(aq";
    else
      all += c;
  }
  return all;
}

class Page {
 public:
  Page(const std::string& name, const char* chapter, const std::string& what) {
    text_ = ".\\\" Written by tools/docs; change what it is written from.\n.TH " + upper(name) + ' ' +
            chapter + " \"\" \"hangtrue " + std::string(version()) + "\" \"hangtrue\"\n.nh\n";
    section("NAME");
    text_ += roff(name) + " \\- " + roff(what) + '\n';
  }
  void section(const char* name) { text_ += std::string(".SH ") + name + '\n'; }
  void part(const std::string& name) { text_ += ".SS \"" + quotes(roff(name)) + "\"\n"; }
  void paragraph(std::string_view words) { text_ += ".PP\n" + roff(words) + '\n'; }
  void words(std::string_view words) { text_ += roff(words) + '\n'; }
  void item(const std::string& name, std::string_view words) {
    text_ += ".TP\n.B \"" + quotes(roff(name)) + "\"\n" + roff(words) + '\n';
  }
  void line_break() { text_ += ".br\n"; }
  void code(std::string_view lines) { text_ += ".PP\n.RS 4\n.nf\n" + roff(lines) + "\n.fi\n.RE\n"; }
  void code_in_item(std::string_view lines) { text_ += ".RS\n.PP\n.nf\n" + roff(lines) + "\n.fi\n.RE\n"; }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  static std::string upper(std::string name) {
    for (char& c : name)
      if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    return roff(name);
  }
  // A quote within the quotes of a request's argument.
  static std::string quotes(const std::string& text) {
    std::string all;
    for (const char c : text) all += c == '"' ? std::string("\\(dq") : std::string(1, c);
    return all;
  }

  std::string text_;
};

std::string option_name(const CLI::Option& option) {
  if (option.get_positional()) return option.get_name(true);
  std::string name = option.get_name(false, true);
  for (std::size_t at = name.find(','); at != std::string::npos; at = name.find(',', at + 2))
    name.insert(at + 1, " ");
  if (option.get_items_expected_max() > 0) name += ' ' + option.get_type_name();
  return name;
}

void options_of(Page& page, const CLI::App& app) {
  for (const CLI::Option* option : app.get_options()) {
    std::string words = option->get_description();
    if (option->get_required()) words += " (needed)";
    if (!option->get_default_str().empty()) words += " (" + option->get_default_str() + " unless given)";
    page.item(option_name(*option), words);
  }
}

// "hangtrue predict [OPTIONS] RUN"
std::string synopsis(const std::string& name, const CLI::App& app) {
  std::string all = name;
  for (const CLI::Option* option : app.get_options())
    if (option->get_required() && !option->get_positional()) all += ' ' + option_name(*option);
  all += " [OPTIONS]";
  for (const CLI::Option* option : app.get_options())
    if (option->get_positional())
      all += ' ' + (option->get_required() ? option->get_name(true) : '[' + option->get_name(true) + ']');
  return all;
}

void end(Page& page, const char* see) {
  page.section("CAUTION");
  page.words(kCaution);
  page.section("SEE ALSO");
  page.words(see);
}

void exit_codes(Page& page, const std::vector<std::pair<const char*, const char*>>& codes) {
  page.section("EXIT STATUS");
  for (const auto& [code, words] : codes) page.item(code, words);
}

}  // namespace

std::string command_page(const CLI::App& app) {
  Page page("hangtrue", "1",
            "level and sag of a suspended run, and what to set before its last bolts are tight");
  page.section("SYNOPSIS");
  page.words("hangtrue SUBCOMMAND [OPTIONS] ...");
  page.section("DESCRIPTION");
  page.words(
      "Works out from a run sheet, and from readings along the run, what is tilt (shims cure it) and what is "
      "sag (they do not): which pieces "
      "go where, how level the run will be finished and loaded, how sure that is, and whether to bolt. "
      "Readings come from a level book that "
      "hangtrued(8) keeps, or from a file.");
  page.section("SUBCOMMANDS");
  for (const CLI::App* command : subcommands_of(app)) {
    const std::string name = "hangtrue " + command->get_name();
    const auto below = subcommands_of(*command);
    page.part(below.empty() ? synopsis(name, *command) : name);
    page.words(command->get_description());
    if (below.empty()) options_of(page, *command);
    for (const CLI::App* each : below) {
      page.part(synopsis(name + ' ' + each->get_name(), *each));
      page.words(each->get_description());
      options_of(page, *each);
    }
  }
  page.section("OPTIONS");
  options_of(page, app);
  exit_codes(
      page, {{"0", "done"},
             {"1", "the answer is no: a limit is exceeded, a seal is broken, shims cannot, read again"},
             {"2", "wrong use or bad input: what was found and what would be right stands on standard error"},
             {"3", "could not do it"}});
  end(page,
      "hangtrued(8), hangtrue-run-sheet(5), hangtrue-kit-sheet(5), hangtrue-readings(5), hangtrue-json(7)");
  return page.text();
}

std::string daemon_page(const CLI::App& app) {
  Page page("hangtrued", "8",
            "reads inclinometers and distance meters along a run, and says what to set before bolting");
  page.section("SYNOPSIS");
  page.words(synopsis("hangtrued", app));
  page.section("DESCRIPTION");
  page.words(
      "Reads the instruments of the kit sheet on their serial lines, keeps every sample, reading and card in "
      "the level book, and serves a page "
      "for phones. Commands come on standard input, one a line; help lists them. A disconnected line is "
      "said, and comes back by itself.");
  page.section("OPTIONS");
  options_of(page, app);
  page.section("AS A SERVICE");
  page.words(
      "hangtrued@JOB.service of the package reads /etc/hangtrue/JOB/run.toml and kit.toml, and keeps "
      "/var/lib/hangtrue/JOB.levelbook, as a user of its own, hangtrue. Its page is for this machine alone. "
      "/etc/hangtrue/JOB/options may say otherwise, and more, a line each:");
  page.code("PAGE=0.0.0.0:8765\nMORE='--stage \"second bolted\"'");
  page.paragraph(
      "What it says, the pairing code too, is in the journal: journalctl -u hangtrued@JOB. Serial ports are "
      "of "
      "the group dialout; each has a name that stays in /dev/hangtrue. Books stay when the package goes.");
  page.section("ENVIRONMENT");
  page.item("NOTIFY_SOCKET, WATCHDOG_USEC",
            "where and how often the service manager wants to hear that it works (sd_notify(3))");
  page.item("JOURNAL_STREAM",
            "where it is standard error's, the log has priorities instead of times (sd-daemon(3))");
  page.item("XDG_CACHE_HOME", "where it notes that a long book was found whole; ~/.cache unless given");
  exit_codes(
      page,
      {{"0", "done, or stopped by a signal; the survey stays open, and the same command goes on with it"},
       {"2", "wrong use or a bad sheet"},
       {"3", "the book cannot be used, or a defect of the program"}});
  end(page, "hangtrue(1), hangtrue-run-sheet(5), hangtrue-kit-sheet(5)");
  return page.text();
}

std::string sheet_page(sheet::SheetSort sort) {
  const bool run = sort == sheet::SheetSort::run;
  Page page(run ? "hangtrue-run-sheet" : "hangtrue-kit-sheet", "5",
            run ? "what a run is: what carries it, holds it and loads it, step by step"
                : "which instruments are on which line, and what they give");
  page.section("DESCRIPTION");
  page.words(std::string(run ? "A run sheet" : "A kit sheet") +
             " is a text in TOML 1.0, in UTF-8, of at most 1 MiB. A quantity is a text with its unit, such "
             "as \"4200 mm\" or \"11 ft 4 in\"; 0 needs "
             "none. A point, never a comma. x goes along the run from its start mark, z up, left is to the "
             "left as one looks along the run. A slope "
             "is positive where the run climbs, a roll where the left edge is high. Every sigma is one "
             "standard deviation.");
  page.paragraph(
      run ? "hangtrue new run writes one to fill in; hangtrue check RUN says what is wrong or doubtful."
          : "hangtrue new kit writes one to fill in; hangtrue check RUN KIT says what is wrong or doubtful.");
  page.section("KEYS");
  for (const sheet::Section& section : sheet::sections()) {
    if (section.sheet != sort) continue;
    page.part(section.heading.empty() ? "At its top" : std::string(section.heading));
    page.words(section.says);
    for (const sheet::Key& key : sheet::keys()) {
      if (key.sheet != sort || key.section != section.name) continue;
      page.item(std::string(key.name), key.says);
      page.line_break();
      page.words("Value: " + sheet::value_words(key) +
                 (key.limits.empty() ? "" : "; " + std::string(key.limits)) + '.');
      page.line_break();
      std::string needed = say::needed_words(key);
      needed.front() = needed.front() == 'n' ? 'N' : 'M';
      page.words(needed + '.');
      if (!key.instead.empty()) {
        std::string others;
        for (const std::string& each : sheet::parts(key.instead))
          others += (others.empty() ? "" : ", ") + each;
        page.line_break();
        page.words("Not beside: " + others + '.');
      }
      page.code_in_item(key.example);
    }
  }
  page.section("UNITS");
  page.words("Each may be written as the trade does, too: N/mm\xC2\xB2, lbs, 14' 7 1/2\", 7-1/2 in.");
  for (const sheet::Kind kind : sheet::kinds()) {
    std::string listed;
    for (const std::string_view unit : sheet::units(kind))
      listed += (listed.empty() ? "" : ", ") + std::string(unit);
    page.item(std::string(sheet::name(kind)), listed);
  }
  end(page, run ? "hangtrue(1), hangtrued(8), hangtrue-kit-sheet(5)"
                : "hangtrue(1), hangtrued(8), hangtrue-run-sheet(5)");
  return page.text();
}

}  // namespace hangtrue::docs

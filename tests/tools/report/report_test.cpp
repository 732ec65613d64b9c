// hangtrue report: the shipped command on books of invented runs; its documents read back by poppler and ZBar.
#include <gmock/gmock.h>
#include <sys/wait.h>

#include <cstdio>
#include <filesystem>
#include <map>
#include <regex>
#include <set>

#include "firmware-host/book/short_form.hpp"
#include "firmware-host/sheet/number.hpp"
#include "tests/firmware-host/book/scratch.hpp"
#include "tests/tools/report/site.hpp"
#include "tools/report/as_built/fitted_shape.hpp"
#include "tools/report/common/figures.hpp"

namespace hangtrue::report {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

struct Ended {
  int code = -1;
  std::string output;
};
Ended shell(const std::string& command) {
  Ended ended;
  FILE* const pipe = ::popen((command + " 2>&1").c_str(), "r");
  if (pipe == nullptr) return ended;
  char chunk[4096];
  while (const std::size_t count = std::fread(chunk, 1, sizeof chunk, pipe))
    ended.output.append(chunk, count);
  const int status = ::pclose(pipe);
  ended.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  return ended;
}

const std::string kRuns = HANGTRUE_DATA_DIR "/runs/";

/// Both demo runs, metric and imperial, each with its story; made once.
struct Jobs {
  book::Scratch scratch;
  std::string metric_run = scratch / "shelf.toml", imperial_run = scratch / "canopy.toml";
  std::string metric_book = scratch / "shelf.levelbook", imperial_book = scratch / "canopy.levelbook";
  Story metric, imperial;

  Jobs() {
    const std::string kit = text_of(HANGTRUE_DATA_DIR "/kits/reading-room.toml");
    const auto marked = [](std::string text) {
      return text.find("[[mark]]") == std::string::npos ? text + kMarks : text;
    };
    const std::string shelf = marked(text_of(kRuns + "reading-room-bridge-shelf.toml")),
                      canopy = marked(text_of(kRuns + "bottle-canopy.toml"));
    book::write_bytes(metric_run, shelf);
    book::write_bytes(imperial_run, canopy);
    Site here(metric_book, metric_run, shelf, kit);
    metric = tell(here, "second bolted", "in use", "east rod");
    Site there(imperial_book, imperial_run, canopy, kit);
    imperial = tell(there, "second bolted", "in use", "ceiling post");
  }
};
Jobs& jobs() {
  static Jobs made;
  return made;
}

class Report : public ::testing::Test {
 protected:
  [[nodiscard]] Ended report(const std::string& arguments) const {
    return shell("cd '" + scratch_.directory() + "' && " HANGTRUE_COMMAND " report " + arguments);
  }
  /// -o F.pdf of one of the jobs, as text.
  [[nodiscard]] std::string text(const std::string& arguments, bool metric = true) {
    const Jobs& all = jobs();
    const std::string name = "F" + std::to_string(++made_) + ".pdf";
    last_ = scratch_ / name;
    const Ended ended =
        report("'" + (metric ? all.metric_run : all.imperial_run) + "' --book '" +
               (metric ? all.metric_book : all.imperial_book) + "' " + arguments + " -o " + name);
    EXPECT_EQ(ended.code, 0) << ended.output;
    return shell("pdftotext -layout '" + last_ + "' -").output;
  }
  [[nodiscard]] std::set<std::string> files() const {
    std::set<std::string> names;
    for (const auto& file : std::filesystem::directory_iterator(scratch_.directory()))
      names.insert(file.path().filename().string());
    return names;
  }
  /// Every word within the margins, none over another, every page numbered.
  void expect_well_set(const std::string& path) const;

  book::Scratch scratch_;
  std::string last_;
  int made_ = 0;
};

void Report::expect_well_set(const std::string& path) const {
  const std::string boxes = shell("pdftotext -bbox '" + path + "' -").output;
  static const std::regex page_line("<page width=\"([0-9.]+)\" height=\"([0-9.]+)\">");
  static const std::regex word_line(
      "<word xMin=\"([-0-9.]+)\" yMin=\"([-0-9.]+)\" xMax=\"([-0-9.]+)\" yMax=\"([-0-9.]+)\">(.*)</word>");
  struct Word {
    double left, top, right, bottom;
    std::string text;
  };
  std::vector<Word> words;
  double width = 0, height = 0;
  int outside = 0, over = 0;
  std::string first;
  std::smatch match;
  std::istringstream lines(boxes);
  for (std::string line; std::getline(lines, line);) {
    if (std::regex_search(line, match, page_line)) {
      width = std::stod(match[1]);
      height = std::stod(match[2]);
      words.clear();
    } else if (std::regex_search(line, match, word_line)) {
      const Word word{std::stod(match[1]), std::stod(match[2]), std::stod(match[3]), std::stod(match[4]),
                      match[5]};
      if (word.left < 58 || word.right > width - 44 || word.top < 30 || word.bottom > height - 22) {
        ++outside;
        first += " [" + word.text + "]";
      }
      // A word's box has room above and below its letters: only a third of it counts.
      const auto core = [](const Word& it) {
        return std::pair(it.top + (it.bottom - it.top) / 3, it.bottom - (it.bottom - it.top) / 3);
      };
      for (const Word& other : words) {
        if (std::min(word.right, other.right) - std::max(word.left, other.left) < 0.8) continue;
        if (std::min(core(word).second, core(other).second) - std::max(core(word).first, core(other).first) <
            0.3)
          continue;
        ++over;
        first += " [" + word.text + " over " + other.text + "]";
      }
      words.push_back(word);
    }
  }
  EXPECT_GT(width, 0) << boxes.substr(0, 300);
  EXPECT_EQ(outside, 0) << path << first;
  EXPECT_EQ(over, 0) << path << first;
  const int pages = std::stoi(shell("pdfinfo '" + path + "' | sed -n 's/^Pages: *//p'").output);
  for (int page = 1; page <= pages; ++page) {
    const std::string read = shell("pdftotext -layout -f " + std::to_string(page) + " -l " +
                                   std::to_string(page) + " '" + path + "' -")
                                 .output;
    EXPECT_THAT(read, HasSubstr(std::to_string(page) + " of " + std::to_string(pages)));
    // Between head and foot stands more than a code's lines, and no heading last.
    std::vector<std::string> content;
    std::istringstream all(read);
    for (std::string line; std::getline(all, line);)
      if (line.find_first_not_of(" \f") != std::string::npos) content.push_back(line);
    ASSERT_GT(content.size(), 6u) << path << ", page " << page << '\n' << read;
    static const std::regex heading("^ *[0-9]+(\\.[0-9]+)? +[A-Z][^.]*$");
    EXPECT_FALSE(std::regex_match(content[content.size() - 2], heading))
        << path << ", page " << page << ": " << content[content.size() - 2];
  }
}

TEST_F(Report, AsBuiltSaysWhatTheBookHasInBothUnitsAndOnBothPapers) {
  for (const bool metric : {true, false}) {
    const std::string read = text("--survey as-built", metric);
    for (const char* heading :
         {"Result", "Shape", "Sag beside its limit", "What the supports carry",
          "Moves made and hold-point answers", "What was hung", "Supports and stable marks",
          "Instruments, calibration and checks", "Set-ups and readings",
          "What was assumed and what was measured", "What each survey taught", "Uncertainty", "Cautions",
          "Seal and level book", "Every reading"})
      EXPECT_THAT(read, ::testing::ContainsRegex("[0-9]+ +" + std::string(heading))) << metric;
    for (const char* said :
         {"NO CALIBRATION STATED", "calibrated 2026-09-14, due 2027-09-14", "yes, marked as made",
          "JCGM 100:2008", "Never look into a laser", "times too tall", "zero of K1 slope, 3 pairs of faces",
          "datum tilt of K2", "lintel", "the client's wish"})
      EXPECT_THAT(read, HasSubstr(said)) << metric;
    // Where two letters of a code lie far apart, as A and J do, the reader of the PDF puts a space between them.
    std::string closed = read;
    std::erase(closed, ' ');
    EXPECT_THAT(closed, HasSubstr(book::short_form((metric ? jobs().metric : jobs().imperial).seal.hash)));
    EXPECT_THAT(read, HasSubstr(metric ? "4200 mm" : "11 ft 4 in"));
    EXPECT_THAT(read, HasSubstr(metric ? "kN/mm" : "lbf/in"));
    EXPECT_THAT(read, Not(HasSubstr(metric ? " lbf" : " kN"))) << "one system of units";
    EXPECT_THAT(shell("pdfinfo '" + last_ + "'").output, HasSubstr(metric ? "(A4)" : "(letter)"));
    EXPECT_THAT(shell("pdfinfo '" + last_ + "'").output, HasSubstr("As-built record: "));
    expect_well_set(last_);
    (void)text(std::string("--survey as-built --paper ") + (metric ? "letter" : "a4"), metric);
    EXPECT_THAT(shell("pdfinfo '" + last_ + "'").output, HasSubstr(metric ? "(letter)" : "(A4)"));
    expect_well_set(last_);
  }
}

TEST_F(Report, NumbersAreThoseOfTheFitAndEveryReadingIsThere) {
  const std::string read = text("--survey 1");
  const auto book = book::Book::open_to_read(jobs().metric_book).value();
  const sheet::RunSheet run = *sheet::read_run_sheet(jobs().metric_run).sheet;
  const book::SurveyRecord record = book.surveys().value().front();
  const job::History history = job::fit_history(book, run, record).value();
  const job::FitReport& fit = history.last().session->report();
  double mean = 0;
  for (const auto& station : fit.stations) mean += station.height_m / double(fit.stations.size());
  const Figures figures{run.show};
  for (const auto& station : fit.stations)
    EXPECT_THAT(read, ::testing::ContainsRegex(figures.place(station.at_m) + " +" +
                                               figures.number(station.height_m - mean) + " +" +
                                               figures.sigma_number(station.height_less_mean_sigma_m)));
  std::size_t judged = 0;
  for (const book::BookedReading& each : history.last().booked.readings) {
    std::string row = "\n +" + std::to_string(each.number) + " .*";
    if (each.kept) row += sheet::show_number(fit.judgements[judged++].normalised, 2) + " +mm";
    EXPECT_THAT(read, ::testing::ContainsRegex(row)) << each.number;
  }
  EXPECT_THAT(read, HasSubstr("beyond"));
  std::string flat = std::regex_replace(shell("pdftotext '" + last_ + "' -").output, std::regex("\\s+"), " ");
  for (const std::string& reason : {jobs().metric.hand_reason, jobs().metric.corrected_reason})
    EXPECT_THAT(flat, HasSubstr(reason));
  EXPECT_THAT(flat, HasSubstr("as taken: at 2100 mm"));
  EXPECT_THAT(flat, HasSubstr("Lights on, doors leaning at the wall."));
  EXPECT_THAT(read, HasSubstr("chi-squared " + sheet::show_number(fit.self_test.chi_squared, 1)));
}

TEST_F(Report, FittedShapeIsTheShapeThatTheFitDescribes) {
  const auto book = book::Book::open_to_read(jobs().metric_book).value();
  const sheet::RunSheet run = *sheet::read_run_sheet(jobs().metric_run).sheet;
  const std::vector<book::SurveyRecord> surveys = book.surveys().value();
  for (const book::SurveyRecord& record : surveys) {
    const job::History history = job::fit_history(book, run, record).value();
    const job::FitReport& fit = history.last().session->report();
    const FittedShape shape(run, fit);
    ASSERT_TRUE(shape.solved());
    for (const auto& station : fit.stations) {
      EXPECT_NEAR(shape.solver().height(fit.stage, station.at_m), station.height_m, 1e-8);
      EXPECT_NEAR(shape.solver().at(fit.stage, station.at_m).roll_rad, station.roll_rad, 1e-8);
    }
  }
}

// A support's name must not choose the unit.
TEST_F(Report, UnitsFollowTheKindOfAQuantityNotTheName) {
  std::string run = text_of(kRuns + "reading-room-bridge-shelf.toml");
  for (const auto& [was, is] :
       {std::pair<std::string, std::string>{"wall bracket", "load post"}, {"east rod", "bow bracket"}})
    for (std::size_t at = run.find(was); at != std::string::npos; at = run.find(was, at + is.size()))
      run.replace(at, was.size(), is);
  book::write_bytes(scratch_ / "names.toml", run);
  {
    Site site(scratch_ / "names.levelbook", "names.toml", run,
              text_of(HANGTRUE_DATA_DIR "/kits/reading-room.toml"));
    site.walk(site.begin("1", "in use"));
  }
  const Ended ended = report("names.toml --book names.levelbook --survey 1 -o N.pdf");
  ASSERT_EQ(ended.code, 0) << ended.output;
  const std::string read = shell("pdftotext -layout '" + (scratch_ / "N.pdf") + "' -").output;
  const std::string figures = "( +-?[0-9.]+ UNIT){4} +[0-9]+ *%";
  const auto in = [&](const std::string& unit) {
    return std::regex_replace(figures, std::regex("UNIT"), unit);
  };
  EXPECT_THAT(read, ::testing::ContainsRegex("load post: rise" + in("mm")));
  EXPECT_THAT(read, ::testing::ContainsRegex("load post: pitch" + in("mm/m")));
  EXPECT_THAT(read, ::testing::ContainsRegex("bow bracket: rise" + in("mm")));
  EXPECT_THAT(read, ::testing::ContainsRegex("load books" + in("times")));
}

TEST_F(Report, CardIsOnePageThatSaysTheMoves) {
  for (const bool metric : {true, false})
    for (const char* paper : {"a4", "letter"}) {
      const std::string read = text(std::string("--survey 1 --card --paper ") + paper, metric);
      EXPECT_THAT(read, HasSubstr("1 of 1"));
      const auto& card = (metric ? jobs().metric : jobs().imperial).card;
      std::string answer = card["hold_point"];
      for (char& c : answer) c = char(std::toupper(static_cast<unsigned char>(c)));
      EXPECT_THAT(read, HasSubstr(answer));
      ASSERT_FALSE(card["moves"].empty());
      std::size_t from = 0;  // in their order
      for (const auto& move : card["moves"]) {
        from = read.find(move["support"].get<std::string>().substr(0, 4), from);
        EXPECT_NE(from, std::string::npos) << move;
      }
      EXPECT_THAT(read, HasSubstr("Slacken"));
      EXPECT_THAT(read, HasSubstr("Keep lifts or props"));
      expect_well_set(last_);
    }
}

TEST_F(Report, RecheckNamesWhatSankAndDrawsTheTrend) {
  for (const bool metric : {true, false}) {
    const std::string read = text("--from as-built --to last", metric);
    for (const char* said :
         {"What moved", "MOVED", "Before, now and the change", "Every change that was looked for",
          "What the run was expected to do by itself", "Datum, instruments and checks",
          "Kit of survey as-built", "Kit of survey last", "lintel", "column", "Uncertainty", "Cautions",
          "Seal and level book", "NOT SEALED", "smallest"})
      EXPECT_THAT(read, HasSubstr(said));
    EXPECT_THAT(read, ::testing::ContainsRegex(metric ? "east rod sank" : "ceiling post sank"));
    EXPECT_THAT(read, HasSubstr("Over all surveys"));
    expect_well_set(last_);
  }
}

TEST_F(Report, PrintsHaveFieldsForPlacePersonsAndSignatures) {
  for (const char* what : {"--survey as-built", "--survey 1 --card", "--from as-built --to last"}) {
    const std::string read = text(what);
    for (const char* field : {"Place", "Read by", "Second person", "Signature"})
      EXPECT_THAT(read, HasSubstr(field)) << what;
  }
  EXPECT_THAT(text("--survey as-built"), HasSubstr("In short."));
}

TEST_F(Report, ARechecksFirstPageSaysToKeepAwayAndWhetherItIsPastItsTolerance) {
  (void)text("--from as-built --to last --tolerance '0.01 mm'");
  const std::string first = shell("pdftotext -layout -f 1 -l 1 '" + last_ + "' -").output;
  EXPECT_THAT(first, HasSubstr("PAST ITS TOLERANCE"));
  EXPECT_THAT(first, HasSubstr("keep people from under the run"));
  EXPECT_THAT(first, HasSubstr("In short."));
}

TEST_F(Report, AsHtmlHasTheSameHeadingsTablesAndWords) {
  for (const char* what : {"--survey as-built", "--from as-built --to last"}) {
    const std::string name = scratch_ / (std::string("record-") + (what[2] == 's' ? "a" : "b") + ".html");
    // Without the run sheet: the book has it.
    const Ended ended = report("--book '" + jobs().metric_book + "' " + what + " -o '" + name + "'");
    ASSERT_EQ(ended.code, 0) << ended.output;
    const std::string html = text_of(name);
    EXPECT_THAT(html, HasSubstr("<html lang=\"en\">"));
    EXPECT_THAT(html, HasSubstr("<caption>Table 1. "));
    EXPECT_THAT(html, HasSubstr("<th scope=\"col\">"));
    EXPECT_THAT(html, Not(HasSubstr("<script")));
    const auto count = [&](const std::string& of) {
      int found = 0;
      for (std::size_t at = 0; (at = html.find(of, at)) != std::string::npos; ++at) ++found;
      return found;
    };
    for (const char* tag : {"table", "ul", "dl", "p", "div", "h2", "td", "li"})
      EXPECT_EQ(count(std::string("<") + tag + ">") + count(std::string("<") + tag + " "),
                count(std::string("</") + tag + ">"))
          << tag;
    // Every section of the PDF is there, with its number.
    const std::string read = text(what);
    static const std::regex section("<h2>([0-9]+) ([^<]*)</h2>");
    int sections = 0;
    for (auto it = std::sregex_iterator(html.begin(), html.end(), section); it != std::sregex_iterator();
         ++it) {
      ++sections;
      EXPECT_THAT(read, HasSubstr((*it)[2].str()));
    }
    EXPECT_GE(sections, 6);
  }
}

TEST_F(Report, SealsCodeReadsBackFromThePageAndFontsAreEmbedded) {
  (void)text("--survey as-built");
  shell("pdftoppm -r 150 -png -f 1 -l 1 '" + last_ + "' '" + (scratch_ / "page") + "'");
  std::string picture;
  for (const std::string& name : files())
    if (name.starts_with("page") && name.ends_with(".png")) picture = scratch_ / name;
  EXPECT_EQ(shell("zbarimg --nodbus --quiet --raw -Sdisable -Sqrcode.enable '" + picture + "'").output,
            book::seal_text(jobs().metric.seal) + "\n");

  std::istringstream fonts(shell("pdffonts '" + last_ + "'").output);
  int count = 0;
  for (std::string line; std::getline(fonts, line);) {
    if (line.starts_with("name") || line.starts_with("---") || line.empty()) continue;
    ++count;
    EXPECT_THAT(line, ::testing::ContainsRegex(" yes +yes +yes +[0-9]+ +[0-9]+ *$"))
        << "embedded, subset, with Unicode";
  }
  EXPECT_GE(count, 3);
}

TEST_F(Report, SameBookGivesTheSameBytesAndPicturesHaveAFileAPage) {
  const std::string from =
      "'" + jobs().metric_run + "' --book '" + jobs().metric_book + "' --survey as-built -o ";
  for (const char* ending : {"pdf", "svg", "png"}) {
    std::map<std::string, std::string> bytes[2];
    for (int again = 0; again < 2; ++again) {
      ASSERT_EQ(report(from + "R." + ending + " --force").code, 0);
      for (const std::string& name : files())
        if (name.starts_with("R")) bytes[again][name] = book::bytes_of(scratch_ / name);
    }
    EXPECT_TRUE(bytes[0] == bytes[1]) << ending;
    EXPECT_EQ(bytes[0].size() > 1, std::string(ending) != "pdf");
    EXPECT_EQ(bytes[0].begin()->first, std::string(ending) == "pdf" ? "R.pdf" : "R-1." + std::string(ending));
    for (const auto& [name, content] : bytes[0]) std::filesystem::remove(scratch_ / name);
  }
  ASSERT_EQ(report(from + "card.png --card").code, 0);
  EXPECT_TRUE(files().contains("card.png"));
}

TEST_F(Report, LongSheetsBreakOverPagesWithNothingCutOff) {
  std::string run = text_of(kRuns + "reading-room-bridge-shelf.toml");
  std::string names, added;
  for (int i = 0; i < 7; ++i) {
    const std::string name = "an intermediate support with a long name, number " + std::to_string(i + 1);
    names += ", \"" + name + '"';
    added += "\n[[support]]\nname = \"" + name + "\"\nat = \"" + std::to_string(500 + 470 * i) +
             " mm\"\nrise = \"1 kN/mm\"\npitch = \"free\"\nroll = \"free\"\n" +
             "adjust = { by = \"lift\", step = \"1 mm\", rise = [\"-30 mm\", \"30 mm\"] }\n";
  }
  const std::string in_use = "name = \"in use\"\nsupports = [\"wall bracket\", \"east rod\"";
  run.replace(run.find(in_use), in_use.size(), in_use + names);
  run += added;
  book::write_bytes(scratch_ / "long.toml", run);
  {
    Site site(scratch_ / "long.levelbook", "long.toml", run,
              text_of(HANGTRUE_DATA_DIR "/kits/reading-room.toml"));
    const book::Number survey = site.begin("long", "in use");
    site.walk(survey, 4);
    const book::Number knocked = site.take(survey, Channel::roll, 1.5);
    std::string reason;  // higher than a page
    for (int i = 0; i < 400; ++i) reason += "reason" + std::to_string(i) + ' ';
    site.append(book::SetAside{knocked, reason + "END"}, survey);
  }
  for (const char* paper : {"a4", "letter"}) {
    const std::string name = std::string("L-") + paper + ".pdf";
    const Ended ended =
        report("long.toml --book long.levelbook --survey long -o " + name + " --paper " + paper);
    ASSERT_EQ(ended.code, 0) << ended.output;
    expect_well_set(scratch_ / name);
    const std::string read = shell("pdftotext -layout '" + (scratch_ / name) + "' -").output;
    for (int i = 0; i < 400; i += 57) EXPECT_THAT(read, HasSubstr("reason" + std::to_string(i)));
    EXPECT_THAT(read, HasSubstr("END"));
    EXPECT_THAT(read, HasSubstr("(continued)"));
    const std::regex row("\\n +[0-9]+ +[0-9]{2}:[0-9]{2}:[0-9]{2} ");
    EXPECT_EQ(std::distance(std::sregex_iterator(read.begin(), read.end(), row), std::sregex_iterator()),
              4 * 5 * 15 + 1);
  }
}

TEST_F(Report, BadInputIsNamedAndLeavesNoFile) {
  const Jobs& all = jobs();
  const std::string job = "'" + all.metric_run + "' --book '" + all.metric_book + "' ";
  const auto expect = [&](const std::string& arguments, int code, const char* says) {
    const Ended ended = report(arguments);
    EXPECT_EQ(ended.code, code) << arguments << '\n' << ended.output;
    EXPECT_THAT(ended.output, HasSubstr(says)) << arguments;
  };
  const std::set<std::string> before = files();
  expect(job + "--survey nine -o F.pdf", 2, "as-built");
  expect(job + "--survey as-built -o F.docx", 2, "a name that ends in .pdf, .html, .svg or .png");
  expect(job + "--survey as-built -o F", 2, "a name that ends in");
  expect(job + "--survey as-built -o nowhere/F.pdf", 3, "cannot be written");
  expect(job + "-o F.pdf", 2, "--from ID and --to ID");
  expect(job + "--from 1 -o F.pdf", 2, "--to");
  expect(job + "--from as-built --to as-built -o F.pdf", 2, "as-built");
  expect(job + "--survey as-built -o F.pdf --paper a3", 2, "a3");
  expect("'" + all.imperial_run + "' --book '" + all.metric_book + "' --survey as-built -o F.pdf", 2,
         "another sheet than survey as-built went by");
  expect("'" + all.metric_run + "' --book none.levelbook --survey 1 -o F.pdf", 2, "none.levelbook");
  EXPECT_EQ(files(), before);

  const std::string broken = scratch_ / "broken.levelbook";
  std::filesystem::copy_file(all.metric_book, broken);
  book::sql(broken,
            "DROP TRIGGER no_change; UPDATE entry SET body = replace(body, 'ladder', 'wind') WHERE kind = "
            "'set aside'");
  expect("'" + all.metric_run + "' --book broken.levelbook --survey 1 -o F.pdf", 1,
         "is not whole, so there is no report");
  EXPECT_FALSE(files().contains("F.pdf"));

  {
    Site site(scratch_ / "empty.levelbook", all.metric_run, text_of(all.metric_run),
              text_of(HANGTRUE_DATA_DIR "/kits/reading-room.toml"));
    (void)site.begin("bare", "in use");
  }
  expect("'" + all.metric_run + "' --book empty.levelbook --survey bare -o F.pdf", 2,
         "has no reading that counts");

  book::write_bytes(scratch_ / "fonts.conf",
                    "<?xml version=\"1.0\"?><fontconfig><dir>/nowhere</dir></fontconfig>");
  const Ended bare =
      shell("cd '" + scratch_.directory() + "' && FONTCONFIG_FILE='" + (scratch_ / "fonts.conf") +
            "' " HANGTRUE_COMMAND " report " + job + "--survey as-built -o F.pdf");
  EXPECT_EQ(bare.code, 3) << bare.output;
  EXPECT_THAT(bare.output, HasSubstr("install fonts-open-sans"));

  book::write_bytes(scratch_ / "kept.pdf", "mine");
  expect(job + "--survey as-built -o kept.pdf", 2, "exists already");
  EXPECT_EQ(book::bytes_of(scratch_ / "kept.pdf"), "mine");
  std::filesystem::copy_file(all.metric_book, scratch_ / "book.pdf");
  expect(job + "--survey as-built --force -o book.pdf", 2, "is a level book");
  for (const std::string& name : files()) EXPECT_FALSE(name.starts_with("F")) << name;
}

}  // namespace
}  // namespace hangtrue::report

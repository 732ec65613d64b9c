// hangtrue surveys, seal, audit and export: the shipped command on books of its own making and on one of a former schema.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>

#include <cstdio>
#include <fstream>
#include <set>

#include <nlohmann/json.hpp>

#include "firmware-host/book/book.hpp"
#include "firmware-host/book/sha256.hpp"
#include "firmware-host/book/short_form.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

using Json = nlohmann::json;
using ::testing::HasSubstr;
using ::testing::Not;

const std::string kOld = HANGTRUE_DATA_DIR "/books/schema-1.levelbook";  // see data/books/README.md

struct Ended {
  int code = -1;
  std::string output, errors;
};

class BookCommands : public ::testing::Test {
 protected:
  BookCommands() { std::filesystem::copy_file(kOld, old_); }

  /// `before`: what the shell is to do first, such as a limit.
  [[nodiscard]] Ended run(const std::string& arguments, const std::string& before = "") const {
    Ended ended;
    const std::string errors = scratch_ / "errors";
    FILE* const pipe = ::popen((before + "cd '" + scratch_.directory() + "' && " HANGTRUE_COMMAND " " +
                                arguments + " 2>'" + errors + "'")
                                   .c_str(),
                               "r");
    if (pipe == nullptr) return ended;
    char chunk[4096];
    while (const std::size_t count = std::fread(chunk, 1, sizeof chunk, pipe))
      ended.output.append(chunk, count);
    const int status = ::pclose(pipe);
    ended.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    ended.errors = bytes_of(errors);
    std::filesystem::remove(errors);
    return ended;
  }
  [[nodiscard]] Json json(const std::string& arguments, int code = 0) const {
    const Ended ended = run(arguments + " --json");
    EXPECT_EQ(ended.code, code) << ended.errors;
    Json parsed = Json::parse(ended.output, nullptr, false);
    EXPECT_FALSE(parsed.is_discarded()) << ended.output;
    return parsed;
  }
  [[nodiscard]] std::set<std::string> files() const {
    std::set<std::string> names;
    for (const auto& file : std::filesystem::directory_iterator(scratch_.directory()))
      names.insert(file.path().filename().string());
    for (const char* beside : {"old-wal", "old-shm", "B.levelbook-wal", "B.levelbook-shm"})
      names.erase(beside);
    return names;
  }

  Scratch scratch_;
  const std::string old_ = scratch_ / "old";
};

TEST_F(BookCommands, SurveysListsWhatTheBookHolds) {
  const Json listed = json("surveys old").at("surveys");
  ASSERT_EQ(listed.size(), 2u);
  EXPECT_EQ(listed[0],
            Json::parse(R"({"id":"1","entry":3,"stage":"on lifts","begun":"2026-09-14T08:30:02.250000Z",
      "closed":true,"readings":30,"kept":29,"moves":0,"run":"Bottle canopy over the bar","sealed_by":43,"seals_after":1,"clock_ahead":null})"));
  EXPECT_EQ(listed[1].at("id"), "as-built");
  EXPECT_EQ(listed[1].at("closed"), false);
  EXPECT_EQ(listed[1].at("sealed_by"), nullptr);
  const Ended shown = run("surveys old");
  EXPECT_EQ(shown.code, 0);
  EXPECT_THAT(shown.output, HasSubstr("Bottle canopy over the bar"));
  EXPECT_THAT(shown.output, HasSubstr("29/30"));
  EXPECT_THAT(shown.output, HasSubstr("as-built  second bolted  2026-09-14 12:30  open"));
}

TEST_F(BookCommands, SurveysOfABookThatIsNoneEndsWith2) {
  EXPECT_EQ(run("surveys nowhere").code, 2);
  write_bytes(scratch_ / "text", "no book at all, but a text of some length\n");
  const Ended ended = run("surveys text");
  EXPECT_EQ(ended.code, 2);
  EXPECT_THAT(ended.errors, HasSubstr("text is no level book"));
  EXPECT_EQ(run("surveys .").code, 2);
  EXPECT_EQ(run("surveys").code, 2);
}

TEST_F(BookCommands, SealIsWhatAuditThenConfirms) {
  const Json seal = json("seal old");
  EXPECT_EQ(seal.at("number"), 49);
  EXPECT_EQ(seal.at("entries"), 48);
  EXPECT_EQ(seal.at("short"), short_form(seal.at("hash").get<std::string>()));
  EXPECT_EQ(seal.at("text"), "hangtrue level book seal 49 " + seal.at("short").get<std::string>());

  std::string spoken = seal.at("short");  // as it may have been written down
  for (char& c : spoken)
    c = c == '-' ? ' ' : c == 'O' ? '0' : c == 'I' ? '1' : static_cast<char>(std::tolower(c));
  const Json audit = json("audit old --seal '49 " + spoken + "' --seal '43 KNH4-JHSV-5TS2-LSX5'");
  EXPECT_EQ(audit.at("whole"), true);
  EXPECT_EQ(audit.at("entries"), 49);
  EXPECT_EQ(audit.at("first_bad"), nullptr);
  ASSERT_EQ(audit.at("noted").size(), 2u);
  EXPECT_EQ(audit.at("noted")[0].at("answer"), "matches");
  EXPECT_EQ(audit.at("noted")[0].at("short"), seal.at("short"));
  EXPECT_EQ(audit.at("noted")[1].at("answer"), "matches");
  EXPECT_EQ(audit.at("seals")[1].at("hash"), seal.at("hash"));
}

TEST_F(BookCommands, SealShowsWhatToNoteAndAQrCode) {
  const Ended plain = run("seal old");
  EXPECT_EQ(plain.code, 0);
  EXPECT_THAT(plain.output, HasSubstr("hangtrue audit old --seal \"49 "));
  EXPECT_THAT(plain.output, Not(HasSubstr("\xE2\x96\x88")));
  const Ended coded = run("seal old --qr");
  EXPECT_EQ(coded.code, 0);
  EXPECT_THAT(coded.output, HasSubstr("\xE2\x96\x88"));
  EXPECT_THAT(coded.output, Not(HasSubstr("\x1b"))) << "no colours where no terminal is";
}

TEST_F(BookCommands, SealRefusesABookThatIsNotWholeAndMakesNone) {
  sql(old_,
      "DROP TRIGGER no_change; UPDATE entry SET body = replace(body, 'knocked', 'bumped') WHERE kind = 'set "
      "aside'");
  const Ended refused = run("seal old");
  EXPECT_EQ(refused.code, 1);
  EXPECT_THAT(refused.errors, HasSubstr("was not sealed"));
  EXPECT_THAT(refused.errors, HasSubstr("set aside"));
  EXPECT_EQ(json("audit old", 1).at("seals").size(), 0u);
  EXPECT_EQ(Book::open_to_read(old_).value().seals().value().size(), 1u) << "nothing was added";

  EXPECT_EQ(run("seal new").code, 2);
  EXPECT_EQ(files(), std::set<std::string>{"old"});
}

TEST_F(BookCommands, SheetsComeBackOutOfTheBookAsTheyWereThen) {
  const Ended run_sheet = run("sheet old"), kit_sheet = run("sheet old --kit");
  ASSERT_EQ(run_sheet.code, 0) << run_sheet.errors;
  const Json all = Json::parse(run("export old --survey 1 --json").output);
  EXPECT_EQ(run_sheet.output, all.at("run").at("text"));
  EXPECT_EQ(kit_sheet.output, all.at("kit").at("text"));
  EXPECT_EQ(run("sheet old --survey 1 -o R.toml").code, 0);
  EXPECT_EQ(bytes_of(scratch_ / "R.toml"), run_sheet.output);
  EXPECT_EQ(run("sheet old -o R.toml").code, 2) << "exists already";
  EXPECT_EQ(run("sheet old --survey 9").code, 2);
  // So the run sheet need not lie there.
  for (const char* what : {"fit", "shims"}) {
    const Ended given = run(std::string(what) + " R.toml --book old --survey 1 --json"),
                found = run(std::string(what) + " --book old --survey 1 --json");
    EXPECT_EQ(found.code, given.code) << found.errors;
    EXPECT_EQ(found.output, given.output);
    EXPECT_FALSE(found.output.empty());
  }
  EXPECT_EQ(run("fit --readings R.csv --stage bare").code, 2);
}

TEST_F(BookCommands, NothingIsListedExportedOrWrittenOutOfABookThatIsNotWhole) {
  sql(old_,
      "DROP TRIGGER no_change; UPDATE entry SET body = replace(body, '0.254', '0.25') WHERE number = 13");
  for (const char* what : {"surveys old", "export old --survey 1", "sheet old"}) {
    const Ended ended = run(what);
    EXPECT_EQ(ended.code, 1) << what;
    EXPECT_EQ(ended.output, "") << what;
    EXPECT_THAT(ended.errors, HasSubstr("old is not whole")) << what;
  }
}

TEST_F(BookCommands, SealOfABookThatADaemonWritesInEndsWith3) {
  const auto writer = Book::open(old_);
  ASSERT_TRUE(writer.ok());
  const Ended refused = run("seal old");
  EXPECT_EQ(refused.code, 3);
  EXPECT_THAT(refused.errors, HasSubstr("another daemon writes in it"));
  EXPECT_EQ(run("audit old").code, 0) << "reading goes on meanwhile";
}

TEST_F(BookCommands, AuditNamesTheFirstBadEntry) {
  sql(old_,
      "DROP TRIGGER no_change; UPDATE entry SET body = replace(body, '0.254', '0.25') WHERE number = 13");
  const Json audit = json("audit old", 1);
  EXPECT_EQ(audit.at("whole"), false);
  EXPECT_EQ(audit.at("first_bad").at("number"), 13);
  EXPECT_EQ(audit.at("first_bad").at("kind"), "reading");
  EXPECT_EQ(audit.at("entries"), 12);
  const Ended shown = run("audit old");
  EXPECT_EQ(shown.code, 1);
  EXPECT_THAT(shown.output, HasSubstr("old: NOT WHOLE"));
  EXPECT_THAT(shown.output, HasSubstr("entry 13 (reading, "));
}

TEST_F(BookCommands, AuditComparesNotedSeals) {
  EXPECT_EQ(run("audit old --seal '43 KNH4-JHSV-5TS2-LSX5'").code, 0);
  const Json differs = json("audit old --seal '43 KNH4-JHSV-5TS2-LSX4'", 1);
  EXPECT_EQ(differs.at("noted")[0].at("answer"), "differs");
  const Json cut = json("audit old --seal '430 KNH4-JHSV-5TS2-LSX5'", 1);
  EXPECT_EQ(cut.at("noted")[0].at("answer"), "cut off");
  const Json none = json("audit old --seal '42 KNH4-JHSV-5TS2-LSX5'", 1);
  EXPECT_EQ(none.at("noted")[0].at("answer"), "no seal");
  const Ended wrong = run("audit old --seal KNH4-JHSV-5TS2-LSX5 --seal 43");
  EXPECT_EQ(wrong.code, 2);
  EXPECT_THAT(wrong.errors, HasSubstr("found \"43\""));
  EXPECT_THAT(wrong.errors, HasSubstr("found \"KNH4-JHSV-5TS2-LSX5\"")) << "all of them at once";
}

TEST_F(BookCommands, AuditOfAFileThatIsBrokenSaysSoAndOfOneThatIsNoneEndsWith2) {
  std::filesystem::resize_file(old_, std::filesystem::file_size(old_) - 4096);
  EXPECT_EQ(json("audit old", 1).at("whole"), false);
  std::filesystem::resize_file(old_, 50);
  EXPECT_EQ(run("audit old").code, 2);
  EXPECT_EQ(run("audit nowhere").code, 2);
}

TEST_F(BookCommands, AuditSaysThatALogMayBeMissing) {
  EXPECT_EQ(json("audit old").at("log_may_be_missing"), true)
      << "earlier programs did not say that a book is closed";
  auto writer = Book::open(scratch_.book());
  ASSERT_TRUE(writer.ok());
  fill(writer.value(), 3);
  EXPECT_EQ(json("audit B.levelbook").at("log_may_be_missing"), false);
  std::filesystem::copy_file(scratch_.book(), scratch_ / "alone");
  for (int i = 0; i < 2; ++i) {
    const Ended ended = run("audit alone");
    EXPECT_EQ(ended.code, 0);
    EXPECT_THAT(ended.output, HasSubstr("alone: whole as far as it goes, 3 entries"));
    EXPECT_THAT(ended.output, HasSubstr("alone-wal"));
    EXPECT_EQ(json("audit alone").at("log_may_be_missing"), true);
  }
  EXPECT_EQ(run("audit B.levelbook").output.find("B.levelbook: whole, 6 entries"), 0u);
}

TEST_F(BookCommands, CopyMakesATrueCopyBesideAWriterAndOverNothing) {
  auto writer = Book::open(scratch_.book());
  ASSERT_TRUE(writer.ok());
  fill(writer.value(), 30);
  const Ended copied = run("copy B.levelbook copy.levelbook");
  EXPECT_EQ(copied.code, 0) << copied.errors;
  EXPECT_EQ(copied.output, "copy.levelbook: a true copy of B.levelbook, 33 entries, whole\n");
  EXPECT_EQ(run("audit copy.levelbook").output.find("copy.levelbook: whole, 33 entries"), 0u);
  EXPECT_EQ(json("copy B.levelbook another").at("entries"), 33);
  EXPECT_EQ(files(),
            (std::set<std::string>{"B.levelbook", "B.levelbook-lock", "another", "copy.levelbook", "old"}));
  const std::string before = bytes_of(scratch_ / "another");
  EXPECT_EQ(run("copy B.levelbook another").code, 2);
  EXPECT_EQ(run("copy B.levelbook B.levelbook").code, 2);
  EXPECT_EQ(run("copy B.levelbook nowhere/copy").code, 2);
  EXPECT_EQ(run("copy nowhere copy").code, 2);
  EXPECT_EQ(run("copy B.levelbook").code, 2);
  EXPECT_EQ(bytes_of(scratch_ / "another"), before);
  sql(old_, "DROP TRIGGER no_change; UPDATE entry SET body = replace(body, 'knocked', 'bumped')");
  const Ended broken = run("copy old more");
  EXPECT_EQ(broken.code, 1);
  EXPECT_THAT(broken.errors, HasSubstr("is not whole and was not copied"));
  EXPECT_FALSE(std::filesystem::exists(scratch_ / "more"));
}

// A card that is nested so deep that who goes down into it runs out of stack.
TEST_F(BookCommands, ExportOfADeepCardNamesItsEntryAndEnds) {
  std::string former;
  {
    auto book = Book::open(scratch_.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 1);
    former = book.value().seal(kMorning).value().hash;
  }
  const auto part = [](const std::string& bytes) { return std::to_string(bytes.size()) + ':' + bytes + ','; };
  const std::string time = "2026-09-14T08:30:00.250000Z";
  const std::string body = "{\"json\":\"" + std::string(200'000, '[') + std::string(200'000, ']') + "\"}";
  const std::string hash =
      sha256(part(former) + part("6") + part("3") + part("") + part("card") + part(time) + part(body));
  sql(scratch_.book(),
      "INSERT INTO entry VALUES (6, 3, NULL, 'card', '" + time + "', '" + body + "', '" + hash + "')");
  const Ended exported = run("export B.levelbook --survey 1 --json");
  EXPECT_EQ(exported.code, 1) << exported.errors;
  EXPECT_EQ(exported.output, "");
  EXPECT_THAT(exported.errors, HasSubstr("entry 6"));
  EXPECT_EQ(json("audit B.levelbook", 1).at("first_bad").at("number"), 6);
}

TEST_F(BookCommands, ExportGivesACsvThatFitTakesAsIfItCameFromTheBook) {
  ASSERT_EQ(run("export old --survey 1 -o R.csv").code, 0);
  const Json all = json("export old --survey 1");
  write_bytes(scratch_ / "run.toml", all.at("run").at("text").get<std::string>());
  write_bytes(scratch_ / "kit.toml", all.at("kit").at("text").get<std::string>());
  const std::string common = " --json run.toml ";
  const Ended from_csv = run("fit" + common + "--readings R.csv --stage 'on lifts' --kit kit.toml");
  const Ended from_book = run("fit" + common + "--book old --survey 1");
  EXPECT_EQ(from_csv.code, 0) << from_csv.errors;
  Json csv = Json::parse(from_csv.output), book = Json::parse(from_book.output);
  csv.erase("warnings");  // what the book says of checks and calibrations, a CSV cannot
  book.erase("warnings");
  EXPECT_EQ(csv, book);
  EXPECT_EQ(csv.at("height_m").size(), 9u);
  EXPECT_EQ(csv.at("degrees_of_freedom").get<std::size_t>() + csv.at("set_aside").size(), 29u);
}

TEST_F(BookCommands, ExportAppliesCorrectionsAndLeavesOutWhatWasSetAside) {
  const std::string csv = run("export old --survey 1").output;
  EXPECT_EQ(std::count(csv.begin(), csv.end(), '\n'), 1 + 29);
  EXPECT_THAT(csv, ::testing::StartsWith("time,set_up,instrument,channel,at,face,edge,value,unit,sigma\r\n"));
  EXPECT_THAT(
      csv,
      HasSubstr(
          "2026-09-14T08:30:12.250000Z,,walking inclinometer,slope,0.8635999999999999 m,1,middle,0.00106"));
  EXPECT_EQ(run("export old --survey 1 --form csv").output, csv);

  const Json all = json("export old --survey 1");
  ASSERT_EQ(all.at("readings").size(), 30u);
  const Json& aside = all.at("readings")[4];
  EXPECT_EQ(aside.at("kept"), false);
  EXPECT_EQ(aside.at("reason"), "laser on the wrong mark");
  const Json& corrected = all.at("readings")[6];
  EXPECT_EQ(corrected.at("reason"), "face was entered wrongly");
  EXPECT_EQ(corrected.at("value"), 0.00106);
  EXPECT_NE(corrected.at("as_taken").at("value"), corrected.at("value"));
  EXPECT_FALSE(all.at("readings")[7].contains("as_taken"));
  EXPECT_EQ(all.at("corrections").size(), 4u);
  EXPECT_EQ(all.at("corrections")[3].at("kind"), "corrected");
  EXPECT_EQ(all.at("corrections")[3].at("reading"), corrected.at("entry"));
}

TEST_F(BookCommands, ExportAsJsonHoldsEverythingOfTheSurvey) {
  {
    auto book = Book::open(scratch_.book());
    ASSERT_TRUE(book.ok());
    fill_with_every_kind(book.value());
  }
  const Json all = json("export B.levelbook --survey 1");
  EXPECT_EQ(all.at("survey").at("id"), "1");
  EXPECT_EQ(all.at("survey").at("stage"), "hung");
  EXPECT_EQ(all.at("survey").at("closed"), true);
  EXPECT_EQ(json("surveys B.levelbook").at("surveys")[0].at("moves"), 1);
  EXPECT_THAT(run("surveys B.levelbook").output, HasSubstr("closed         2/2      1  22\n"));
  EXPECT_EQ(all.at("readings").size(), 2u);
  EXPECT_EQ(all.at("readings")[0].at("temperature_C"), 19.25);
  ASSERT_EQ(all.at("set_ups").size(), 2u);
  EXPECT_EQ(all.at("set_ups")[1].at("stands_at_m"), -0.75);
  ASSERT_EQ(all.at("checks").size(), 4u) << "also those outside of the survey";
  EXPECT_EQ(all.at("checks")[0].at("of_this_survey"), true);
  EXPECT_EQ(all.at("checks")[2].at("kind"), "datum check");
  EXPECT_EQ(all.at("checks")[2].at("of_this_survey"), false);
  EXPECT_EQ(all.at("checks")[3].at("kind"), "scale check");
  EXPECT_EQ(all.at("checks")[3].at("scale"), 1.0025);
  EXPECT_EQ(all.at("checks")[3].at("sound"), true);
  EXPECT_EQ(all.at("cards")[0].at("card").at("hold_point"), "shim first");
  ASSERT_EQ(all.at("moves").size(), 2u);
  EXPECT_EQ(all.at("moves")[0], Json::parse(R"({"entry":17,"entry_time":"2026-09-14T08:30:00.250000Z",)"
                                            R"("order":2,"support":"near \"lift\"","made":true,"card":16})"));
  EXPECT_EQ(all.at("moves")[1].at("made"), false);
  EXPECT_EQ(all.at("corrections").size(), 3u) << "a move is none";
  EXPECT_EQ(all.at("notes")[0].at("text"), "lift moved \xE2\x80\x94 by hand");
  EXPECT_EQ(all.at("clock_jumps")[0].at("seconds"), -3600.5);
  EXPECT_EQ(all.at("samples")[0].at("count"), 2);
  EXPECT_FALSE(all.at("samples")[0].contains("values"));
  EXPECT_EQ(all.at("run").at("text"), "title = \"shelf\"\n");
  EXPECT_EQ(all.at("kit").at("file"), "kit.toml");
  EXPECT_EQ(all.at("seals")[0].at("number"), kEveryKind);

  const Json raw = json("export B.levelbook --survey 1 --raw");
  EXPECT_EQ(raw.at("samples")[0].at("values"), Json::parse("[0.001,0.3333333333333333]"));
  EXPECT_EQ(raw.at("samples")[0].at("after_us"), Json::parse("[0,100000]"));
}

TEST_F(BookCommands, ExportWritesWholeFilesAndOverNothingUnlessTold) {
  ASSERT_EQ(run("export old --survey 1 -o R.csv").code, 0);
  const std::string csv = bytes_of(scratch_ / "R.csv");
  const Ended again = run("export old --survey as-built -o R.csv");
  EXPECT_EQ(again.code, 2);
  EXPECT_THAT(again.errors, HasSubstr("--force"));
  EXPECT_EQ(bytes_of(scratch_ / "R.csv"), csv);
  EXPECT_EQ(run("export old --survey as-built -o R.csv --force").code, 0);
  EXPECT_NE(bytes_of(scratch_ / "R.csv"), csv);
  EXPECT_EQ(files(), (std::set<std::string>{"R.csv", "old"}));

  EXPECT_EQ(run("export old --survey 1 -o S.csv --all").code, 0);
  EXPECT_EQ(bytes_of(scratch_ / "S.csv"), csv);
  EXPECT_EQ(Json::parse(bytes_of(scratch_ / "S.json")).at("readings").size(), 30u);
  EXPECT_EQ(run("export old --survey 1 -o T.json").code, 0);
  EXPECT_EQ(bytes_of(scratch_ / "T.json"), bytes_of(scratch_ / "S.json"));

  std::filesystem::remove(scratch_ / "S.csv");
  EXPECT_EQ(run("export old --survey 1 -o S.csv --all").code, 2) << "S.json is there";
  EXPECT_FALSE(std::filesystem::exists(scratch_ / "S.csv")) << "both or neither";
}

TEST_F(BookCommands, ExportNeverWritesOverTheBook) {
  const std::string before = bytes_of(old_);
  std::filesystem::create_hard_link(old_, scratch_ / "another-name.csv");
  std::filesystem::create_symlink(old_, scratch_ / "link.csv");
  for (const char* place : {"old", "./old", "another-name.csv", "link.csv"}) {
    const Ended refused = run("export old --survey 1 --force -o " + std::string(place));
    EXPECT_EQ(refused.code, 2) << place;
    EXPECT_THAT(refused.errors, HasSubstr("belongs to the level book")) << place;
  }
  EXPECT_EQ(bytes_of(old_), before);
  const auto writer = Book::open(old_);
  EXPECT_EQ(run("export old --survey 1 --force -o old-wal").code, 2);
  std::filesystem::copy_file(HANGTRUE_DATA_DIR "/books/schema-1.levelbook", scratch_ / "other");
  const Ended other = run("export old --survey 1 --force -o other");
  EXPECT_EQ(other.code, 2);
  EXPECT_THAT(other.errors, HasSubstr("other is a level book, and is never written over"));
  EXPECT_EQ(run("export old --survey 1 --force -o .").code, 2);
}

TEST_F(BookCommands, ExportThatCannotBeWrittenLeavesNothingBehind) {
  {
    auto book = Book::open(old_);
    ASSERT_TRUE(book.ok());
    ASSERT_TRUE(book.value().append(Entry{Note{std::string(300'000, 'n')}, 44}).ok());
  }
  // As when the disk is full after the first 100 KiB: dash counts blocks of 512 bytes.
  const Ended full = run("export old --survey as-built -o R.json", "ulimit -f 200; trap '' XFSZ; ");
  EXPECT_EQ(full.code, 3);
  EXPECT_THAT(full.errors, HasSubstr("R.json cannot be written: File too large"));
  const Ended nowhere = run("export old --survey 1 -o nowhere/R.csv");
  EXPECT_EQ(nowhere.code, 3);
  EXPECT_THAT(nowhere.errors, HasSubstr("nowhere/R.csv cannot be written: No such file"));
  EXPECT_EQ(files(), std::set<std::string>{"old"});
  EXPECT_EQ(run("export old --survey 1 > /dev/full").code, 3);
}

TEST_F(BookCommands, ExportNamesASurveyOrAUseThatIsNotThere) {
  const Ended unknown = run("export old --survey 7 -o R.csv");
  EXPECT_EQ(unknown.code, 2);
  EXPECT_THAT(unknown.errors, HasSubstr("a survey of the book: 1, as-built"));
  EXPECT_EQ(run("export old").code, 2);
  EXPECT_EQ(run("export old --survey 1 --form xml").code, 2);
  EXPECT_EQ(run("export old --survey 1 --all").code, 2);
  EXPECT_EQ(run("export old --survey 1 --raw").code, 2);
  EXPECT_EQ(run("export old --survey 1 --json --form csv").code, 2);
  for (const char* name : {"x.zzz", "x.CSVX", "x.levelbook"}) {
    const Ended refused = run("export old --survey 1 -o " + std::string(name));
    EXPECT_EQ(refused.code, 2) << name;
    EXPECT_THAT(refused.errors, HasSubstr(".csv or .json"));
    EXPECT_FALSE(std::filesystem::exists(scratch_ / name));
  }
  EXPECT_EQ(files(), std::set<std::string>{"old"});
}

// RFC 4180: fields with commas, quotes and line breaks are quoted, quotes doubled; nothing else is altered.
TEST_F(BookCommands, ExportQuotesNamesAndSaysWhichASpreadsheetCouldTakeForAFormula) {
  {
    auto book = Book::open(scratch_.book()).value();
    const Number survey = fill(book, 0);
    Taken taken = reading(0.001);
    taken.reading.instrument = "=HYPERLINK(\"x\",1)";
    taken.reading.set_up = "one, two";
    ASSERT_TRUE(book.append(Entry{taken, survey}).ok());
  }
  const Ended ended = run("export B.levelbook --survey 1");
  EXPECT_EQ(ended.code, 0);
  EXPECT_THAT(ended.output, HasSubstr(",\"one, two\",\"=HYPERLINK(\"\"x\"\",1)\",slope,"));
  EXPECT_THAT(ended.errors, HasSubstr("for a formula"));
  EXPECT_THAT(run("export old --survey 1").errors, Not(HasSubstr("spreadsheet")));
}

}  // namespace
}  // namespace hangtrue::book

// What the command says of itself, and of what it cannot use.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "tests/tools/command.hpp"

namespace hangtrue::tools {
namespace {

using Json = nlohmann::json;
using testing::AllOf;
using testing::HasSubstr;
using testing::MatchesRegex;
using testing::Not;

TEST(CommandLine, SaysItsVersionCommitAndFormats) {
  const Ended ended = command("--version");
  EXPECT_EQ(ended.code, 0);
  EXPECT_EQ(ended.errors, "");
  EXPECT_THAT(ended.output,
              MatchesRegex("hangtrue [0-9]+\\.[0-9]+\\.[0-9]+, commit ([0-9a-f]+(-dirty)?|not known)\n"
                           "level book: writes schema 5, reads 1 to 5\n"
                           "JSON: form 1, as data/interfaces.md has it\n"));
}

TEST(CommandLine, SaysWhatAMisspeltSubcommandMayMean) {
  const Ended near = command("predct data.toml");
  EXPECT_EQ(near.code, 2);
  EXPECT_THAT(near.errors, AllOf(HasSubstr("found \"predct\""), HasSubstr("expected one of: "),
                                 HasSubstr("did you mean \"predict\"?")));
  const Ended far = command("xylophone");
  EXPECT_EQ(far.code, 2);
  EXPECT_THAT(far.errors, AllOf(HasSubstr("found \"xylophone\""), Not(HasSubstr("did you mean"))));
}

TEST(CommandLine, SaysOfWhichSubcommandSomethingIsMissingOrUnknown) {
  const Ended nothing = command("");
  EXPECT_EQ(nothing.code, 2);
  EXPECT_THAT(nothing.errors, AllOf(HasSubstr("found nothing, expected one of: "), HasSubstr("predict"),
                                    HasSubstr("hangtrue --help says")));
  const Ended missing = command("predict");
  EXPECT_EQ(missing.code, 2);
  EXPECT_EQ(missing.errors,
            "hangtrue predict: RUN is required\nhangtrue predict --help says what it takes\n");
  const Ended unknown = command("predict RUN.toml --jsn");
  EXPECT_EQ(unknown.code, 2);
  EXPECT_THAT(unknown.errors,
              AllOf(HasSubstr("hangtrue predict: "), HasSubstr("--jsn; did you mean \"--json\"?\n")));
  const Ended far = command("predict RUN.toml --json --xylophone");
  EXPECT_EQ(far.code, 2);
  EXPECT_THAT(far.errors, AllOf(HasSubstr("--xylophone"), Not(HasSubstr("did you mean"))));
  const Ended help = command("predict --help");
  EXPECT_EQ(help.code, 0);
  EXPECT_EQ(help.errors, "");
}

TEST(CommandLine, SaysWhatIsWrongAsJsonToWhoAsksForIt) {
  const Ended sheet = command("predict nowhere.toml --json");
  EXPECT_EQ(sheet.code, 2);
  EXPECT_EQ(sheet.output, "");
  const Json says = Json::parse(sheet.errors);
  EXPECT_EQ(says.at("exit_code"), 2);
  EXPECT_EQ(says.at("message"),
            "nowhere.toml: found no such file, expected the path of a file that is there");
  const Json complaint = {{"file", "nowhere.toml"},
                          {"line", 0},
                          {"key", ""},
                          {"found", "no such file"},
                          {"expected", "the path of a file that is there"}};
  EXPECT_EQ(says.at("complaints"), Json::array({complaint}));
  for (const char* wrong : {"predict --json", "predct RUN.toml --json", "surveys nowhere.levelbook --json"}) {
    const Ended ended = command(wrong);
    EXPECT_EQ(ended.code, 2) << wrong;
    const Json object = Json::parse(ended.errors);
    EXPECT_EQ(object.at("exit_code"), 2) << wrong;
    EXPECT_FALSE(object.at("message").get<std::string>().empty()) << wrong;
    EXPECT_FALSE(object.contains("complaints")) << wrong;
  }
}

}  // namespace
}  // namespace hangtrue::tools

// What daemon and page say to each other as JSON, and the page's types of it.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <stdio.h>

#include <fstream>
#include <iterator>
#include <memory>

#include "firmware-host/json/described.hpp"
#include "firmware-host/page/messages.hpp"

namespace hangtrue::page {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

using json::each_member;
using json::Json;
using json::kDeepest;
using json::kLongestMessage;
using json::parse;
using json::text_of;

// Every topic, so that one with a member of a new kind is seen here.
TEST(Topics, ComeBackAsTheyWere) {
  each_member<Topics>([](auto member) {
    using Topic = typename std::remove_cvref_t<decltype(Topics{}.*member.pointer)>::value_type;
    const auto got = parse<Topic>(text_of(Topic{}));
    EXPECT_TRUE(got.ok()) << member.name << ": " << got.fault();
  });
}

TEST(Asked, IsReadWithItsMembersInAnyOrder) {
  const auto asked = parse<Asked>(R"( { "seen" : 7, "command" : "station 1200 mm", "id" : 3 } )");
  ASSERT_TRUE(asked.ok()) << asked.fault();
  EXPECT_EQ(asked.value().id, 3);
  EXPECT_EQ(asked.value().command, "station 1200 mm");
  EXPECT_EQ(asked.value().seen, 7);
}

// The sentence names the member, what was found, and what would be right.
TEST(Asked, IsRefusedWithASentenceWhenAnythingIsAmiss) {
  struct Case {
    std::string legend, text;
    std::vector<std::string> says;
  };
  const std::string whole = "a whole number from -9223372036854775808 to 9223372036854775807";
  const std::vector<Case> cases{
      {"number for text", R"({"id":1,"command":2,"seen":0})", {"\"command\"", "is 2", "text"}},
      {"null for text", R"({"id":1,"command":null,"seen":0})", {"\"command\"", "null", "text"}},
      {"list for text", R"({"id":1,"command":["take"],"seen":0})", {"\"command\"", "[\"take\"]", "text"}},
      {"object for text", R"({"id":1,"command":{},"seen":0})", {"\"command\"", "{}", "text"}},
      {"text for number", R"({"id":"1","command":"take","seen":0})", {"\"id\"", "\"1\"", whole}},
      {"true for number", R"({"id":true,"command":"take","seen":0})", {"\"id\"", "true", whole}},
      {"null for number", R"({"id":1,"command":"take","seen":null})", {"\"seen\"", "null", whole}},
      {"a fraction", R"({"id":1.5,"command":"take","seen":0})", {"\"id\"", "1.5", whole}},
      {"written as a decimal", R"({"id":1.0,"command":"take","seen":0})", {"\"id\"", "1.0", whole}},
      {"too large", R"({"id":9223372036854775808,"command":"take","seen":0})", {"\"id\"", "808", whole}},
      {"larger still", R"({"id":1,"command":"take","seen":1e300})", {"\"seen\"", "1e+300", whole}},
      {"beyond a double",
       R"({"id":1e400,"command":"take","seen":0})",
       {"number that is too large", "1.8e308"}},
      {"beyond, negative", R"({"id":-1e400,"command":"take","seen":0})", {"number that is too large"}},
      {"too small", R"({"id":-9223372036854775809,"command":"take","seen":0})", {"\"id\"", whole}},
      {"one missing",
       R"({"id":1,"command":"take"})",
       {"\"seen\" is missing", "\"id\", \"command\", \"seen\""}},
      {"none there", "{}", {"\"id\" is missing"}},
      {"one too many", R"({"id":1,"command":"take","seen":0,"and":1})", {"\"and\" is no member", "\"seen\""}},
      {"in other letters", R"({"ID":1,"command":"take","seen":0})", {"\"id\" is missing"}},
      {"one twice", R"({"id":1,"command":"take","id":2,"seen":0})", {"\"id\" is there twice"}},
      {"a list", R"([1,"take",0])", {"the message is [1,\"take\",0]", "an object with \"id\""}},
      {"a text", R"("take")", {"an object"}},
      {"nothing", "", {"no JSON"}},
      {"null", "null", {"the message is null", "an object"}},
      {"two", R"({"id":1,"command":"take","seen":0}{})", {"no JSON", "byte 35"}},
      {"a comment", R"({"id":1,"command":"take",/**/"seen":0})", {"no JSON"}},
      {"a comma at the end", R"({"id":1,"command":"take","seen":0,})", {"no JSON"}},
      {"no UTF-8", "{\"id\":1,\"command\":\"\xFF\",\"seen\":0}", {"no JSON", "byte 20"}},
      {"half a surrogate", R"({"id":1,"command":"\ud800","seen":0})", {"no JSON"}},
      {"a bare NUL", std::string("{\"id\":1,\"command\":\"\0\",\"seen\":0}", 32), {"no JSON"}},
      {"not a number", R"({"id":NaN,"command":"take","seen":0})", {"no JSON"}},
  };
  for (const Case& it : cases) {
    const auto asked = parse<Asked>(it.text);
    ASSERT_FALSE(asked.ok()) << it.legend;
    for (const std::string& part : it.says) EXPECT_THAT(asked.fault(), HasSubstr(part)) << it.legend;
  }
}

TEST(Asked, IsRefusedWhenCutOffAnywhere) {
  const std::string whole = R"({"id":1,"command":"take","seen":0})";
  ASSERT_TRUE(parse<Asked>(whole).ok());
  for (std::size_t kept = 0; kept < whole.size(); ++kept)
    EXPECT_FALSE(parse<Asked>(whole.substr(0, kept)).ok()) << "kept " << kept;
}

// Shown to people and logged: what they say is short and printable, whatever came.
TEST(Asked, IsRefusedInAShortSentenceOfPlainText) {
  const std::string hostile = "\xE2\x80\xAE<img src=x onerror=alert(1)>\xC2\x9B" + std::string(500, 'x');
  for (const std::string& text :
       {Json{{"id", hostile}, {"command", ""}, {"seen", 0}}.dump(), Json{{hostile, 1}}.dump(),
        Json{{"id", 1}, {"command", ""}, {"seen", 0}, {hostile, 1}}.dump(), Json(hostile).dump(),
        '"' + hostile, "{\"" + hostile + "\":1,\"" + hostile + "\":1}"}) {
    const auto asked = parse<Asked>(text);
    ASSERT_FALSE(asked.ok());
    EXPECT_LT(asked.fault().size(), 200u);
    for (const char c : asked.fault()) EXPECT_TRUE(c >= ' ' && c <= '~') << asked.fault();
  }
}

TEST(Asked, IsRefusedUnreadWhenItIsTooLong) {
  std::string text = text_of(Asked{1, "", 0});
  const std::string longest = text_of(Asked{1, std::string(kLongestMessage - text.size(), 'x'), 0});
  EXPECT_TRUE(parse<Asked>(longest).ok());
  const auto asked = parse<Asked>(longest + ' ');
  ASSERT_FALSE(asked.ok());
  EXPECT_THAT(asked.fault(), AllOf(HasSubstr("4097 bytes"), HasSubstr("4096")));
}

TEST(Asked, IsRefusedWhenItIsTooDeep) {
  const auto nested = [](int levels) {
    return R"({"id":1,"command":)" + std::string(static_cast<std::size_t>(levels) - 1, '[') +
           std::string(static_cast<std::size_t>(levels) - 1, ']') + R"(,"seen":0})";
  };
  EXPECT_THAT(parse<Asked>(nested(kDeepest)).fault(), HasSubstr("\"command\" is [[["));
  EXPECT_THAT(parse<Asked>(nested(kDeepest + 1)).fault(), HasSubstr("more than 8 levels"));
  EXPECT_THAT(parse<Asked>(std::string(kLongestMessage, '[')).fault(), HasSubstr("levels"));
}

TEST(PageTypes, AreWhatTheDescriptionsSay) {
  const std::string command = PAGE_TYPES;
  const std::unique_ptr<FILE, int (*)(FILE*)> made(::popen(command.c_str(), "r"), ::pclose);
  ASSERT_TRUE(made);
  std::string types;
  for (int c = 0; (c = std::fgetc(made.get())) != EOF;) types += static_cast<char>(c);
  std::ifstream file(PAGE_MESSAGES_TS, std::ios::binary);
  const std::string kept{std::istreambuf_iterator<char>(file), {}};
  EXPECT_TRUE(types == kept) << "messages.hpp has changed since messages.ts was made of it; make it anew:\n  "
                             << PAGE_TYPES << " >" << PAGE_MESSAGES_TS;
  EXPECT_THAT(types,
              HasSubstr("export interface Asked {\n  id: number;\n  command: string;\n  seen: number;\n  "
                        "pressed_ms: number | null;\n  page: string | null;\n}"));
  EXPECT_THAT(types, HasSubstr("  work?: Work;\n"));
  EXPECT_THAT(types, HasSubstr("  next: Advice | null;\n"));
  EXPECT_THAT(types, HasSubstr("  stations: Station[];\n"));
}

}  // namespace
}  // namespace hangtrue::page

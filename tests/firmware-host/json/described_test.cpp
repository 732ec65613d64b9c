// JSON of described structs, and strictly back.
#include "firmware-host/json/described.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include <boost/describe/class.hpp>

namespace hangtrue::json {
namespace {

using ::testing::HasSubstr;

/// Every kind of member there is.
struct Inner {
  double number = 0;
  std::optional<int> maybe;
};
BOOST_DESCRIBE_STRUCT(Inner, (), (number, maybe))

struct Outer {
  std::string text;
  bool flag = false;
  std::int64_t large = 0;
  std::vector<std::string> texts;
  std::vector<Inner> inners;
  std::optional<Inner> inner;
};
BOOST_DESCRIBE_STRUCT(Outer, (), (text, flag, large, texts, inners, inner))

TEST(Json, HasMembersInTheirOrderAndNullForWhatIsAbsent) {
  EXPECT_EQ(text_of(Outer{"a", true, -7, {"x", ""}, {{1.5, 2}, {-0.25, {}}}, {}}),
            R"({"text":"a","flag":true,"large":-7,"texts":["x",""],)"
            R"("inners":[{"number":1.5,"maybe":2},{"number":-0.25,"maybe":null}],"inner":null})");
}

TEST(Json, ShowsANumberThatIsNoneAsNull) {
  const double inf = std::numeric_limits<double>::infinity();
  for (const double none : {std::nan(""), inf, -inf})
    EXPECT_EQ(text_of(Inner{none, {}}), R"({"number":null,"maybe":null})");
}

TEST(Json, ComesBackAsItWas) {
  const Outer sent{"\"quoted\" \\ \n \x01 </script> \xE2\x80\xAE \xF0\x9F\x94\xA9",
                   true,
                   std::numeric_limits<std::int64_t>::min(),
                   {"", "1"},
                   {{1.0 / 3.0, -3}, {5e-324, {}}},
                   Inner{-0.1, std::numeric_limits<int>::max()}};
  const auto got = parse<Outer>(text_of(sent));
  ASSERT_TRUE(got.ok()) << got.fault();
  EXPECT_EQ(text_of(got.value()), text_of(sent));
  EXPECT_EQ(got.value().text, sent.text);
  EXPECT_EQ(got.value().inners[0].number, 1.0 / 3.0);
  EXPECT_FALSE(got.value().inners[1].maybe);
  EXPECT_EQ(got.value().inner->maybe, std::numeric_limits<int>::max());
}

TEST(Json, ShowsTextThatIsNoUtf8WithoutFailing) {
  for (const std::string bytes : {"\xFF", "a\xC3", "\xC0\xAF", "\xED\xA0\x80", "\xF8\x88\x80\x80\x80"}) {
    const std::string text = text_of(Outer{bytes, false, 0, {bytes}, {}, {}});
    EXPECT_THAT(text, HasSubstr("\xEF\xBF\xBD"));
    EXPECT_TRUE(parse<Outer>(text).ok());
  }
}

TEST(JsonOfParts, IsRefusedByTheNameOfThePart) {
  const auto with = [](const std::string& inners, const std::string& inner) {
    return parse<Outer>(R"({"text":"","flag":false,"large":0,"texts":[],"inners":)" + inners +
                        R"(,"inner":)" + inner + "}");
  };
  ASSERT_TRUE(with("[]", "null").ok()) << with("[]", "null").fault();
  EXPECT_THAT(with("{}", "null").fault(), HasSubstr("\"inners\" is {}; right would be a list"));
  EXPECT_THAT(with(R"([{"number":1,"maybe":2},7])", "null").fault(), HasSubstr("\"inners\" 2 is 7"));
  EXPECT_THAT(with(R"([{"number":null,"maybe":2}])", "null").fault(),
              HasSubstr("\"number\" is null; right would be a number"));
  EXPECT_THAT(with("[]", R"({"number":1,"maybe":2147483648})").fault(), HasSubstr("to 2147483647"));
  EXPECT_THAT(with("[]", R"({"maybe":1})").fault(), HasSubstr("\"number\" is missing in \"inner\""));
  EXPECT_TRUE(with("[]", R"({"number":1})").ok()) << "what may be absent";
}

}  // namespace
}  // namespace hangtrue::json

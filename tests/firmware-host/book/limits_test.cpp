// Entries that are too deep or too long: none is written, and one that somebody put into the file brings nothing down.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "firmware-host/book/body.hpp"
#include "firmware-host/book/book.hpp"
#include "firmware-host/book/sha256.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

std::string nested(std::size_t deep) { return std::string(deep, '[') + std::string(deep, ']'); }
std::string card_with(const std::string& more) {
  return R"({"moves":[{"order":1,"support":"post"}],"more":)" + more + "}";
}

TEST(Limits, ACardMayBeSixtyFourDeepAndNotMore) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 0);
  EXPECT_TRUE(book.value().append(Entry{Card{card_with(nested(63))}, survey}).ok());
  for (const std::size_t deep : {64ul, 1000ul, 200'000ul}) {
    const auto refused = book.value().append(Entry{Card{card_with(nested(deep))}, survey});
    ASSERT_FALSE(refused.ok()) << deep;
    EXPECT_EQ(refused.fault().trouble, Trouble::not_an_entry);
    EXPECT_THAT(refused.fault().says, ::testing::HasSubstr("64"));
    EXPECT_TRUE(moves_of(Card{card_with(nested(deep))}).empty());
  }
  EXPECT_EQ(moves_of(Card{card_with(nested(63))}).size(), 1u);
  EXPECT_TRUE(
      book.value().append(Entry{Card{card_with("\"" + std::string(200'000, '[') + "\"")}, survey}).ok())
      << "brackets in a text are no depth";
  EXPECT_FALSE(book.value().append(Entry{Note{std::string(17 << 20, 'n')}, survey}).ok());
}

TEST(Limits, ABodyOutsideOfThemIsNone) {
  EXPECT_FALSE(content_from("note", R"({"text":"a","more":)" + nested(64) + "}", {}));
  EXPECT_TRUE(content_from("note", R"({"text":"a","more":)" + nested(63) + "}", {}));
  EXPECT_FALSE(content_from("card", nested(200'000), {}));
  EXPECT_FALSE(content_from("card", "{\"json\":\"" + nested(200'000) + "\"}", {}));
  EXPECT_FALSE(content_from("seal", R"({"entries":18446744073709551615,"hash":""})", {}));
}

// With the right hash, as who has the file can make it.
TEST(Limits, ADeepCardInTheFileIsNamedAtItsEntry) {
  Scratch scratch;
  std::string former;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 1);
    former = book.value().seal(kMorning).value().hash;  // entry 5
  }
  const auto part = [](const std::string& bytes) { return std::to_string(bytes.size()) + ':' + bytes + ','; };
  const std::string time = "2026-09-14T08:30:00.250000Z", body = "{\"json\":\"" + nested(200'000) + "\"}";
  const std::string hash =
      sha256(part(former) + part("6") + part("3") + part("") + part("card") + part(time) + part(body));
  sql(scratch.book(),
      "INSERT INTO entry VALUES (6, 3, NULL, 'card', '" + time + "', '" + body + "', '" + hash + "')");
  const auto book = Book::open_to_read(scratch.book());
  ASSERT_TRUE(book.ok());
  EXPECT_EQ(book.value().audit().value().first_bad, 6);
  EXPECT_FALSE(book.value().entries(3).ok());
  EXPECT_FALSE(book.value().cards(3).ok());
  EXPECT_FALSE(book.value().entry(6).ok());
}

}  // namespace
}  // namespace hangtrue::book

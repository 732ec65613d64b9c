// Pairing: the code and its limits by a clock of our own, tokens, the key's file, the page without script.
#include "firmware-host/page/pairing.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <openssl/evp.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <set>
#include <vector>

namespace hangtrue::page {
namespace {

using std::chrono::seconds;
using ::testing::HasSubstr;
using ::testing::MatchesRegex;
using Verdict = PairingCode::Verdict;

/// Codes 10000001, 10000002 ... and a clock that is set by hand.
class Typing : public ::testing::Test {
 protected:
  PairingCode::Outcome type(std::string_view typed, const std::string& from = "10.0.0.1") {
    return code_.attempt(typed, from, now_);
  }
  /// The wrong ones that are looked at, one from each of many addresses.
  int guess_from_many(int addresses) {
    int wrong = 0;
    for (int i = 0; i < addresses; ++i)
      if (type("99999999", "guesser " + std::to_string(guessers_++)).verdict == Verdict::wrong) ++wrong;
    return wrong;
  }
  PairingCode::Outcome type_wrong(int times) {
    PairingCode::Outcome last{};
    for (int i = 0; i < times; ++i) {
      last = type("99999999");
      EXPECT_EQ(last.verdict, Verdict::wrong) << i;
      now_ += last.wait;
    }
    return last;
  }
  PairingCode::Clock::time_point now_{};
  int drawn_ = 0, guessers_ = 0;
  PairingCode code_{[this] { return std::to_string(10'000'000 + ++drawn_); }};
};

TEST_F(Typing, TheCodeIsShownInTwoHalvesAndTypedInAnyWay) {
  EXPECT_EQ(code_.shown(), "1000 0001");
  for (const char* typed : {"10000001", "1000 0001", " 1000-0001 ", "1-0-0-0-0-0-0-1", "10 00 00 01"})
    EXPECT_EQ(type(typed).verdict, Verdict::right) << typed;
}

TEST_F(Typing, WhatCannotBeACodeIsNoAttempt) {
  for (int i = 0; i < 100; ++i)
    for (const char* typed : {"", "1000000", "100000011", "1000000l", "1000.0001", "10000001\n", "\xd9\xa1"})
      EXPECT_EQ(type(typed).verdict, Verdict::no_code) << typed;
  EXPECT_EQ(type("10000001").verdict, Verdict::right);
}

TEST_F(Typing, FiveWrongOnesThenAWaitThatDoublesUpToAnHour) {
  for (int i = 1; i < 5; ++i) {
    const auto outcome = type("99999999");
    EXPECT_EQ(outcome.verdict, Verdict::wrong);
    EXPECT_EQ(outcome.wait.count(), 0);
  }
  for (const int wait : {30, 60, 120, 240, 480, 960, 1920, 3600, 3600, 3600}) {
    EXPECT_EQ(type("99999999").wait.count(), wait);
    // Within the wait even the right one is not looked at, and asking does not lengthen it.
    now_ += std::chrono::milliseconds(500);
    const auto early = type("10000001");
    EXPECT_EQ(early.verdict, Verdict::too_soon);
    EXPECT_EQ(early.wait.count(), wait);  // rounded up
    now_ += seconds(wait) - std::chrono::milliseconds(501);
    EXPECT_EQ(type("10000001").verdict, Verdict::too_soon);
    now_ += std::chrono::milliseconds(1);
  }
}

TEST_F(Typing, TheRightOneBeginsAgain) {
  type_wrong(6);
  EXPECT_EQ(type("10000001").verdict, Verdict::right);
  EXPECT_EQ(type_wrong(4).wait.count(), 0);
  EXPECT_EQ(type_wrong(1).wait.count(), 30);
}

TEST_F(Typing, NobodyWaitsForWhatCameFromAnotherAddress) {
  type_wrong(8);
  EXPECT_EQ(type("10000001").verdict, Verdict::right) << "type_wrong waits";
  type("99999999");
  for (int i = 0; i < 4; ++i) type("99999999");
  EXPECT_EQ(type("10000001").verdict, Verdict::too_soon);
  EXPECT_EQ(type("10000001", "10.0.0.2").verdict, Verdict::right);
}

// pairing.hpp: "from one address once in 2 million times within a day".
TEST_F(Typing, OneAddressGuessesFewerThanFiftyTimesADay) {
  int guesses = 0;
  for (; now_.time_since_epoch() < std::chrono::hours(24); ++guesses) now_ += type("99999999").wait;
  EXPECT_LT(guesses, 50);
}

TEST_F(Typing, ThoseWhoHaveNotGuessedKeepAPlaceWhenManyHave) {
  for (int i = 0; i < kMostWrong - 1; ++i) type("99999999", "guesser 0");  // not yet one that waits
  EXPECT_EQ(guess_from_many(kMostWrongInAll), kMostWrongInAll - kMostWrong + 1 + kMostWrong - 1);
  EXPECT_EQ(type("99999999", "guesser 5").verdict, Verdict::closed) << "has guessed before";
  EXPECT_EQ(type("10000001", "guesser 5").verdict, Verdict::closed) << "what it types is not compared";
  EXPECT_EQ(type("10000001", "10.0.0.2").verdict, Verdict::right);
  guess_from_many(kMostWrongByAll);
  EXPECT_EQ(type("10000001", "10.0.0.3").verdict, Verdict::closed) << "one in 10,000 of all codes was tried";
}

TEST_F(Typing, AOnceCodeLetsOnePhoneInWhateverWasGuessedBefore) {
  guess_from_many(2 * kMostWrongByAll);
  for (int i = 0; i < kMostWrong; ++i) type("99999999");
  EXPECT_EQ(code_.open_once(now_), "1000 0002");
  guess_from_many(500);                            // meanwhile
  for (int i = 0; i < 500; ++i) type("99999999");  // from the phone's own address too
  const auto first = type("1000 0002");
  EXPECT_EQ(first.verdict, Verdict::right);
  EXPECT_TRUE(first.once);
  EXPECT_NE(type("10000002", "10.0.0.3").verdict, Verdict::right) << "it counts once";
}

TEST_F(Typing, AOnceCodeHoldsForTwoMinutesAndTheNextTakesItsPlace) {
  (void)code_.open_once(now_);
  now_ += kOnceFor;
  EXPECT_EQ(type("10000002").verdict, Verdict::wrong);
  (void)code_.open_once(now_);
  (void)code_.open_once(now_);
  EXPECT_EQ(type("10000003").verdict, Verdict::wrong);
  EXPECT_EQ(type("10000004").verdict, Verdict::right);
  EXPECT_EQ(type("10000001").verdict, Verdict::right) << "the standing one as before";
}

TEST_F(Typing, GuessesAtAOnceCodeAreLimitedByAddressAndInAll) {
  (void)code_.open_once(now_);
  for (int i = 0; i < kMostWrongOnce; ++i) type("99999999");
  EXPECT_NE(type("10000002").verdict, Verdict::right) << "from this address";
  EXPECT_EQ(type("10000002", "10.0.0.2").verdict, Verdict::right);
  (void)code_.open_once(now_);
  guess_from_many(kMostWrongOnceByAll);
  EXPECT_NE(type("10000003", "10.0.0.2").verdict, Verdict::right);
}

TEST(Sentence, SaysWhatToDo) {
  EXPECT_EQ(sentence({Verdict::right}), "");
  EXPECT_THAT(sentence({Verdict::no_code}), HasSubstr("8 digits"));
  EXPECT_THAT(sentence({Verdict::wrong}), HasSubstr("type it again"));
  EXPECT_THAT(sentence({Verdict::wrong, seconds(30)}), HasSubstr("Wait 30 seconds"));
  EXPECT_THAT(sentence({Verdict::wrong, seconds(3600)}), HasSubstr("\"pair\" typed at the computer"));
  EXPECT_THAT(sentence({Verdict::closed}), HasSubstr("Have \"pair\" typed at the computer"));
  EXPECT_THAT(sentence({Verdict::too_soon, seconds(1)}), HasSubstr("Wait 1 second,"));
  EXPECT_THAT(sentence({Verdict::too_soon, seconds(61)}), HasSubstr("Wait 2 minutes,"));
  EXPECT_THAT(sentence({Verdict::too_soon, seconds(60)}), HasSubstr("Wait 1 minute,"));
}

TEST(DrawCode, EightDigitsEachTimeOthers) {
  std::set<std::string> seen;
  std::array<int, 10> first{};
  for (int i = 0; i < 2000; ++i) {
    const std::string code = draw_code();
    ASSERT_THAT(code, MatchesRegex("[0-9]{8}"));
    seen.insert(code);
    ++first[std::size_t(code[0] - '0')];
  }
  EXPECT_GT(seen.size(), 1990u);  // of 2000 in 10^8, 0.02 pairs alike are expected
  // Each digit leads 200 times; 90 from that is 6.7 standard deviations.
  for (const int count : first) EXPECT_NEAR(count, 200, 90);
}

// ---- token ----------------------------------------------------------------------------------------------------------

constexpr std::chrono::sys_seconds kNow{seconds(1'800'000'000)};

TEST(Token, HoldsForNinetyDaysFromWhenItWasMade) {
  const Key key = draw_key();
  const std::string token = make_token(key, kNow);
  EXPECT_TRUE(token_holds(key, token, kNow));
  EXPECT_TRUE(token_holds(key, token, kNow + std::chrono::days(90) - seconds(1)));
  EXPECT_FALSE(token_holds(key, token, kNow + std::chrono::days(90)));
  EXPECT_TRUE(token_holds(key, token, kNow - std::chrono::days(1000)));  // a clock that was set back
}

TEST(Token, NoneIsLikeAnother) {
  const Key key = draw_key();
  EXPECT_NE(make_token(key, kNow), make_token(key, kNow));
}

TEST(Token, OfAnotherKeyDoesNotHold) {
  EXPECT_FALSE(token_holds(draw_key(), make_token(draw_key(), kNow), kNow));
}

TEST(Token, NoChangedCharacterNoTruncationNoAdditionHolds) {
  const Key key = draw_key();
  const std::string token = make_token(key, kNow);
  for (std::size_t i = 0; i < token.size(); ++i) {
    for (const char other : {'0', '1', 'f', 'g', 'A', '.', '\0'}) {
      std::string changed = token;
      changed[i] = other;
      EXPECT_EQ(token_holds(key, changed, kNow), changed == token) << changed;
    }
    EXPECT_FALSE(token_holds(key, token.substr(0, i), kNow)) << "kept " << i;
    EXPECT_FALSE(token_holds(key, token.substr(i + 1), kNow)) << "without " << i;
  }
  for (const char* more : {"0", ".", " ", ".0", "\n"}) EXPECT_FALSE(token_holds(key, token + more, kNow));
  EXPECT_FALSE(token_holds(key, "", kNow));
  EXPECT_FALSE(token_holds(key, std::string(100'000, '.'), kNow));
}

TEST(Token, ALaterEndCannotBePutIn) {
  const Key key = draw_key();
  std::string token = make_token(key, kNow);
  const auto first = token.find('.') + 1, second = token.find('.', first);
  ASSERT_EQ(token.substr(first, second - first), "1807776000");
  token.replace(first, second - first, "9807776000");
  EXPECT_FALSE(token_holds(key, token, kNow));
}

TEST(CookieName, IsOfTheKeyAndFitForACookie) {
  const Key key = draw_key();
  EXPECT_EQ(cookie_name(key), cookie_name(key));
  EXPECT_NE(cookie_name(key), cookie_name(draw_key()));
  EXPECT_THAT(cookie_name(key), MatchesRegex("hangtrue-[0-9a-f]{8}"));
}

// ---- the key's file -------------------------------------------------------------------------------------------------

class KeyFile : public ::testing::Test {
 protected:
  KeyFile() {
    std::string name = ::testing::TempDir() + "key-XXXXXX";
    folder_ = ::mkdtemp(name.data());
    path_ = folder_ / "pairing";
  }
  ~KeyFile() override { std::filesystem::remove_all(folder_); }
  std::string content() const {
    std::ifstream file(path_, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
  }
  void write(const std::string& text, mode_t mode = 0600) const {
    std::ofstream(path_, std::ios::binary) << text;
    ASSERT_EQ(::chmod(path_.c_str(), mode), 0);
  }
  std::size_t files() const {
    return std::size_t(std::distance(std::filesystem::directory_iterator(folder_), {}));
  }
  std::filesystem::path folder_, path_;
};

TEST_F(KeyFile, IsMadeOnceForItsOwnerAloneAndReadAgain) {
  const KeptKey made = keep_key(path_);
  EXPECT_EQ(made.trouble, "");
  struct stat kind {};
  ASSERT_EQ(::stat(path_.c_str(), &kind), 0);
  EXPECT_EQ(kind.st_mode & 07777, 0600u);
  EXPECT_EQ(kind.st_size, 65);
  EXPECT_EQ(files(), 1u);  // nothing beside it
  const KeptKey again = keep_key(path_);
  EXPECT_EQ(again.trouble, "");
  EXPECT_EQ(again.key, made.key);
}

TEST_F(KeyFile, TakenAwayANewOneIsMade) {
  const Key before = keep_key(path_).key;
  std::filesystem::remove(path_);
  EXPECT_NE(keep_key(path_).key, before);
}

TEST_F(KeyFile, DamagedInAnyWayIsSaidAndLeftAsItIs) {
  (void)keep_key(path_);
  const std::string good = content();
  std::vector<std::string> damaged = {good + "\n", good.substr(0, 64) + " ", "G" + good.substr(1),
                                      "A" + good.substr(1)};
  for (std::size_t kept = 0; kept < good.size(); ++kept) damaged.push_back(good.substr(0, kept));
  for (const std::string& text : damaged) {
    write(text);
    const KeptKey one = keep_key(path_), other = keep_key(path_);
    EXPECT_THAT(one.trouble, HasSubstr("damaged")) << text;
    EXPECT_THAT(one.trouble, HasSubstr(path_.string()));
    EXPECT_NE(one.key, other.key);  // of no use to whoever damaged it
    EXPECT_EQ(content(), text);
  }
}

TEST_F(KeyFile, OpenToOthersIsNotUsed) {
  const Key key = keep_key(path_).key;
  for (const mode_t mode : {0640u, 0604u, 0620u, 0602u, 0610u, 0666u}) {
    ASSERT_EQ(::chmod(path_.c_str(), mode), 0);
    const KeptKey kept = keep_key(path_);
    EXPECT_THAT(kept.trouble, HasSubstr("open to others (mode 0"));
    EXPECT_NE(kept.key, key);
  }
  ASSERT_EQ(::chmod(path_.c_str(), 0600), 0);
  EXPECT_EQ(keep_key(path_).key, key);
}

TEST_F(KeyFile, ALinkAFolderOrAPipeIsNotUsed) {
  (void)keep_key(folder_ / "elsewhere");
  std::filesystem::create_symlink(folder_ / "elsewhere", path_);
  EXPECT_THAT(keep_key(path_).trouble, HasSubstr("cannot read"));
  std::filesystem::remove(path_);
  std::filesystem::create_directory(path_);
  EXPECT_THAT(keep_key(path_).trouble, HasSubstr("not a file of this user's own"));
  std::filesystem::remove(path_);
  ASSERT_EQ(::mkfifo(path_.c_str(), 0600), 0);
  EXPECT_THAT(keep_key(path_).trouble, HasSubstr("not a file of this user's own"));
}

TEST_F(KeyFile, WhereNoneCanBeWrittenThatIsSaid) {
  const KeptKey kept = keep_key(folder_ / "no such folder" / "pairing");
  EXPECT_THAT(kept.trouble, HasSubstr("cannot write"));
  EXPECT_THAT(kept.trouble, HasSubstr("paired anew"));
}

// ---- the page -------------------------------------------------------------------------------------------------------

TEST(PairingPage, ItsPolicyAllowsItsStyleAndNothingElse) {
  const PairingPage page = pairing_page("");
  const auto begin = page.html.find("<style>") + 7, end = page.html.find("</style>");
  const std::string style = page.html.substr(begin, end - begin);
  std::array<unsigned char, 32> digest{};
  unsigned length = 0;
  ASSERT_EQ(EVP_Digest(style.data(), style.size(), digest.data(), &length, EVP_sha256(), nullptr), 1);
  std::array<unsigned char, 45> base64{};
  EVP_EncodeBlock(base64.data(), digest.data(), 32);
  EXPECT_THAT(page.policy,
              HasSubstr("style-src 'sha256-" + std::string(reinterpret_cast<char*>(base64.data())) + "'"));
  EXPECT_THAT(page.policy, HasSubstr("default-src 'none'"));
  for (const char* no : {"<script", "javascript:", " style=", "onclick", "http:", "https:"})
    EXPECT_EQ(page.html.substr(end).find(no), std::string::npos) << no;
}

TEST(PairingPage, HasALabelledFieldAndAComplaintThatIsReadOut) {
  const std::string calm = pairing_page("").html, bad = pairing_page("That was not the code.").html;
  for (const char* has : {"lang=\"en\"", "<label for=\"code\">", "id=\"code\"", "inputmode=\"numeric\"",
                          "autocomplete=\"off\"", "method=\"post\" action=\"/pair\""})
    EXPECT_THAT(calm, HasSubstr(has));
  EXPECT_THAT(bad, HasSubstr("role=\"alert\">That was not the code.<"));
  EXPECT_EQ(calm.find("role=\"alert\""), std::string::npos);
}

/// WCAG 2.2, "relative luminance" and "contrast ratio".
double luminance(std::string_view color) {
  std::string digits(color.substr(1));
  if (digits.size() == 3) digits = {digits[0], digits[0], digits[1], digits[1], digits[2], digits[2]};
  const auto part = [&](std::size_t at) {
    const double c = std::stoi(digits.substr(at, 2), nullptr, 16) / 255.0;
    return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
  };
  return 0.2126 * part(0) + 0.7152 * part(2) + 0.0722 * part(4);
}
double contrast(std::string_view a, std::string_view b) {
  const double one = luminance(a) + 0.05, other = luminance(b) + 0.05;
  return std::max(one, other) / std::min(one, other);
}

TEST(PairingPage, ContrastIsSevenToOneInLightAndDark) {
  std::string html = pairing_page("").html;
  const auto color = [&](const std::string& name) {
    const auto at = html.find("--" + name + ":#") + name.size() + 3;
    return html.substr(at, html.find_first_of(";}", at) - at);
  };
  for (int scheme = 0; scheme < 2; ++scheme) {
    EXPECT_GE(contrast(color("ink"), color("ground")), 7.0);
    EXPECT_GE(contrast(color("deep"), color("ground")), 7.0);
    EXPECT_GE(contrast(color("on-deep"), color("deep")), 7.0);
    EXPECT_GE(contrast(color("bad"), color("ground")), 7.0);
    html.erase(0, html.find("prefers-color-scheme:dark"));
  }
}

}  // namespace
}  // namespace hangtrue::page

// A seal short enough for the phone, and its QR code read back by another program.
#include "firmware-host/book/short_form.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>

#include <cstdio>
#include <random>

#include "firmware-host/book/qr_code.hpp"
#include "firmware-host/book/sha256.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

std::string hexadecimal(std::string_view bytes) {
  std::string text;
  for (const char byte : bytes) {
    char pair[3];
    std::snprintf(pair, sizeof pair, "%02x", static_cast<unsigned char>(byte));
    text += pair;
  }
  return text;
}

// Source: RFC 4648, section 10 (test vectors): BASE32("fooba") = "MZXW6YTB", BASE32("foobar") begins "MZXW6YTBOI".
TEST(ShortForm, IsBase32OfTheFirst80Bits) {
  EXPECT_EQ(short_form(hexadecimal("foobafooba")), "MZXW-6YTB-MZXW-6YTB");
  EXPECT_EQ(short_form(hexadecimal("foobafooba") + "ffffffff"), "MZXW-6YTB-MZXW-6YTB");
  EXPECT_EQ(short_form(std::string(64, '0')), "AAAA-AAAA-AAAA-AAAA");
  EXPECT_EQ(short_form(std::string(64, 'f')), "7777-7777-7777-7777");
}

TEST(ShortForm, IsEmptyOfWhatIsNoHash) {
  EXPECT_EQ(short_form(""), "");
  EXPECT_EQ(short_form(std::string(19, 'a')), "");
  EXPECT_EQ(short_form("ba7816bf8f01cfea414g40de"), "");
}

TEST(ShortForm, IsAnotherForEveryOneOfItsBits) {
  const std::string hash = sha256("abc");
  for (std::size_t digit = 0; digit < 20; ++digit)
    for (const int bit : {1, 2, 4, 8}) {
      std::string other = hash;
      const int value = std::stoi(std::string(1, hash[digit]), nullptr, 16) ^ bit;
      other[digit] = "0123456789abcdef"[value];
      EXPECT_NE(short_form(other), short_form(hash)) << "digit " << digit << " bit " << bit;
    }
}

TEST(ShortForm, IsReadBackHoweverItWasNoted) {
  for (const char* noted :
       {"OIBQ-ABCD-2345-OIBZ", "oibq-abcd-2345-oibz", "OIBQABCD2345OIBZ", " oibq abcd 2345 oibz ",
        "OI BQ AB-CD--23 45 OIBZ", "018Q-A8CD-2345-018Z", "0i8q\ta8cd 2345 o1bz"})
    EXPECT_EQ(parse_short_form(noted), "OIBQ-ABCD-2345-OIBZ") << noted;
  for (const char* noted : {"", "OIBQ-ABCD-2345-OIB", "OIBQ-ABCD-2345-OIBZ-A", "OIBQ-ABCD-2345-OIB9",
                            "OIBQ-ABCD-2345-OIB!", "OIBQ.ABCD.2345.OIBZ"})
    EXPECT_EQ(parse_short_form(noted), std::nullopt) << noted;
}

TEST(ShortForm, IsReadBackForEveryHash) {
  std::mt19937 random(20260914);
  for (int i = 0; i < 1000; ++i) {
    const std::string written = short_form(sha256(std::to_string(random())));
    EXPECT_EQ(parse_short_form(written), written);
  }
}

TEST(NotedSeal, IsItsNumberAndItsShortForm) {
  for (const char* noted :
       {"42 OIBQ-ABCD-2345-OIBZ", "  42   oibq abcd 2345 0ibz",
        "hangtrue level book seal 42 OIBQ-ABCD-2345-OIBZ", "Seal 42 018q abcd 2345 oibz"}) {
    const auto seal = parse_noted_seal(noted);
    ASSERT_TRUE(seal) << noted;
    EXPECT_EQ(seal->number, 42);
    EXPECT_EQ(seal->short_form, "OIBQ-ABCD-2345-OIBZ");
  }
  for (const char* noted :
       {"", "42", "seal", "OIBQ-ABCD-2345-OIBZ", "0 OIBQ-ABCD-2345-OIBZ", "42OIBQ-ABCD-2345-OIBZ",
        "99999999999999999999 OIBQ-ABCD-2345-OIBZ", "42 OIBQ-ABCD-2345"})
    EXPECT_FALSE(parse_noted_seal(noted)) << noted;
}

/// What a camera would see of the lines on a terminal: a grey picture (PGM of Netpbm) with `scale` dots for each module.
std::string picture(const std::vector<std::string>& lines, int scale) {
  std::vector<std::string> rows;  // '1' is dark
  for (const std::string& line : lines) {
    std::string upper, lower;
    for (std::size_t at = 0; at < line.size();) {
      const std::string_view block = std::string_view(line).substr(at, line[at] == ' ' ? 1 : 3);
      at += block.size();
      upper += block == "\xE2\x96\x80" || block == "\xE2\x96\x88" ? '1' : '0';
      lower += block == "\xE2\x96\x84" || block == "\xE2\x96\x88" ? '1' : '0';
    }
    rows.push_back(upper);
    rows.push_back(lower);
  }
  const std::size_t dots = static_cast<std::size_t>(scale);
  std::string text =
      "P5 " + std::to_string(rows[0].size() * dots) + ' ' + std::to_string(rows.size() * dots) + " 255\n";
  for (const std::string& row : rows) {
    std::string line;
    for (const char module : row) line.append(dots, module == '1' ? '\0' : '\xFF');
    for (std::size_t i = 0; i < dots; ++i) text += line;
  }
  return text;
}

// zbarimg (ZBar) is the independent reader.
std::string read_by_zbar(const std::string& path) {
  FILE* const pipe =
      ::popen(("zbarimg --nodbus --quiet --raw -Sdisable -Sqrcode.enable '" + path + "' 2>&1").c_str(), "r");
  if (pipe == nullptr) return "zbarimg cannot be started";
  std::string text;
  char chunk[512];
  while (const std::size_t count = std::fread(chunk, 1, sizeof chunk, pipe)) text.append(chunk, count);
  ::pclose(pipe);
  while (!text.empty() && text.back() == '\n') text.pop_back();
  return text;
}

TEST(QrCode, IsReadBackByAnotherProgramFromWhatTheTerminalShows) {
  Scratch scratch;
  for (const Number number : {Number{1}, Number{42}, Number{123'456'789}}) {
    const std::string text = seal_text({number, sha256("abc"), ""});
    const auto code = qr_code(text);
    ASSERT_TRUE(code);
    const auto lines = terminal_lines(*code);
    EXPECT_LE(code->side + 2 * QrCode::kQuiet, 80) << "fits a terminal";
    write_bytes(scratch / "qr.pgm", picture(lines, 4));
    EXPECT_EQ(read_by_zbar(scratch / "qr.pgm"), text);
  }
  EXPECT_EQ(seal_text({42, sha256("abc"), ""}), "hangtrue level book seal 42 XJ4B-NP4P-AHH6-UQKB");
}

TEST(QrCode, HasFinderPatternsAndAQuietMargin) {
  const auto code = qr_code("x");
  ASSERT_TRUE(code);
  EXPECT_EQ(code->side, 21);  // ISO/IEC 18004: version 1
  for (int i = 0; i < 7; ++i) {
    EXPECT_TRUE(code->is_dark(0, i));
    EXPECT_FALSE(code->is_dark(7, i)) << "the separator";
    EXPECT_FALSE(code->is_dark(-1, i));
    EXPECT_FALSE(code->is_dark(i, code->side));
  }
  EXPECT_EQ(terminal_lines(*code).size(), 15u);  // (21 + 2 * 4) / 2, rounded up
}

TEST(QrCode, IsNoneOfWhatItCannotHold) {
  EXPECT_FALSE(qr_code(""));
  EXPECT_TRUE(qr_code(std::string(2331, 'a')));
  EXPECT_FALSE(qr_code(std::string(2332, 'a')));
}

}  // namespace
}  // namespace hangtrue::book

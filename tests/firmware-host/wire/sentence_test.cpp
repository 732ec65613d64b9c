#include "firmware-host/wire/sentence.hpp"

#include <gtest/gtest.h>

#include <string>

#include "firmware-host/wire/framing.hpp"
#include "firmware-host/wire/xdr.hpp"

namespace hangtrue::wire {
namespace {

// The checksum by hand: exclusive or of the characters between '$' and '*' (NMEA 0183).
TEST(SentenceWriter, WritesFieldsChecksumAndLineEnd) {
  Sentence sentence("YXXDR");
  sentence.quad('A', -12345, 6, 'D', "ALONG").quad('G', 7, 0, '\0', "SEQ");
  const std::string written(sentence.finish());
  const std::string inside = "YXXDR,A,-0.012345,D,ALONG,G,7,,SEQ";
  unsigned sum = 0;
  for (const char c : inside) sum ^= static_cast<unsigned char>(c);
  char tail[8];
  std::snprintf(tail, sizeof tail, "*%02X\r\n", sum);
  EXPECT_EQ(written, '$' + inside + tail);
}

TEST(SentenceWriter, IsReadBackByTheDecoder) {
  for (const std::int64_t value : {std::int64_t(0), std::int64_t(5), std::int64_t(-5),
                                   std::int64_t(123456789), std::int64_t(-1000000)}) {
    Sentence sentence("HTXDR");
    sentence.quad('A', value, 6, 'D', "ALONG");
    Framer framer;
    XdrDecoder decoder;
    int read = 0;
    framer.push(sentence.finish(), [&](std::string_view text, std::size_t) {
      const auto quads = decoder.decode(text);
      ASSERT_TRUE(quads.ok());
      ASSERT_EQ(quads.value().size(), 1u);
      EXPECT_NEAR(quads.value()[0].value, double(value) * 1e-6, 1e-12);
      ++read;
    });
    EXPECT_EQ(read, 1) << value;
  }
}

TEST(SentenceWriter, PutsAQuestionMarkForWhatASentenceCannotCarry) {
  Sentence sentence("HTNOD");
  const std::string written(sentence.text("a,b*c$d\x01\xC3").number(-3).hex(0xBEEF, 4).finish());
  EXPECT_EQ(written.substr(0, written.size() - 5), "$HTNOD,a?b?c?d??,-3,BEEF");
}

TEST(SentenceWriter, GivesNothingWhereItGrewTooLong) {
  Sentence fits("HTNOD"), does_not("HTNOD");
  const std::size_t room = kLongestSentence - 6 - 1 - 5;
  EXPECT_TRUE(fits.has_room(room + 1));
  EXPECT_FALSE(fits.has_room(room + 2));
  EXPECT_EQ(fits.text(std::string(room, 'x')).finish().size(), kLongestSentence);
  EXPECT_TRUE(does_not.text(std::string(room + 1, 'x')).finish().empty());
}

}  // namespace
}  // namespace hangtrue::wire

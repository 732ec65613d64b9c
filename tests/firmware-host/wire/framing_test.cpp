#include "firmware-host/wire/framing.hpp"

#include <gmock/gmock.h>

#include <random>
#include <string>
#include <vector>

#include "tests/no_heap.hpp"

namespace hangtrue::wire {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

// Own, constructed.
const std::string kGood = "$YXXDR,A,0.125,D,PITCH*25\r\n";

struct Framed {
  std::vector<std::string> sentences;
  ByteCounts counts;
  std::size_t bytes_in_sentences = 0;
  bool operator==(const Framed& other) const {
    return sentences == other.sentences && counts.in == other.counts.in && counts.used == other.counts.used &&
           counts.dropped == other.counts.dropped && bytes_in_sentences == other.bytes_in_sentences;
  }
};

/// Pushes the chunks, checking after each that every byte is accounted for, and finishes.
Framed frame(const std::vector<std::string>& chunks) {
  Framed framed;
  Framer framer;
  const auto all_accounted = [&framer] {
    const ByteCounts& counts = framer.counts();
    return counts.in == counts.used + counts.dropped_in_all() + framer.pending();
  };
  for (const std::string& chunk : chunks) {
    framer.push(chunk, [&framed](std::string_view sentence, std::size_t bytes) {
      framed.sentences.emplace_back(sentence);
      framed.bytes_in_sentences += bytes;
    });
    EXPECT_TRUE(all_accounted());
  }
  framer.finish();
  EXPECT_EQ(framer.pending(), 0u);
  EXPECT_TRUE(all_accounted());
  framed.counts = framer.counts();
  EXPECT_EQ(framed.counts.used, framed.bytes_in_sentences);
  return framed;
}

struct FrameCase {
  const char* legend;
  std::string bytes;
  std::vector<std::string> sentences;
  Dropped reason;         // why bytes are dropped
  std::uint64_t dropped;  // that many, and none for another reason
};

class Frame : public ::testing::TestWithParam<FrameCase> {};

TEST_P(Frame, GivesTheSentencesAndCountsTheRestUnderItsReason) {
  const FrameCase& wanted = GetParam();
  const Framed framed = frame({wanted.bytes});
  EXPECT_EQ(framed.sentences, wanted.sentences) << wanted.legend;
  EXPECT_EQ(framed.counts.dropped_as(wanted.reason), wanted.dropped) << wanted.legend;
  EXPECT_EQ(framed.counts.dropped_in_all(), wanted.dropped) << wanted.legend;
}

std::string sentence_of(std::size_t bytes) { return "$" + std::string(bytes - 3, 'x') + "\r\n"; }

INSTANTIATE_TEST_SUITE_P(
    Lines, Frame,
    ::testing::Values(
        FrameCase{"nothing", "", {}, Dropped::noise, 0},
        FrameCase{"good line", "$GOOD\r\n", {"$GOOD"}, Dropped::noise, 0},
        FrameCase{"a line feed alone ends it too", "$GOOD\n", {"$GOOD"}, Dropped::noise, 0},
        FrameCase{"two lines", "$A\r\n$B\r\n", {"$A", "$B"}, Dropped::noise, 0},
        FrameCase{"line noise before the start", "\xff\x80 x$GOOD\r\n", {"$GOOD"}, Dropped::noise, 4},
        FrameCase{"an empty line", "\r\n$GOOD\r\n", {"$GOOD"}, Dropped::noise, 2},
        FrameCase{"a text line of another kind", "hello\r\n", {}, Dropped::noise, 7},
        FrameCase{"a line cut off by the next", "$YXX$GOOD\r\n", {"$GOOD"}, Dropped::cut_by_next, 4},
        FrameCase{"a line feed inside another line", "$YX\nDR,A\r\n", {"$YX"}, Dropped::noise, 6},
        FrameCase{"dollars only", "$$$$\n", {"$"}, Dropped::cut_by_next, 3},
        FrameCase{"82 characters", sentence_of(82), {sentence_of(82).substr(0, 80)}, Dropped::too_long, 0},
        FrameCase{"83 characters", sentence_of(83), {}, Dropped::too_long, 83},
        FrameCase{
            "83 characters, then a good line", sentence_of(83) + "$GOOD\n", {"$GOOD"}, Dropped::too_long, 83},
        FrameCase{"no line feed for long",
                  "$" + std::string(1000, 'x') + "$GOOD\n",
                  {"$GOOD"},
                  Dropped::too_long,
                  1001},
        FrameCase{"lowest and highest printable", "$ ~\n", {"$ ~"}, Dropped::not_printable, 0},
        FrameCase{"below printable",
                  "$a\x1f"
                  "b\n",
                  {},
                  Dropped::not_printable,
                  5},
        FrameCase{"delete",
                  "$a\x7f"
                  "b\n",
                  {},
                  Dropped::not_printable,
                  5},
        FrameCase{"high bit",
                  "$a\x80"
                  "b\n",
                  {},
                  Dropped::not_printable,
                  5},
        FrameCase{"a null byte in a long line",
                  std::string("$0123456789\0ABCDEF\n", 19),
                  {},
                  Dropped::not_printable,
                  19},
        FrameCase{"a carriage return that ends no line", "$a\rb\r\n", {}, Dropped::not_printable, 6},
        FrameCase{"two carriage returns", "$ab\r\r\n", {}, Dropped::not_printable, 6},
        FrameCase{"cut off by the end", "$GOOD\r\n$YXXDR,A", {"$GOOD"}, Dropped::cut_by_end, 8}));

TEST(Frame, TellsEveryTruncationOfALineAsCutOffByTheEnd) {
  for (std::size_t kept = 1; kept < kGood.size(); ++kept) {
    const Framed framed = frame({kGood.substr(0, kept)});
    EXPECT_THAT(framed.sentences, IsEmpty()) << "kept " << kept;
    EXPECT_EQ(framed.counts.dropped_as(Dropped::cut_by_end), kept);
  }
}

TEST(Frame, SeesEachByteThatIsNotPrintableAtEachPlace) {
  for (std::size_t place = 1; place + 2 < kGood.size(); ++place) {
    for (int byte = 0; byte < 256; ++byte) {
      std::string line = kGood;
      line[place] = static_cast<char>(byte);
      const bool handed_over_whole = frame({line}).sentences == std::vector{line.substr(0, line.size() - 2)};
      EXPECT_EQ(handed_over_whole, byte >= 0x20 && byte <= 0x7E && byte != '$')
          << "byte " << byte << " at " << place;
    }
  }
}

const std::string kAssorted = "noise\xfe" + kGood + "\r\n$YXXDR,A,0.1" + kGood + sentence_of(82) +
                              sentence_of(90) + "$x\x01y\n" + kGood + "$" + std::string(200, 'y') + kGood +
                              "$$\r$\n" + kGood + "$YXX";

TEST(Frame, GivesTheSameHoweverTheStreamIsCutInTwo) {
  const Framed whole = frame({kAssorted});
  EXPECT_EQ(whole.sentences.size(), 7u);
  for (std::size_t cut = 0; cut <= kAssorted.size(); ++cut) {
    EXPECT_TRUE(frame({kAssorted.substr(0, cut), kAssorted.substr(cut)}) == whole) << "cut at " << cut;
  }
}

TEST(Frame, GivesTheSameInChunksOfAnySize) {
  const Framed whole = frame({kAssorted});
  for (std::size_t size = 1; size <= 100; ++size) {
    std::vector<std::string> chunks;
    for (std::size_t at = 0; at < kAssorted.size(); at += size) chunks.push_back(kAssorted.substr(at, size));
    EXPECT_TRUE(frame(chunks) == whole) << "chunks of " << size;
  }
}

TEST(Frame, AccountsForEveryByteOfRandomStreams) {
  std::mt19937 random(20261);
  // Bytes that matter are frequent, so that every branch is met.
  const std::string alphabet = "$$\n\r,*AXDR0123\x80\x01";
  for (int stream = 0; stream < 2000; ++stream) {
    std::string bytes(random() % 400, ' ');
    for (char& byte : bytes)
      byte = random() % 8 == 0 ? static_cast<char>(random()) : alphabet[random() % alphabet.size()];
    std::vector<std::string> chunks;
    for (std::size_t at = 0; at < bytes.size();) {
      const std::size_t size = 1 + random() % 120;
      chunks.push_back(bytes.substr(at, size));
      at += size;
    }
    EXPECT_TRUE(frame(chunks) == frame({bytes})) << "stream " << stream;
  }
}

TEST(Frame, BeginsAnewAfterTheEnd) {
  Framer framer;
  std::vector<std::string> sentences;
  const auto keep = [&sentences](std::string_view sentence, std::size_t) {
    sentences.emplace_back(sentence);
  };
  framer.push("$half", keep);
  framer.finish();
  framer.push("rest\r\n$GOOD\r\n", keep);
  EXPECT_THAT(sentences, ElementsAre("$GOOD"));
  EXPECT_EQ(framer.counts().dropped_as(Dropped::cut_by_end), 5u);
  EXPECT_EQ(framer.counts().dropped_as(Dropped::noise), 6u);
}

TEST(Frame, HandsOverASentenceThatLiesWholeInAChunkWithoutCopyingIt) {
  Framer framer;
  const char* handed = nullptr;
  framer.push(kGood, [&handed](std::string_view sentence, std::size_t) { handed = sentence.data(); });
  EXPECT_EQ(handed, kGood.data());
}

TEST(Frame, DoesNotTouchTheHeap) {
  Framer framer;
  std::size_t sentences = 0;
  const std::size_t before = test::heap_allocations();
  for (int i = 0; i < 10; ++i)
    framer.push(kAssorted, [&sentences](std::string_view, std::size_t) { ++sentences; });
  EXPECT_EQ(test::heap_allocations(), before);
  EXPECT_EQ(sentences, 70u);
}

}  // namespace
}  // namespace hangtrue::wire

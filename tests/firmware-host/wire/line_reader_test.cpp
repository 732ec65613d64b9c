#include "firmware-host/wire/line_reader.hpp"

#include <gmock/gmock.h>

#include <random>
#include <string>
#include <vector>

#include "tests/firmware-host/wire/streams.hpp"
#include "tests/no_heap.hpp"

namespace hangtrue::wire {
namespace {

using ::testing::ElementsAre;

struct Lines {
  std::vector<std::string> lines;
  std::uint64_t used = 0;
  std::array<std::uint64_t, static_cast<std::size_t>(LineDropped::count)> dropped{};
  bool operator==(const Lines&) const = default;
  [[nodiscard]] std::uint64_t dropped_as(LineDropped reason) const {
    return dropped[static_cast<std::size_t>(reason)];
  }
};

/// Pushes the chunks, checking after each that every byte is accounted for, and finishes. Lines that begin
/// with '?' are of no use.
Lines read_lines(const test::Chunks& chunks) {
  LineReader reader;
  Lines made;
  const auto all_accounted = [&reader] {
    const LineReader::Counts& counts = reader.counts();
    return counts.in == counts.used + counts.dropped_in_all() + reader.pending();
  };
  for (const std::string_view chunk : chunks) {
    reader.push(chunk, [&made](std::string_view line) {
      made.lines.emplace_back(line);
      return line.front() != '?';
    });
    EXPECT_TRUE(all_accounted());
  }
  reader.finish();
  EXPECT_EQ(reader.pending(), 0u);
  EXPECT_TRUE(all_accounted());
  made.used = reader.counts().used;
  made.dropped = reader.counts().dropped;
  return made;
}

struct LineCase {
  const char* legend;
  std::string bytes;  // behind a first line end
  std::vector<std::string> lines;
  LineDropped reason;     // why bytes are dropped
  std::uint64_t dropped;  // that many, none for another reason but the first line end
};
class Line : public ::testing::TestWithParam<LineCase> {};

TEST_P(Line, IsHandedOverOrCountedUnderItsReasonHoweverTheBytesAreCut) {
  const LineCase& wanted = GetParam();
  const std::string bytes = "\n" + wanted.bytes;
  const Lines whole = read_lines({bytes});
  EXPECT_EQ(whole.lines, wanted.lines) << wanted.legend;
  const std::uint64_t first = wanted.reason == LineDropped::empty ? 1 : 0;
  EXPECT_EQ(whole.dropped_as(wanted.reason), wanted.dropped + first) << wanted.legend;
  EXPECT_EQ(whole.used, wanted.bytes.size() - wanted.dropped) << wanted.legend;
  for (const test::Chunks& chunks : test::every_chunking(bytes))
    EXPECT_EQ(read_lines(chunks), whole) << wanted.legend;
}

INSTANTIATE_TEST_SUITE_P(
    Bytes, Line,
    ::testing::Values(
        LineCase{"nothing", "", {}, LineDropped::empty, 0},
        LineCase{"ended by a line feed", "1.234\n", {"1.234"}, LineDropped::empty, 0},
        LineCase{"ended by a carriage return", "1.234\r", {"1.234"}, LineDropped::empty, 0},
        LineCase{"ended by both", "1.234\r\n", {"1.234"}, LineDropped::empty, 0},
        LineCase{"ended by carriage returns alone", "1\r2\r", {"1", "2"}, LineDropped::empty, 0},
        LineCase{"line feed first", "1\n\r2\n\r", {"1", "2"}, LineDropped::empty, 2},
        LineCase{"an empty line between", "1\r\n\r\n2\r\n", {"1", "2"}, LineDropped::empty, 2},
        LineCase{"with tabulators and degree signs",
                 "1\t2\xC2\xB0 3\xB0\n",
                 {"1\t2\xC2\xB0 3\xB0"},
                 LineDropped::empty,
                 0},
        LineCase{"longest", std::string(200, 'x') + "\n", {std::string(200, 'x')}, LineDropped::too_long, 0},
        LineCase{"too long", std::string(201, 'x') + "\r\n1\n", {"1"}, LineDropped::too_long, 203},
        LineCase{"much too long and never ended", std::string(5000, 'x'), {}, LineDropped::too_long, 5000},
        LineCase{"a byte that is no character", "1.2\x80\x31\r\n1\n", {"1"}, LineDropped::not_printable, 7},
        LineCase{"a null byte", std::string("1.2\0", 4) + "\n", {}, LineDropped::not_printable, 5},
        LineCase{"of no use", "? what\r\n1\n", {"? what", "1"}, LineDropped::not_understood, 8},
        LineCase{"cut off by the end", "1\n1.23", {"1"}, LineDropped::cut_by_end, 4}));

TEST(LineReader, DropsWhatMayHaveLostItsBeginning) {
  const Lines lines = read_lines({"34 m\r\n1.234 m\r\n"});
  EXPECT_THAT(lines.lines, ElementsAre("1.234 m"));
  EXPECT_EQ(lines.dropped_as(LineDropped::begun_before), 6u);
}

TEST(LineReader, DoesSoAgainAfterTheStreamHasEnded) {
  LineReader reader;
  std::vector<std::string> lines;
  const auto keep = [&lines](std::string_view line) {
    lines.emplace_back(line);
    return true;
  };
  reader.push("\n1 m\r", keep);
  reader.finish();
  reader.push("\n34 m\r\n2 m\n", keep);  // the line feed no longer belongs to the line before the end
  EXPECT_THAT(lines, ElementsAre("1 m", "34 m", "2 m"));
  reader.finish();
  reader.push("34 m\r\n3 m\n", keep);
  EXPECT_THAT(lines, ElementsAre("1 m", "34 m", "2 m", "3 m"));
}

TEST(LineReader, AccountsForEveryByteOfRandomStreams) {
  std::mt19937 random(31);
  const std::string alphabet = "\r\n\r\n1?. \x80";
  for (int stream = 0; stream < 300; ++stream) {
    std::string bytes(random() % 300, ' ');
    for (char& byte : bytes)
      byte = random() % 8 == 0 ? static_cast<char>(random()) : alphabet[random() % alphabet.size()];
    const Lines whole = read_lines({bytes});
    for (const test::Chunks& chunks : test::every_chunking(bytes))
      ASSERT_EQ(read_lines(chunks), whole) << stream;
  }
}

TEST(LineReader, DoesNotTouchTheHeap) {
  LineReader reader;
  std::size_t lines = 0;
  const std::size_t before = test::heap_allocations();
  for (int i = 0; i < 10; ++i)
    reader.push("\r\n1.234 m\r\n", [&lines](std::string_view) {
      ++lines;
      return true;
    });
  EXPECT_EQ(test::heap_allocations(), before);
  EXPECT_EQ(lines, 10u);
}

}  // namespace
}  // namespace hangtrue::wire

// line_reader.hpp: a stream of bytes, as a serial line gives it in chunks, into the text lines of a device.
//
// A line ends with a carriage return, a line feed, or the two together, and holds at most 200 characters. It
// is handed over at its carriage return already; a line feed right behind belongs to it still. What comes
// before the first line end of a stream may have lost its beginning ("34 m" of "1.234 m") and is dropped.
// Characters are the printable ASCII ones, the tabulator, and the degree sign (B0, or C2 B0 as UTF-8 has it);
// a line with any other byte is dropped whole. Every byte is accounted for: in = used + dropped_in_all() +
// pending().
//
// Memory   one line; no heap.
// Not for  devices that wait for an answer without a line end, such as a prompt.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "firmware-host/wire/byte_counts.hpp"
#include "firmware-host/wire/thresholds.hpp"

namespace hangtrue::wire {

enum class LineDropped : std::uint8_t {
  begun_before,    // up to the first line end of the stream: its beginning may be missing
  empty,           // line ends without a line
  too_long,        // more than 200 characters without a line end
  not_printable,   // wrong baud rate, most often
  not_understood,  // a whole line, of which the owner could make nothing
  cut_by_end,      // the stream ended within the line
  count
};
[[nodiscard]] std::string_view name(LineDropped reason);

class LineReader {
 public:
  using Counts = CountsBy<LineDropped>;

  /// Takes the next chunk and calls on_line(std::string_view line) for every whole line, without its line
  /// end; the view lives for the call. It returns whether the line was of use: if not, its bytes count as
  /// not_understood.
  template <class OnLine>
  void push(std::string_view chunk, OnLine&& on_line) {
    counts_.in += chunk.size();
    for (const char c : chunk) {
      const bool second_of_two = c == '\n' && after_return_;
      after_return_ = false;
      if (second_of_two) {
        count(1);
      } else if (c == '\n' || c == '\r') {
        take_end(on_line);
        after_return_ = c == '\r';
      } else {
        if (length_ < kLongestLine) line_[length_] = c;
        if (!is_character(c)) printable_ = false;
        ++length_;
      }
    }
  }

  /// The stream has ended: what is pending is counted as cut off; the next push() begins anew.
  void finish();

  [[nodiscard]] const Counts& counts() const { return counts_; }
  [[nodiscard]] std::size_t pending() const { return length_; }

 private:
  [[nodiscard]] static bool is_character(char c) {
    return (c >= ' ' && c <= '~') || c == '\t' || c == '\xB0' || c == '\xC2';
  }
  /// The line and the first byte of its end.
  template <class OnLine>
  void take_end(OnLine&& on_line) {
    used_ = false;
    if (length_ == 0) {
      reason_ = LineDropped::empty;
    } else if (first_) {
      reason_ = LineDropped::begun_before;
    } else if (length_ > kLongestLine) {
      reason_ = LineDropped::too_long;
    } else if (!printable_) {
      reason_ = LineDropped::not_printable;
    } else {
      reason_ = LineDropped::not_understood;
      used_ = on_line(std::string_view(line_.data(), length_));
    }
    count(length_ + 1);
    length_ = 0;
    printable_ = true;
    first_ = false;
  }
  void count(std::size_t bytes) {
    if (used_) {
      counts_.used += bytes;
    } else {
      counts_.drop(reason_, bytes);
    }
  }

  std::array<char, kLongestLine> line_{};
  std::size_t length_ = 0;  // of the line that has begun, those beyond line_ counted too
  bool printable_ = true;
  bool first_ = true;          // no line end has come yet
  bool after_return_ = false;  // a line feed now belongs to the line before
  bool used_ = false;          // what became of that line
  LineDropped reason_ = LineDropped::empty;
  Counts counts_;
};

}  // namespace hangtrue::wire

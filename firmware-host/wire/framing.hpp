// framing.hpp: a stream of bytes, as a serial line gives it in chunks, into whole sentences.
//
// A sentence runs from '$' to the line feed, both included, and is at most 82 bytes long. A carriage return
// may stand right before the line feed. Every byte is accounted for: handed over in a sentence, counted under
// a reason, or pending in a sentence that has not ended:
//     in = used + dropped_in_all() + pending()            (pending() is 0 after finish())
// The result, counts included, does not depend on how the stream is cut into chunks.
//
// Memory   one sentence; no heap. A sentence that lies whole in a chunk is handed over without a copy.
// Not for  devices that do not begin their lines with '$'.
// Source   NMEA 0183 / IEC 61162-1: '$', line end, printable characters, greatest length (from memory, not
//          checked against it).
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <string_view>

#include "firmware-host/wire/byte_counts.hpp"
#include "firmware-host/wire/thresholds.hpp"

namespace hangtrue::wire {

enum class Dropped : std::uint8_t {
  noise,          // outside a sentence: before a '$', empty lines too
  cut_by_next,    // a sentence had begun, and another '$' came before its line feed
  too_long,       // more than 82 bytes from '$' to the line feed (or the next '$', or the end)
  not_printable,  // a byte outside 0x20 ... 0x7E within the sentence: wrong baud rate, most often
  cut_by_end,     // the stream ended within the sentence
  count
};
[[nodiscard]] std::string_view name(Dropped reason);

using ByteCounts = CountsBy<Dropped>;

class Framer {
 public:
  /// Takes the next chunk and calls on_sentence(std::string_view sentence, std::size_t bytes) for every
  /// sentence that ends in it, in order. The view begins with '$', goes without its line end, and lives for
  /// the call; `bytes` counts the line end as well.
  template <class OnSentence>
  void push(std::string_view chunk, OnSentence&& on_sentence) {
    const char* at = chunk.data();
    const char* const end = at + chunk.size();
    counts_.in += chunk.size();
    while (at != end) {
      if (length_ != 0) {
        at = go_on(at, end, on_sentence);
        continue;
      }
      if (*at != '$') {
        const char* const start = find('$', at, end);
        counts_.drop(Dropped::noise, static_cast<std::size_t>(start - at));
        at = start;
        continue;
      }
      const char* const limit = at + std::min(static_cast<std::size_t>(end - at), kLongestSentence);
      const char* const line_end = find('\n', at, limit);
      if (line_end != limit && is_plain(at + 1, without_return(at, line_end))) {
        hand_over(at, line_end, on_sentence);
        at = line_end + 1;
      } else {  // whatever is not plainly a whole sentence goes byte by byte
        begun_[0] = '$';
        length_ = 1;
        ++at;
      }
    }
  }

  /// The stream has ended: what is pending is counted as cut off; the next push() begins anew.
  void finish();

  [[nodiscard]] const ByteCounts& counts() const { return counts_; }
  [[nodiscard]] std::size_t pending() const { return length_; }

 private:
  static const char* find(char wanted, const char* at, const char* end) {
    const void* const found = std::memchr(at, wanted, static_cast<std::size_t>(end - at));
    return found != nullptr ? static_cast<const char*>(found) : end;
  }
  static const char* without_return(const char* start, const char* line_end) {
    return line_end != start && line_end[-1] == '\r' ? line_end - 1 : line_end;
  }
  /// True when every byte is printable and none is '$'. May read the bytes in words of eight.
  static bool is_plain(const char* at, const char* end);

  /// Adds to the sentence that has begun, until it ends or the chunk does. Returns where to go on.
  template <class OnSentence>
  const char* go_on(const char* at, const char* end, OnSentence&& on_sentence) {
    for (; at != end; ++at) {
      if (*at == '$') {
        close(Dropped::cut_by_next);
        return at;
      }
      if (length_ < kLongestSentence) begun_[length_] = *at;
      ++length_;
      if (*at != '\n') continue;
      const char* const start = begun_.data();
      const char* const line_end = start + length_ - 1;
      if (length_ <= kLongestSentence && is_plain(start + 1, without_return(start, line_end))) {
        hand_over(start, line_end, on_sentence);
        length_ = 0;
      } else {
        close(Dropped::not_printable);
      }
      return at + 1;
    }
    return at;
  }

  template <class OnSentence>
  void hand_over(const char* start, const char* line_end, OnSentence&& on_sentence) {
    const std::size_t bytes = static_cast<std::size_t>(line_end - start) + 1;
    counts_.used += bytes;
    const char* const text_end = without_return(start, line_end);
    on_sentence(std::string_view(start, static_cast<std::size_t>(text_end - start)), bytes);
  }

  void close(Dropped reason) {
    counts_.drop(length_ > kLongestSentence ? Dropped::too_long : reason, length_);
    length_ = 0;
  }

  std::array<char, kLongestSentence> begun_{};
  // Bytes of the sentence that has begun, those beyond begun_ counted too; 0: none has.
  std::size_t length_ = 0;
  ByteCounts counts_;
};

}  // namespace hangtrue::wire

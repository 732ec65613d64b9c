// xdr.hpp: one transducer sentence (XDR of NMEA 0183 / IEC 61162-1) into its values.
//
//     $ttXDR,type,value,unit,name[,type,value,unit,name ...]*hh          tt: talker, hh: checksum
//
// Checksum   exclusive or of all characters between '$' and '*', two hexadecimal digits of either case;
//            required.
// Types      A angle in degrees (unit D), D length in metres (unit M), C temperature in Celsius (unit C), G
//            generic (any unit or none). Other types of the standard are skipped and counted.
// Empty      a quad without a value gives no value; it is counted.
// Faults     a sentence with any fault gives nothing at all, never a part.
// Values     plain decimal, at most 15 significant digits and 22 places; correctly rounded. Nothing else is a
//            number here: no exponent, no hexadecimal, no "nan" or "inf".
// Memory     no heap; views live as long as the sentence. Builds for bare metal.
// Source     NMEA 0183 / IEC 61162-1; types and units from the public XDR sheet of version 4.11 and from open
//            source that reads these sentences (see data/reference/nmea_samples.txt).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <type_traits>

#include "core/quantity/result.hpp"
#include "firmware-host/wire/framing.hpp"
#include "firmware-host/wire/thresholds.hpp"

namespace hangtrue::wire {

struct XdrQuad {
  char type = 'G';        // 'A', 'D', 'C' or 'G'
  double value = 0;       // as sent: degrees, metres, Celsius, or whatever a G means
  std::string_view name;  // the transducer's; may be empty
};

/// In the order in which they are looked for. On any of them nothing of the sentence is used.
enum class XdrFault : std::uint8_t {
  no_checksum,        // does not end in '*' and two characters
  checksum_not_hex,   // the two are no hexadecimal digits
  checksum_mismatch,  // they differ from what the characters give
  other_sentence,     // well formed, but no XDR
  field_count,        // the fields after XDR are none, or no multiple of four
  type_not_standard,  // not one capital letter
  value_not_decimal,  // of a type that is read
  unit_not_of_type,   // A wants D, D wants M, C wants C
  too_many_quads,     // more than kMostQuads
  count
};
[[nodiscard]] std::string_view name(XdrFault fault);

/// A plain decimal number, or nothing. Correctly rounded.
[[nodiscard]] std::optional<double> parse_decimal(std::string_view text);

/// Exclusive or of all characters.
[[nodiscard]] std::uint8_t checksum(std::string_view characters);

class XdrDecoder {
 public:
  struct Counts {
    std::uint64_t sentences = 0;    // given to decode()
    std::uint64_t decoded = 0;      // without fault
    std::uint64_t quads = 0;        // with a value, of the types that are read
    std::uint64_t empty_quads = 0;  // without a value
    std::uint64_t other_quads = 0;  // of other types
    std::array<std::uint64_t, static_cast<std::size_t>(XdrFault::count)> refused{};  // sentences, by fault
    [[nodiscard]] std::uint64_t refused_as(XdrFault fault) const {
      return refused[static_cast<std::size_t>(fault)];
    }
  };

  /// Decodes one sentence, from '$' to the second checksum digit (no line end). The quads live until the next
  /// call and view into `sentence`.
  [[nodiscard]] Result<std::span<const XdrQuad>, XdrFault> decode(std::string_view sentence);

  [[nodiscard]] const Counts& counts() const { return counts_; }

 private:
  [[nodiscard]] Result<Done, XdrFault> check(std::string_view sentence) const;
  [[nodiscard]] Result<std::size_t, XdrFault> read_quads(std::string_view fields);

  std::array<XdrQuad, kMostQuads> quads_{};
  std::uint64_t empty_in_sentence_ = 0, other_in_sentence_ = 0;
  Counts counts_;
};

/// Bytes to quads: a Framer and an XdrDecoder, with every byte accounted for:
///     in = used + dropped (Framer) + refused (by fault) + pending
class XdrReader {
 public:
  /// Calls on_quads(std::span<const XdrQuad>), or on_quads(std::string_view talker, std::span<const XdrQuad>)
  /// where it takes two, for every good sentence that ends in the chunk. All views live for the call.
  template <class OnQuads>
  void push(std::string_view chunk, OnQuads&& on_quads) {
    push(chunk, on_quads, [](std::string_view) {});
  }
  /// And on_other(std::string_view) for every whole sentence that is no XDR, from '$' to its checksum, which is right. Its bytes
  /// count as refused all the same.
  template <class OnQuads, class OnOther>
  void push(std::string_view chunk, OnQuads&& on_quads, OnOther&& on_other) {
    framer_.push(chunk, [&](std::string_view sentence, std::size_t bytes) {
      const auto quads = decoder_.decode(sentence);
      if (quads.ok()) {
        if constexpr (std::is_invocable_v<OnQuads&, std::string_view, std::span<const XdrQuad>>) {
          on_quads(std::string_view(sentence.data() + 1, 2),
                   quads.value());  // one without a talker has no quads
        } else {
          on_quads(quads.value());
        }
      } else {
        refused_bytes_[static_cast<std::size_t>(quads.fault())] += bytes;
        if (quads.fault() == XdrFault::other_sentence) on_other(sentence);
      }
    });
  }
  void finish() { framer_.finish(); }

  [[nodiscard]] std::uint64_t bytes_in() const { return framer_.counts().in; }
  [[nodiscard]] std::uint64_t bytes_used() const { return framer_.counts().used - refused_in_all(); }
  [[nodiscard]] std::uint64_t bytes_pending() const { return framer_.pending(); }
  [[nodiscard]] std::uint64_t bytes_dropped(Dropped reason) const {
    return framer_.counts().dropped_as(reason);
  }
  [[nodiscard]] std::uint64_t bytes_refused(XdrFault fault) const {
    return refused_bytes_[static_cast<std::size_t>(fault)];
  }
  /// Dropped, refused, whatever the reason; neither used nor pending.
  [[nodiscard]] std::uint64_t bytes_lost() const {
    return framer_.counts().dropped_in_all() + refused_in_all();
  }
  [[nodiscard]] const XdrDecoder::Counts& sentences() const { return decoder_.counts(); }

 private:
  [[nodiscard]] std::uint64_t refused_in_all() const {
    std::uint64_t sum = 0;
    for (const std::uint64_t bytes : refused_bytes_) sum += bytes;
    return sum;
  }

  Framer framer_;
  XdrDecoder decoder_;
  std::array<std::uint64_t, static_cast<std::size_t>(XdrFault::count)> refused_bytes_{};
};

}  // namespace hangtrue::wire

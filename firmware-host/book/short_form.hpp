// short_form.hpp: a seal's hash short enough to be read out over the phone or copied by hand: "ABCD-EFGH-IJKL-MNOP".
//
// Form     the first 80 bits of the hash in base32 (RFC 4648, section 6: A ... Z, 2 ... 7), four groups of four.
// Enough?  Whoever wants to pass off another book must find one whose seal has these very 80 bits: 2^80 = 1.2e24 trials on
//          average; at 1e12 hashes a second, more than 38,000 years. (Finding any two books that agree takes only 2^40
//          trials, but the book that was sealed is not of the forger's choosing: its readings, times and former hash are
//          there before.) Whole books are compared by all 256 bits.
// Slips    the alphabet has no 0, 1, 8 or 9. A 0 that was heard or written stands for O, a 1 for I, an 8 for B.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "firmware-host/book/book.hpp"

namespace hangtrue::book {

/// Of a hash in hexadecimal digits, at least 20 of them; empty for anything else.
[[nodiscard]] std::string short_form(std::string_view hash);

/// The short form as it would be written, from how somebody noted it: any case, with or without spaces and dashes, with the
/// slips above. Nothing unless it comes to 16 letters of the alphabet.
[[nodiscard]] std::optional<std::string> parse_short_form(std::string_view text);

/// "42 ABCD-EFGH-IJKL-MNOP", also with words before it, as the QR code has them.
[[nodiscard]] std::optional<NotedSeal> parse_noted_seal(std::string_view text);

/// What the QR code and the printed line say: "hangtrue level book seal 42 ABCD-EFGH-IJKL-MNOP".
[[nodiscard]] std::string seal_text(const SealRecord& seal);

}  // namespace hangtrue::book

// body.hpp: the body of an entry as JSON text, and back. Members in a fixed order, numbers exact.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

#include "firmware-host/book/book.hpp"

namespace hangtrue::book {

/// Bodies that are longer, or whose members lie deeper within one another, are none: what reads and writes them goes down as
/// deep as they do. The same holds of a card's own JSON. No source: a run sheet has at most 1 MB, and a card's members lie 5 deep.
inline constexpr std::size_t kLongestBody = 16 << 20;
inline constexpr int kDeepestBody = 64;
[[nodiscard]] bool within_limits(std::string_view json);

/// Nothing when a number in it is not finite: such a thing has no place in a record. Bytes that are no UTF-8 are
/// replaced by U+FFFD.
[[nodiscard]] std::optional<std::string> body_of(const Content& content);

/// Nothing when the kind is unknown or the body is not of that kind.
[[nodiscard]] std::optional<Content> content_from(std::string_view kind, std::string_view body,
                                                  std::optional<Number> refers_to);

/// The entry that this one points at.
[[nodiscard]] std::optional<Number> refers_to(const Content& content);

}  // namespace hangtrue::book

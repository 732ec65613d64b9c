// body.hpp: the body of an entry as JSON text, and back. Members in a fixed order, numbers exact.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "firmware-host/book/book.hpp"

namespace hangtrue::book {

/// Nothing when a number in it is not finite: such a thing has no place in a record. Bytes that are no UTF-8 are
/// replaced by U+FFFD.
[[nodiscard]] std::optional<std::string> body_of(const Content& content);

/// Nothing when the kind is unknown or the body is not of that kind.
[[nodiscard]] std::optional<Content> content_from(std::string_view kind, std::string_view body,
                                                  std::optional<Number> refers_to);

/// The entry that this one points at.
[[nodiscard]] std::optional<Number> refers_to(const Content& content);

}  // namespace hangtrue::book

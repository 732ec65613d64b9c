// content.hpp: what is at which path. Pure.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "firmware-host/page/request.hpp"

namespace hangtrue::page {

/// One of the page's files, compressed, or why not: another method, or no such file.
[[nodiscard]] Reply file_reply(const Request& request);

/// "/record/NAME.txt": the name, or empty: it cannot be one.
[[nodiscard]] std::string survey_of(std::string_view path);

/// To print, and to keep on a phone that is out of reach later.
struct Document {
  enum class Kind { record, card, recheck };
  Kind kind = Kind::record;
  std::string survey;
  std::string from;  // of a recheck: the earlier one
};
/// "/print/record/NAME.pdf", "/print/card/NAME.pdf", "/print/recheck/EARLIER/NAME.pdf"; nothing: it cannot be one.
[[nodiscard]] std::optional<Document> document_of(std::string_view path);
/// As a file's name: "card-7.pdf".
[[nodiscard]] std::string file_name(const Document& document);

}  // namespace hangtrue::page

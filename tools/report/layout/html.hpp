// html.hpp: a document as one HTML page, for those who have it read aloud: headings in order, tables with their headings, drawings
// in words. The same pieces, in the same order and with the same numbers as the PDF; no script, nothing fetched from elsewhere.
#pragma once

#include <string>

#include "tools/report/layout/document.hpp"

namespace hangtrue::report {

/// UTF-8.
[[nodiscard]] std::string html_of(const Document& document);

}  // namespace hangtrue::report

// content.hpp: what is at which path. Pure.
#pragma once

#include <string>
#include <string_view>

#include "firmware-host/page/request.hpp"

namespace hangtrue::page {

/// One of the page's files, compressed, or why not: another method, or no such file.
[[nodiscard]] Reply file_reply(const Request& request);

/// "/record/NAME.txt": the name, or empty: it cannot be one.
[[nodiscard]] std::string survey_of(std::string_view path);

}  // namespace hangtrue::page

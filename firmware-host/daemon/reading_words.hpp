// reading_words.hpp: a reading of the book in one line, for people and for programs; and how a place is named.
#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/book/book.hpp"
#include "firmware-host/sheet/format.hpp"
#include "firmware-host/sheet/readings.hpp"

namespace hangtrue::daemon {

/// "1200 mm", or "mark column" where `mark` is named.
[[nodiscard]] std::string spot_words(double at_m, const std::string& mark, sheet::Show show);

/// "level slope 3.49 mm/m at 1500 mm, face 1, edge left".
[[nodiscard]] std::string reading_words(const sheet::ReadingEntry& reading, sheet::Show show);
/// The same, and whether it counts: ", set aside: bumped".
[[nodiscard]] std::string booked_words(const book::BookedReading& booked, sheet::Show show);

/// As other programs read it in the event "taken".
[[nodiscard]] nlohmann::ordered_json reading_json(const sheet::ReadingEntry& reading, book::Number entry);

}  // namespace hangtrue::daemon

// language.hpp: sentences in the language in which a run is shown.
//
// Key      a sentence is written where it is said, in English, as a format of fmt: "{} carries {} more". That is what English readers get,
//          and the key of its German one in german.cpp, which may take the values in another order: "{1} mehr trägt {0}".
// Missing  a sentence without a German one is said in English, whole. Tests collect those.
// Not here what files, books, JSON and commands say, which is English for all: they are given a Show without a language.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "core/adjust/problem.hpp"
#include "core/quantity/channel.hpp"
#include "core/survey/reading.hpp"
#include "firmware-host/sheet/format.hpp"

namespace hangtrue::say {

struct Translation {
  std::string_view english, other;  // formats with the same places
};
/// The German ones, in no order: of cards and what all say; of rechecks; of the record; of instruments, checks and plans; of what
/// commands come to.
[[nodiscard]] std::span<const Translation> german();
[[nodiscard]] std::span<const Translation> german_recheck();
[[nodiscard]] std::span<const Translation> german_record();
[[nodiscard]] std::span<const Translation> german_kit();
[[nodiscard]] std::span<const Translation> german_answers();

/// The format for that language: the English one itself where there is no other.
[[nodiscard]] std::string_view format_in(sheet::Language language, std::string_view english);

/// The sentence with its values.
template <class... Values>
[[nodiscard]] std::string text(sheet::Show show, fmt::format_string<const Values&...> english,
                               const Values&... values) {
  const fmt::string_view key = english;
  const std::string_view format = format_in(show.language, {key.data(), key.size()});
  return fmt::vformat({format.data(), format.size()}, fmt::make_format_args(values...));
}

/// A sentence without values.
[[nodiscard]] inline std::string said(sheet::Show show, std::string_view english) {
  return std::string(format_in(show.language, english));
}

/// "a, b and c".
[[nodiscard]] std::string listed(const std::vector<std::string>& words, sheet::Show show);
/// "left", "slope", "near left".
[[nodiscard]] std::string edge_words(survey::Edge edge, sheet::Show show);
[[nodiscard]] std::string channel_words(Channel channel, sheet::Show show);
[[nodiscard]] std::string where_words(adjust::Where where, sheet::Show show);
/// A number with so many decimals: "0.25".
[[nodiscard]] std::string digits(double value, int decimals, sheet::Show show);
/// "95.0 %", "over 99.9 %".
[[nodiscard]] std::string percent(double chance, sheet::Show show);

}  // namespace hangtrue::say

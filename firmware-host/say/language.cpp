#include "firmware-host/say/language.hpp"

#include <unordered_map>

#include "firmware-host/say/words.hpp"
#include "firmware-host/sheet/number.hpp"

namespace hangtrue::say {

std::string_view format_in(sheet::Language language, std::string_view english) {
  if (language == sheet::Language::english) return english;
  static const auto by_english = [] {
    std::unordered_map<std::string_view, std::string_view> all;
    for (const auto part : {german(), german_recheck(), german_record(), german_kit(), german_answers()})
      for (const Translation& each : part) all.emplace(each.english, each.other);
    return all;
  }();
  const auto found = by_english.find(english);
  return found == by_english.end() ? english : found->second;
}

std::string listed(const std::vector<std::string>& words, sheet::Show show) {
  if (show.language == sheet::Language::english) return listed(words);
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i)
    text += (i == 0 ? "" : i + 1 == words.size() ? " und " : ", ") + words[i];
  return text;
}

std::string edge_words(survey::Edge edge, sheet::Show show) { return said(show, word(edge)); }
std::string channel_words(Channel channel, sheet::Show show) { return said(show, word(channel)); }
std::string where_words(adjust::Where where, sheet::Show show) { return said(show, word(where)); }

std::string digits(double value, int decimals, sheet::Show show) {
  return sheet::with_decimal_sign(sheet::show_number(value, decimals), show.language);
}

std::string percent(double chance, sheet::Show show) {
  if (show.language == sheet::Language::english) return percent(chance);
  if (chance > 0.999) return "über 99,9 %";
  if (chance < 0.001) return "unter 0,1 %";
  return sheet::with_decimal_sign(percent(chance), show.language);
}

}  // namespace hangtrue::say

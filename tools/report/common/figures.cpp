#include "tools/report/common/figures.hpp"

#include <algorithm>
#include <cctype>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "core/quantity/units.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::report {

namespace {

std::string without_unit(const std::string& shown) { return shown.substr(0, shown.find(' ')); }

}  // namespace

std::string Figures::place(double x_m) const { return sheet::show_place(x_m, show); }
std::string Figures::length(double length_m) const { return sheet::show_length(length_m, show); }
std::string Figures::fine(double length_m) const { return sheet::show_fine(length_m, show); }
std::string Figures::number(double length_m) const { return without_unit(fine(length_m)); }
std::string Figures::sigma(double length_m) const {
  return show.is_metric() ? fine(length_m) : plain(length_m / kInch_m, 4) + " in";
}
std::string Figures::sigma_number(double length_m) const { return without_unit(sigma(length_m)); }
std::string Figures::slope(double rad) const { return say::fine_slope_words(rad, show); }
std::string Figures::slope_number(double rad) const { return without_unit(slope(rad)); }
std::string Figures::unit() const { return show.is_metric() ? "mm" : "in"; }
std::string Figures::slope_unit() const { return show.is_metric() ? "mm/m" : "in/ft"; }

std::string Figures::value(const job::Quantity& quantity) const {
  return quantity.kind == job::QuantityKind::slope ? slope(quantity.value) : say::value(quantity, show);
}
std::string Figures::sigma_of(const job::Quantity& quantity) const {
  if (quantity.kind == job::QuantityKind::slope) return slope(quantity.sigma);
  return quantity.kind == job::QuantityKind::height ? sigma(quantity.sigma) : say::sigma(quantity, show);
}

std::string Figures::plain(double value, int digits) const { return say::digits(value, digits, show); }

std::string Figures::percentage(double share, int digits) const { return plain(100 * share, digits) + " %"; }

std::string Figures::p_words(double p) const { return p < 0.001 ? said("below 0.001") : plain(p, 3); }

std::string minute_of(const std::string& time) {
  std::string text = time.substr(0, 16);
  std::replace(text.begin(), text.end(), 'T', ' ');
  return text;
}

std::string typeset(std::string words) {
  for (std::size_t at = 0; (at = words.find(" +- ", at)) != std::string::npos; ++at)
    words.replace(at, 4, " \xC2\xB1 ");
  return words;
}

std::string upper(std::string text) {
  for (char& c : text) c = char(std::toupper(static_cast<unsigned char>(c)));
  for (const auto& [small, large] :
       {std::pair{"\xC3\xA4", "\xC3\x84"}, {"\xC3\xB6", "\xC3\x96"}, {"\xC3\xBC", "\xC3\x9C"}})
    for (std::size_t at = 0; (at = text.find(small, at)) != std::string::npos;) text.replace(at, 2, large);
  return text;
}

std::string listed(const std::vector<std::string>& texts) {
  return fmt::format("{}", fmt::join(texts, ", "));
}

}  // namespace hangtrue::report

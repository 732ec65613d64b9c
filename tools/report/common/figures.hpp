// figures.hpp: figures as tables and sentences of the documents show them, in the units of the sheet.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/job/quantity.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/sheet/format.hpp"

namespace hangtrue::report {

inline constexpr double k95 =
    1.959964;  // of a normal distribution, two-sided: a 95 % band in standard deviations

struct Figures {
  sheet::Show show = sheet::Show::metric;

  /// A sentence in the language of the sheet; likewise with its values.
  [[nodiscard]] std::string said(std::string_view english) const { return say::said(show, english); }
  template <class... Values>
  [[nodiscard]] std::string text(fmt::format_string<const Values&...> english,
                                 const Values&... values) const {
    return say::text(show, english, values...);
  }
  /// "4200 mm", "13 ft 9 3/8 in".
  [[nodiscard]] std::string place(double x_m) const;
  /// "1.25 mm", "-1 3/32 in".
  [[nodiscard]] std::string length(double length_m) const;
  /// "0.042 mm", "0.002 in"; and without its unit.
  [[nodiscard]] std::string fine(double length_m) const;
  [[nodiscard]] std::string number(double length_m) const;
  /// A sigma of a length: in inches to one digit more; and without its unit.
  [[nodiscard]] std::string sigma(double length_m) const;
  [[nodiscard]] std::string sigma_number(double length_m) const;
  /// "0.125 mm/m", "0.00150 in/ft"; and without its unit.
  [[nodiscard]] std::string slope(double rad) const;
  [[nodiscard]] std::string slope_number(double rad) const;
  /// What is left out: "mm", "in"; "mm/m", "in/ft".
  [[nodiscard]] std::string unit() const;
  [[nodiscard]] std::string slope_unit() const;
  /// A quantity in the unit of its kind, as fine as above; and its sigma.
  [[nodiscard]] std::string value(const job::Quantity& quantity) const;
  [[nodiscard]] std::string sigma_of(const job::Quantity& quantity) const;
  /// A bare number with so many decimals.
  [[nodiscard]] std::string plain(double value, int digits) const;
  /// "95 %" of 0.95.
  [[nodiscard]] std::string percentage(double share, int digits = 0) const;
  /// "0.023", "below 0.001".
  [[nodiscard]] std::string p_words(double p) const;
};

/// "2026-09-14 08:30" of an RFC 3339 time.
[[nodiscard]] std::string minute_of(const std::string& time);
/// A sentence of say with a true plus-minus sign.
[[nodiscard]] std::string typeset(std::string words);
[[nodiscard]] std::string upper(std::string text);
/// "A, B, C".
[[nodiscard]] std::string listed(const std::vector<std::string>& texts);

}  // namespace hangtrue::report

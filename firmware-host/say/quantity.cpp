#include "firmware-host/say/quantity.hpp"

#include <cmath>
#include <cstdlib>

#include <fmt/format.h>

#include "core/quantity/units.hpp"
#include "firmware-host/say/language.hpp"

namespace hangtrue::say {

namespace {

// Without a minus before zeros alone.
std::string give_words(double number, int digits, const char* unit, sheet::Show show) {
  if (std::abs(number) < 0.5 * std::pow(10, -digits)) number = 0;
  return sheet::with_decimal_sign(fmt::format("{:.{}f}", number, digits), show.language) + ' ' + unit;
}

std::string shown(job::QuantityKind kind, double number, sheet::Show show) {
  switch (kind) {
    case job::QuantityKind::height:
      return sheet::show_fine(number, show);
    case job::QuantityKind::slope:
      return sheet::show_slope(number, show);
    case job::QuantityKind::factor:
    case job::QuantityKind::log_factor:
      return text(show, "{} times", sheet::with_decimal_sign(fmt::format("{:.3f}", number), show.language));
    case job::QuantityKind::give:
      return show.is_metric() ? give_words(number * 1e6, 3, "mm/kN", show)
                              : give_words(number * kPoundForce_N * 1000 / kInch_m, 4, "in/kip", show);
    case job::QuantityKind::turning_give:
      return show.is_metric()
                 ? give_words(number * 1e6, 2, "mrad/kNm", show)
                 : give_words(number * (180 / kPi) * kPoundForce_N * 1000 * kFoot_m, 2, "deg/kip-ft", show);
    case job::QuantityKind::weight:
      return show.is_metric() ? give_words(number / kGravity_m_per_s2, 1, "kg", show)
                              : give_words(number / kPoundForce_N, 1, "lb", show);
    case job::QuantityKind::share:
      return give_words(100 * number, 1, "%", show);
  }
  std::abort();  // every enumerator stands above
}

}  // namespace

std::string value(const job::Quantity& quantity, sheet::Show show) {
  const bool log = quantity.kind == job::QuantityKind::log_factor;
  return shown(quantity.kind, log ? std::exp(quantity.value) : quantity.value, show);
}

std::string sigma(const job::Quantity& quantity, sheet::Show show) {
  const bool log = quantity.kind == job::QuantityKind::log_factor;
  return shown(quantity.kind, log ? quantity.sigma * std::exp(quantity.value) : quantity.sigma, show);
}

std::string value_and_sigma(const job::Quantity& quantity, sheet::Show show) {
  return value(quantity, show) + " +- " + sigma(quantity, show);
}

}  // namespace hangtrue::say

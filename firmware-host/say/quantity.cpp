#include "firmware-host/say/quantity.hpp"

#include <cmath>
#include <cstdlib>

#include <fmt/format.h>

namespace hangtrue::say {

namespace {

std::string shown(job::QuantityKind kind, double number, sheet::Show show) {
  switch (kind) {
    case job::QuantityKind::height:
      return sheet::show_fine(number, show);
    case job::QuantityKind::slope:
      return sheet::show_slope(number, show);
    case job::QuantityKind::factor:
    case job::QuantityKind::log_factor:
      return fmt::format("{:.3f} times", number);
    case job::QuantityKind::share:
      return fmt::format("{:.1f} %", 100 * number);
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

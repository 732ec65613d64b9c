#include "firmware-host/sheet/threads.hpp"

#include <array>
#include <cmath>

#include "core/quantity/units.hpp"

namespace hangtrue::sheet {
namespace {

struct MetricThread {
  int diameter_mm;
  double coarse_mm;
};
// ISO 261, from memory.
constexpr std::array kMetric = {
    MetricThread{3, 0.5},  MetricThread{4, 0.7},  MetricThread{5, 0.8},  MetricThread{6, 1},
    MetricThread{7, 1},    MetricThread{8, 1.25}, MetricThread{10, 1.5}, MetricThread{12, 1.75},
    MetricThread{14, 2},   MetricThread{16, 2},   MetricThread{18, 2.5}, MetricThread{20, 2.5},
    MetricThread{22, 2.5}, MetricThread{24, 3},   MetricThread{27, 3},   MetricThread{30, 3.5},
    MetricThread{33, 3.5}, MetricThread{36, 4},
};

struct InchThread {
  std::string_view size;
  int coarse, fine;  // threads an inch, UNC and UNF
};
// ASME B1.1, from memory.
constexpr std::array kInch = {
    InchThread{"6", 32, 40},    InchThread{"8", 32, 36},    InchThread{"10", 24, 32},
    InchThread{"1/4", 20, 28},  InchThread{"5/16", 18, 24}, InchThread{"3/8", 16, 24},
    InchThread{"7/16", 14, 20}, InchThread{"1/2", 13, 20},  InchThread{"9/16", 12, 18},
    InchThread{"5/8", 11, 18},  InchThread{"3/4", 10, 16},  InchThread{"7/8", 9, 14},
    InchThread{"1", 8, 12},     InchThread{"1 1/8", 7, 12}, InchThread{"1 1/4", 7, 12},
};

std::string without(std::string_view text, std::string_view left_out) {
  std::string kept;
  for (const char c : text)
    if (left_out.find(c) == std::string_view::npos) kept += c;
  return kept;
}

// What stands behind the M, blanks left out: "12", "12x1.25".
Result<double, QuantityFault> metric(const std::string& name) {
  const std::size_t times = name.find_first_of("xX");
  const auto diameter = parse_number(std::string_view(name).substr(0, times));
  if (!diameter.ok()) return QuantityFault{};
  for (const MetricThread& thread : kMetric) {
    if (diameter.value() != thread.diameter_mm) continue;
    if (times == std::string::npos) return thread.coarse_mm * 1e-3;
    const auto pitch = parse_number(std::string_view(name).substr(times + 1));
    if (!pitch.ok()) return QuantityFault{pitch.fault().what};
    if (pitch.value() > 0 && pitch.value() <= thread.coarse_mm) return pitch.value() * 1e-3;
    return QuantityFault{"M" + std::to_string(thread.diameter_mm) +
                         " has no pitch above its coarse one, which ISO 261 gives"};
  }
  return QuantityFault{"no size of ISO 261 from M3 to M36"};
}

Result<double, QuantityFault> inch(std::string_view text) {
  enum class Series { either, coarse, fine } series = Series::either;
  if (text.ends_with("UNC")) series = Series::coarse;
  if (text.ends_with("UNF")) series = Series::fine;
  if (series != Series::either) text.remove_suffix(3);
  while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  const std::string name = without(text, "#\"");
  const std::size_t dash = name.rfind('-');
  std::string size = name.substr(0, dash);
  for (char& c : size)
    if (c == '-') c = ' ';  // "1-1/8-7"
  if (series == Series::either && dash == std::string::npos) return QuantityFault{};
  for (const InchThread& thread : kInch) {
    if (size != thread.size) continue;
    const std::string coarse = std::to_string(thread.coarse), fine = std::to_string(thread.fine);
    const std::string threads =
        dash == std::string::npos ? (series == Series::fine ? fine : coarse) : name.substr(dash + 1);
    if (threads == coarse && series != Series::fine) return kInch_m / thread.coarse;
    if (threads == fine && series != Series::coarse) return kInch_m / thread.fine;
    return QuantityFault{"of size " + std::string(thread.size) + " ASME B1.1 has " + coarse + " (UNC) and " +
                         fine + " (UNF) threads an inch"};
  }
  return series == Series::either ? QuantityFault{}
                                  : QuantityFault{"no size of ASME B1.1 from #6 to 1 1/4 in"};
}

}  // namespace

Result<double, QuantityFault> parse_thread(std::string_view text) {
  std::string plain = without(text, "\t");
  for (std::size_t at; (at = plain.find("\xC3\x97")) != std::string::npos;) plain.replace(at, 2, "x");
  if (!plain.empty() && plain.front() == 'M') return metric(without(std::string_view(plain).substr(1), " "));
  return inch(plain);
}

std::optional<double> read_thread(Walk& table) {
  constexpr const char* kExpected =
      "what one turn moves, such as \"1.75 mm\", or the thread's name, such as \"M12\" or \"1/2-13 UNC\"";
  const toml::node* const node = table.node("thread", Need::required, kExpected);
  if (node == nullptr) return std::nullopt;
  if (const auto* const text = node->as_string()) {
    const auto named = parse_thread(text->get());
    if (named.ok()) return named.value();
    const auto length = parse_quantity(text->get(), Kind::length);
    if (length.ok() && length.value() > 0) return length.value();
    std::string why = named.fault().what;
    if (why.empty() && !length.ok()) why = length.fault().what;
    table.complain("thread", in_quotes(text->get()) + (why.empty() ? "" : " (" + why + ")"), kExpected);
    return std::nullopt;
  }
  table.complain("thread", kExpected);
  return std::nullopt;
}

}  // namespace hangtrue::sheet

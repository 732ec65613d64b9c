#include "firmware-host/say/table.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>

namespace hangtrue::say {

namespace {

double interpolated(const Curve& curve, double x) {
  if (curve.at_m.empty()) return 0;
  const auto after = std::lower_bound(curve.at_m.begin(), curve.at_m.end(), x);
  if (after == curve.at_m.begin()) return curve.height_m.front();
  if (after == curve.at_m.end()) return curve.height_m.back();
  const auto i = std::size_t(after - curve.at_m.begin());
  const double span = curve.at_m[i] - curve.at_m[i - 1];
  const double part = span > 0 ? (x - curve.at_m[i - 1]) / span : 0;
  return curve.height_m[i - 1] + part * (curve.height_m[i] - curve.height_m[i - 1]);
}

}  // namespace

std::string right_set(std::string text, std::size_t width) {
  if (text.size() < width) text.insert(0, width - text.size(), ' ');
  return text;
}

std::string column(const std::string& text, std::size_t width) {
  std::string result = text.size() < width ? text : text.substr(0, width - 2) + "~";
  result.resize(std::max(result.size(), width), ' ');
  return result;
}

std::string in_capitals(std::string text) {
  for (char& letter : text) letter = char(std::toupper(static_cast<unsigned char>(letter)));
  return text;
}

std::string heading(const std::string& text) {
  return text + '\n' + std::string(std::min(text.size(), kColumns), '-') + '\n';
}

std::string folded(const std::string& text, std::size_t indent) {
  std::size_t start = std::min(text.find_first_not_of(' '), text.size());
  std::string result, line(start, ' ');
  bool first = true;
  while (start < text.size()) {
    const std::size_t end = std::min(text.find(' ', start), text.size());
    const std::string word = text.substr(start, end - start);
    if (!first && line.size() + 1 + word.size() > kColumns) {
      result += line + '\n';
      line = std::string(indent, ' ') + word;
    } else {
      line += (first ? "" : " ") + word;
    }
    first = false;
    start = end + 1;
  }
  return result + line + '\n';
}

bool is_engaged(const sheet::RunSheet& run, std::size_t support, int stage,
                const std::vector<std::string>& hang_free) {
  return run.beam_stages[std::size_t(stage)].lists_support(int(support)) &&
         std::find(hang_free.begin(), hang_free.end(), run.supports[support].name) == hang_free.end();
}

std::string profile(const sheet::RunSheet& run, const std::vector<Curve>& curves, int stage,
                    const std::vector<std::string>& hang_free) {
  constexpr int kWide = 62, kHigh = 11;
  double low = 0, high = 0;
  bool first = true;
  for (const Curve& curve : curves)
    for (const double z : curve.height_m) {
      low = first ? z : std::min(low, z);
      high = first ? z : std::max(high, z);
      first = false;
    }
  if (first) return "";
  if (high - low < 1e-6) high = low + 1e-6;
  std::vector<std::string> rows(kHigh, std::string(kWide, ' '));
  for (const Curve& curve : curves)
    for (int c = 0; c < kWide; ++c) {
      const double z = interpolated(curve, run.length_m * c / (kWide - 1));
      const int r = int(std::lround((high - z) / (high - low) * (kHigh - 1)));
      rows[std::size_t(std::clamp(r, 0, kHigh - 1))][std::size_t(c)] = curve.mark;
    }

  std::string text;
  for (int r = 0; r < kHigh; ++r) {
    std::string scale;
    if (r == 0) scale = sheet::show_fine(high, run.show);
    if (r == kHigh - 1) scale = sheet::show_fine(low, run.show);
    text += right_set(scale, 14) + " |" + rows[std::size_t(r)] + '\n';
  }
  std::string axis(kWide, '-');
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    const int c = int(std::lround(run.beam_supports[i].at_m / run.length_m * (kWide - 1)));
    auto at = std::size_t(std::clamp(c, 0, kWide - 1));
    if (axis[at] != '-') {  // side by side: each its letter
      const std::size_t right = axis.find('-', at);
      at = right != std::string::npos ? right : axis.rfind('-', at);
    }
    axis[at] = char((is_engaged(run, i, stage, hang_free) ? 'A' : 'a') + int(i));
  }
  text += std::string(15, ' ') + '+' + axis + '\n';
  // A row of text is about twice as high as a column is wide.
  const double factor = (run.length_m / kWide) / ((high - low) / (kHigh - 1)) * 2;
  std::string legend =
      "Heights drawn " + std::to_string(std::max(1L, std::lround(factor))) + " times too tall.";
  for (const Curve& curve : curves) legend += std::string("  ") + curve.mark + ' ' + curve.label + '.';
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    legend += is_engaged(run, i, stage, hang_free)
                  ? std::string("  ") + char('A' + int(i)) + ' ' + run.supports[i].name + '.'
                  : std::string("  ") + char('a' + int(i)) + ' ' + run.supports[i].name + " (not engaged).";
  return text + folded(legend, 2);
}

}  // namespace hangtrue::say

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

namespace {

constexpr int kWide = 62, kHigh = 11;  // of a drawing

/// Rows of characters over the run's length and a stretch of heights.
class Canvas {
 public:
  Canvas(double length_m, double low_m, double high_m)
      : length_m_(length_m), low_m_(low_m), high_m_(std::max(high_m, low_m + 1e-6)) {}

  void curve(const Curve& curve) {
    for (int c = 0; c < kWide; ++c)
      cell(row(interpolated(curve, length_m_ * c / (kWide - 1))), c) = curve.mark;
  }
  void line(double height_m) {
    for (int c = 0; c < kWide; c += 2) cell(row(height_m), c) = '-';
  }
  void point(const Overlay::Point& point) { cell(row(point.height_m), column(point.at_m)) = point.mark; }

  [[nodiscard]] int row(double height_m) const {
    const double down = (high_m_ - height_m) / (high_m_ - low_m_) * (kHigh - 1);
    return std::clamp(int(std::lround(down)), 0, kHigh - 1);
  }
  [[nodiscard]] int column(double at_m) const {
    return std::clamp(int(std::lround(at_m / length_m_ * (kWide - 1))), 0, kWide - 1);
  }
  [[nodiscard]] const std::string& text(int row) const { return rows_[std::size_t(row)]; }
  /// A row of text is about twice as high as a column is wide.
  [[nodiscard]] double times_too_tall() const {
    return (length_m_ / kWide) / ((high_m_ - low_m_) / (kHigh - 1)) * 2;
  }

 private:
  char& cell(int row, int column) { return rows_[std::size_t(row)][std::size_t(column)]; }

  double length_m_, low_m_, high_m_;
  std::vector<std::string> rows_ = std::vector<std::string>(kHigh, std::string(kWide, ' '));
};

// The letter of each support where it stands; side by side each its own.
std::string supports_axis(const sheet::RunSheet& run, const Canvas& canvas, int stage,
                          const std::vector<std::string>& hang_free) {
  std::string axis(kWide, '-');
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    auto at = std::size_t(canvas.column(run.beam_supports[i].at_m));
    if (axis[at] != '-') {
      const std::size_t right = axis.find('-', at);
      at = right != std::string::npos ? right : axis.rfind('-', at);
    }
    axis[at] = char((is_engaged(run, i, stage, hang_free) ? 'A' : 'a') + int(i));
  }
  return axis;
}

// Side by side as long as they fit, so that no mark parts from its words.
std::string rows_of(const std::vector<std::string>& items) {
  std::string text, line;
  for (const std::string& item : items) {
    if (!line.empty() && line.size() + 2 + item.size() > kColumns) {
      text += folded(line, 4);
      line.clear();
    }
    line += (line.empty() ? (text.empty() ? "" : "  ") : "  ") + item;
  }
  return text + folded(line, 4);
}

}  // namespace

std::string profile(const sheet::RunSheet& run, const std::vector<Curve>& curves, int stage,
                    const std::vector<std::string>& hang_free, const Overlay& over) {
  std::vector<double> heights;
  for (const Curve& curve : curves)
    heights.insert(heights.end(), curve.height_m.begin(), curve.height_m.end());
  if (heights.empty()) return "";
  for (const Overlay::Point& point : over.points) heights.push_back(point.height_m);
  if (over.band) heights.insert(heights.end(), {over.band->low_m, over.band->high_m});
  const auto [low, high] = std::minmax_element(heights.begin(), heights.end());
  Canvas canvas(run.length_m, *low, *high);
  std::vector<std::string> scale(kHigh);
  const auto number = [&](double height_m) {
    scale[std::size_t(canvas.row(height_m))] = sheet::show_fine(height_m, run.show);
  };
  if (over.band)
    for (const double edge : {over.band->low_m, over.band->high_m}) {
      canvas.line(edge);
      number(edge);
    }
  number(*high);
  number(*low);
  for (const Curve& curve : curves) canvas.curve(curve);
  for (const Overlay::Point& point : over.points) canvas.point(point);

  std::string text;
  for (int r = 0; r < kHigh; ++r) text += right_set(scale[std::size_t(r)], 14) + " |" + canvas.text(r) + '\n';
  text += std::string(15, ' ') + '+' + supports_axis(run, canvas, stage, hang_free) + '\n';
  const auto marked = [](char mark, const std::string& label) {
    return std::string(1, mark) + ' ' + label + '.';
  };
  std::vector<std::string> legend{"Heights drawn " +
                                  std::to_string(std::max(1L, std::lround(canvas.times_too_tall()))) +
                                  " times too tall."};
  for (const Curve& curve : curves) legend.push_back(marked(curve.mark, curve.label));
  for (const Overlay::Point& point : over.points) legend.push_back(marked(point.mark, point.label));
  if (over.band) legend.push_back("- - " + over.band->label + '.');
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    legend.push_back(is_engaged(run, i, stage, hang_free)
                         ? marked(char('A' + int(i)), run.supports[i].name)
                         : marked(char('a' + int(i)), run.supports[i].name + " (not engaged)"));
  return text + rows_of(legend);
}

}  // namespace hangtrue::say

// text.hpp: lines of text by Pango, in points, the same on paper and on a screen.
#pragma once

#include <pango/pangocairo.h>

#include <memory>
#include <string>
#include <vector>

#include "tools/report/layout/style.hpp"

namespace hangtrue::report {

/// A text broken into lines.
class Text {
 public:
  Text() = default;
  /// `width` 0: one line, as long as the text is. The first `lead` bytes are bold.
  Text(PangoContext* context, const std::string& text, Style style, double width = 0,
       Align align = Align::left, std::size_t lead = 0);

  [[nodiscard]] int lines() const;
  [[nodiscard]] double width() const;
  /// Of lines from ... to - 1; to < 0: of all lines from `from` on.
  [[nodiscard]] double height(int from = 0, int to = -1) const;
  /// How many lines from `from` on fit into that height.
  [[nodiscard]] int fitting(int from, double height) const;
  /// The top of line `from` at y.
  void draw(cairo_t* cairo, double x, double y, int from = 0, int to = -1) const;

 private:
  struct Line {
    double top, bottom, baseline, x;
  };
  std::shared_ptr<PangoLayout> layout_;
  std::vector<Line> lines_;
  double width_ = 0;
};

/// Width of the longest word.
[[nodiscard]] double longest_word(PangoContext* context, const std::string& text, Style style);

}  // namespace hangtrue::report

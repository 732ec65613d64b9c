// text.hpp: lines of text by Pango, in points, the same on paper and on a screen.
#pragma once

#include <pango/pangocairo.h>

#include <memory>
#include <string>
#include <vector>

#include "tools/report/document.hpp"

namespace hangtrue::report {

struct Style {
  double size = 9;
  bool bold = false, italic = false;
};

/// A text broken into lines.
class Text {
 public:
  Text() = default;
  /// `width` 0: one line, as long as it comes. The first `lead` bytes are bold.
  Text(PangoContext* context, const std::string& text, Style style, double width = 0,
       Align align = Align::left, std::size_t lead = 0);

  [[nodiscard]] int lines() const;
  [[nodiscard]] double width() const;
  /// Of lines from ... to - 1; to < 0: all from there.
  [[nodiscard]] double height(int from = 0, int to = -1) const;
  /// How many lines from there on are no higher than `height` together.
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

/// The length of its longest word on one line.
[[nodiscard]] double longest_word(PangoContext* context, const std::string& text, Style style);

}  // namespace hangtrue::report

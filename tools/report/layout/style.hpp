// style.hpp: how a text is set. Sizes in points, 1/72 in.
#pragma once

namespace hangtrue::report {

inline constexpr const char* kFont = "Open Sans";
inline constexpr const char* kFontPackage = "fonts-open-sans";

enum class Align { left, right, centre };

struct Style {
  double size = 9;
  bool bold = false, italic = false;
};

}  // namespace hangtrue::report

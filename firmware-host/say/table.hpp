// table.hpp: the layout of plain text: columns, headings, folded lines and a drawn profile, within 80 columns.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::say {

inline constexpr std::size_t kColumns = 80;

/// One line of a drawing: heights over places, drawn with its mark. Later curves lie over earlier ones.
struct Curve {
  char mark;
  std::string label;
  std::vector<double> at_m, height_m;
};

/// Whether that support holds the run at a stage: it is listed there, and is not among those that hang free.
[[nodiscard]] bool is_engaged(const sheet::RunSheet& run, std::size_t support, int stage,
                              const std::vector<std::string>& hang_free);

/// What lies over the curves of a drawing: places of single points, and a band between two heights, drawn as broken lines.
struct Overlay {
  struct Point {
    char mark;
    std::string label;
    double at_m, height_m;
  };
  struct Band {
    std::string label;
    double low_m, high_m;
  };
  std::vector<Point> points;
  std::optional<Band> band;
};

/// The curves seen from the side, heights exaggerated by the factor it states; supports below as letters, those that are not
/// engaged at `stage` as small ones.
[[nodiscard]] std::string profile(const sheet::RunSheet& run, const std::vector<Curve>& curves, int stage,
                                  const std::vector<std::string>& hang_free = {}, const Overlay& over = {});

/// For tables: set to the right of a column; a name that may be long, cut where its column ends; a line underlined.
[[nodiscard]] std::string right_set(std::string text, std::size_t width);
[[nodiscard]] std::string column(const std::string& text, std::size_t width);
[[nodiscard]] std::string heading(const std::string& text);

/// In capitals, as the answer at the top of a card stands: "READY TO BOLT". ASCII alone.
[[nodiscard]] std::string in_capitals(std::string text);

/// Folds at spaces to kColumns; continued lines begin with `indent` spaces.
[[nodiscard]] std::string folded(const std::string& text, std::size_t indent = 0);

}  // namespace hangtrue::say

// flow.hpp: what is to be drawn, page by page, as it runs down them.
//
// Place   `y` is where the next piece begins, in points from the top of the page. A piece draws by put(), draw() or flow()
//         and moves `y` below itself.
// Errors  throws Unset (pages.hpp) where the font is missing.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "tools/report/layout/document.hpp"
#include "tools/report/layout/text.hpp"

namespace hangtrue::report {

/// Top of the text on every page.
inline constexpr double kTop = 66;

using Drawing = std::function<void(cairo_t*)>;

class Flow {
 public:
  Flow(Paper paper, double text_pt);
  Flow(const Flow&) = delete;
  Flow& operator=(const Flow&) = delete;

  const double paper_width, paper_height, left, right, bottom;
  const double size;  // of the text
  double y = kTop;

  [[nodiscard]] PangoContext* context() const { return context_.get(); }
  [[nodiscard]] Text text(const std::string& what, Style style, double width = 0, Align align = Align::left,
                          std::size_t lead = 0) const {
    return Text(context(), what, style, width, align, lead);
  }
  /// Cut at its end, with an ellipsis, where it is wider than `most`.
  [[nodiscard]] Text one_line(const std::string& what, Style style, double most) const;

  [[nodiscard]] double width() const { return right - left; }
  [[nodiscard]] double room() const { return bottom - y; }
  [[nodiscard]] bool at_top() const { return y <= kTop; }
  [[nodiscard]] const std::vector<std::vector<Drawing>>& pages() const { return pages_; }

  /// On the page as it is. What a drawing refers to must live as long as this Flow.
  void draw(Drawing drawing) { pages_.back().push_back(std::move(drawing)); }
  void draw_on(std::size_t page, Drawing drawing) { pages_[page].push_back(std::move(drawing)); }
  void new_page();
  /// A new page where less than that is left.
  void need(double height);
  /// Left free, but at the top of a page.
  void space(double height);
  /// Draws at `y` and leaves `y` there.
  void put(const Text& block, double x);
  /// Lines that may go over to the next page.
  void flow(const Text& block, double x);

 private:
  std::shared_ptr<PangoContext> context_;
  std::vector<std::vector<Drawing>> pages_;
};

}  // namespace hangtrue::report

#include "tools/report/layout/flow.hpp"

#include <algorithm>

#include "tools/report/layout/pages.hpp"

namespace hangtrue::report {

namespace {

// Left a wider margin, for filing.
constexpr double kLeft = 60, kRight = 46, kBottom = 54;

void check_font(PangoContext* context) {
  PangoFontDescription* const wanted = pango_font_description_from_string(kFont);
  PangoFont* const font = pango_context_load_font(context, wanted);
  std::string found;
  if (font != nullptr) {
    PangoFontDescription* const is = pango_font_describe(font);
    found = pango_font_description_get_family(is);
    pango_font_description_free(is);
    g_object_unref(font);
  }
  pango_font_description_free(wanted);
  if (found != kFont)
    throw Unset(std::string("the font \"") + kFont + "\" is missing; install " + kFontPackage);
}

/// Without hinting, so that lines break alike on paper and on a screen.
std::shared_ptr<PangoContext> make_context() {
  PangoFontMap* const fonts = pango_cairo_font_map_get_default();
  std::shared_ptr<PangoContext> context(pango_font_map_create_context(fonts),
                                        [](PangoContext* it) { g_object_unref(it); });
  check_font(context.get());
  cairo_font_options_t* const options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
  pango_cairo_context_set_font_options(context.get(), options);
  cairo_font_options_destroy(options);
  pango_cairo_context_set_resolution(context.get(), 72);
  pango_context_set_round_glyph_positions(context.get(), FALSE);
  pango_context_set_language(context.get(), pango_language_from_string("en"));
  return context;
}

}  // namespace

Flow::Flow(Paper paper, double text_pt)
    : paper_width(paper == Paper::a4 ? 595.276 : 612),
      paper_height(paper == Paper::a4 ? 841.89 : 792),
      left(kLeft),
      right(paper_width - kRight),
      bottom(paper_height - kBottom),
      size(text_pt),
      context_(make_context()) {
  new_page();
}

Text Flow::one_line(const std::string& what, Style style, double most) const {
  Text whole = text(what, style);
  if (whole.width() <= most) return whole;
  const std::string ellipsis = "\xE2\x80\xA6";
  std::string cut = what;
  while (!cut.empty() && text(cut + ellipsis, style).width() > most) {
    // A letter of UTF-8: its continuing bytes, then the first.
    do cut.pop_back();
    while (!cut.empty() && (static_cast<unsigned char>(cut.back()) & 0xC0) == 0x80);
    if (!cut.empty() && static_cast<unsigned char>(cut.back()) >= 0xC0) cut.pop_back();
  }
  return text(cut + ellipsis, style);
}

void Flow::new_page() {
  pages_.emplace_back();
  y = kTop;
}

void Flow::need(double height) {
  if (room() < height && !at_top()) new_page();
}

void Flow::space(double height) {
  if (!at_top()) y += height;
}

void Flow::put(const Text& block, double x) {
  draw([block, x, at = y](cairo_t* cairo) { block.draw(cairo, x, at); });
}

void Flow::flow(const Text& block, double x) {
  for (int from = 0; from < block.lines();) {
    int count = block.fitting(from, room());
    const int left_over = block.lines() - from - count;
    // No line alone at the foot of a page or at the head of the next.
    if (left_over == 1 && count > 2) --count;
    const bool too_few = count < 2 || (left_over == 1 && count == 2);
    if (left_over > 0 && too_few && !at_top()) {
      new_page();
      continue;
    }
    count = std::max(count, 1);
    draw([block, x, at = y, from, count](cairo_t* cairo) { block.draw(cairo, x, at, from, from + count); });
    y += block.height(from, from + count);
    from += count;
  }
}

}  // namespace hangtrue::report

#include "tools/report/layout/text.hpp"

#include <algorithm>

namespace hangtrue::report {

namespace {

// Names come from sheets and books: bytes that are no UTF-8 and control characters must not break the page.
std::string printable(const std::string& text) {
  std::string result = text;
  if (!g_utf8_validate(text.data(), gssize(text.size()), nullptr)) {
    gchar* const valid = g_utf8_make_valid(text.data(), gssize(text.size()));
    result = valid;
    g_free(valid);
  }
  for (char& c : result)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = ' ';
  return result;
}

}  // namespace

Text::Text(PangoContext* context, const std::string& text, Style style, double width, Align align,
           std::size_t lead)
    : layout_(pango_layout_new(context), [](PangoLayout* layout) { g_object_unref(layout); }) {
  PangoLayout* const layout = layout_.get();
  PangoFontDescription* const font = pango_font_description_new();
  pango_font_description_set_family(font, kFont);
  pango_font_description_set_absolute_size(font, style.size * PANGO_SCALE);
  if (style.bold) pango_font_description_set_weight(font, PANGO_WEIGHT_BOLD);
  if (style.italic) pango_font_description_set_style(font, PANGO_STYLE_ITALIC);
  pango_layout_set_font_description(layout, font);
  pango_font_description_free(font);
  if (lead > 0) {
    PangoAttrList* const attributes = pango_attr_list_new();
    PangoAttribute* const bold = pango_attr_weight_new(PANGO_WEIGHT_BOLD);
    bold->start_index = 0;
    bold->end_index = guint(lead);
    pango_attr_list_insert(attributes, bold);
    pango_layout_set_attributes(layout, attributes);
    pango_attr_list_unref(attributes);
  }
  const std::string shown = printable(text);
  pango_layout_set_text(layout, shown.data(), int(shown.size()));
  pango_layout_set_alignment(layout, align == Align::right    ? PANGO_ALIGN_RIGHT
                                     : align == Align::centre ? PANGO_ALIGN_CENTER
                                                              : PANGO_ALIGN_LEFT);
  if (width > 0) {
    pango_layout_set_width(layout, int(width * PANGO_SCALE));
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
  }
  PangoLayoutIter* const at = pango_layout_get_iter(layout);
  do {
    PangoRectangle around;
    pango_layout_iter_get_line_extents(at, nullptr, &around);
    lines_.push_back({double(around.y) / PANGO_SCALE, double(around.y + around.height) / PANGO_SCALE,
                      double(pango_layout_iter_get_baseline(at)) / PANGO_SCALE,
                      double(around.x) / PANGO_SCALE});
    width_ = std::max(width_, double(around.width) / PANGO_SCALE);
  } while (pango_layout_iter_next_line(at));
  pango_layout_iter_free(at);
}

int Text::lines() const { return int(lines_.size()); }
double Text::width() const { return width_; }

double Text::height(int from, int to) const {
  if (to < 0) to = lines();
  return from < to ? lines_[std::size_t(to) - 1].bottom - lines_[std::size_t(from)].top : 0;
}

int Text::fitting(int from, double height) const {
  int count = 0;
  while (from + count < lines() && this->height(from, from + count + 1) <= height + 1e-6) ++count;
  return count;
}

void Text::draw(cairo_t* cairo, double x, double y, int from, int to) const {
  if (to < 0) to = lines();
  for (int i = from; i < to; ++i) {
    const Line& line = lines_[std::size_t(i)];
    cairo_move_to(cairo, x + line.x, y + line.baseline - lines_[std::size_t(from)].top);
    pango_cairo_show_layout_line(cairo, pango_layout_get_line_readonly(layout_.get(), i));
  }
}

double longest_word(PangoContext* context, const std::string& text, Style style) {
  double longest = 0;
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t end = std::min(text.find(' ', start), text.size());
    if (end > start)
      longest = std::max(longest, Text(context, text.substr(start, end - start), style).width());
    start = end + 1;
  }
  return longest;
}

}  // namespace hangtrue::report

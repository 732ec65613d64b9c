#include "tools/report/page.hpp"

#include <cairo-pdf.h>
#include <cairo-svg.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>

#include "tools/report/chart.hpp"

#ifdef __SANITIZE_ADDRESS__
// Fontconfig refers to what it keeps by offsets, which a search for pointers takes for leaks.
extern "C" const char* __lsan_default_suppressions();
extern "C" const char* __lsan_default_suppressions() { return "leak:libfontconfig\n"; }
#endif

namespace hangtrue::report {

namespace {

// Left a wider margin, for filing.
constexpr double kLeft = 60, kRight = 46, kTop = 66, kBottom = 54, kHead = 38;
constexpr double kPadding = 4.5;  // on both sides of a cell

using Drawing = std::function<void(cairo_t*)>;
struct Mark {  // of the outline
  std::string text;
  int level, page;
  double y;
};

void grey(cairo_t* cairo, double level) { cairo_set_source_rgb(cairo, level, level, level); }
void rule(cairo_t* cairo, double from, double to, double y, double weight, double level = 0) {
  grey(cairo, level);
  cairo_set_dash(cairo, nullptr, 0, 0);
  cairo_set_line_cap(cairo, CAIRO_LINE_CAP_BUTT);
  cairo_set_line_width(cairo, weight);
  cairo_move_to(cairo, from, y);
  cairo_line_to(cairo, to, y);
  cairo_stroke(cairo);
  grey(cairo, 0);
}
void draw_code(cairo_t* cairo, const book::QrCode& code, double x, double y, double side) {
  const double module = side / (code.side + 2 * book::QrCode::kQuiet);
  for (int row = 0; row < code.side; ++row)
    for (int column = 0; column < code.side; ++column)
      if (code.is_dark(row, column))
        cairo_rectangle(cairo, x + (column + book::QrCode::kQuiet) * module,
                        y + (row + book::QrCode::kQuiet) * module, module, module);
  cairo_set_antialias(cairo, CAIRO_ANTIALIAS_NONE);  // no light seams between modules
  cairo_fill(cairo);
  cairo_set_antialias(cairo, CAIRO_ANTIALIAS_DEFAULT);
}

}  // namespace

struct Pages::Work {
  const Document document;
  const double paper_width, paper_height, left, right, bottom, size;
  std::shared_ptr<PangoContext> context;
  std::vector<std::vector<Drawing>> pages;
  std::vector<Mark> outline;
  double y = 0;
  int section = 0, subsection = 0, tables = 0, figures = 0;

  explicit Work(const Document& what)
      : document(what),
        paper_width(what.paper == Paper::a4 ? 595.276 : 612),
        paper_height(what.paper == Paper::a4 ? 841.89 : 792),
        left(kLeft),
        right(paper_width - kRight),
        bottom(paper_height - kBottom),
        size(what.text_pt) {
    PangoFontMap* const fonts = pango_cairo_font_map_get_default();
    context = {pango_font_map_create_context(fonts), [](PangoContext* it) { g_object_unref(it); }};
    check_font();
    cairo_font_options_t* const options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(context.get(), options);
    cairo_font_options_destroy(options);
    pango_cairo_context_set_resolution(context.get(), 72);
    pango_context_set_round_glyph_positions(context.get(), FALSE);
    pango_context_set_language(context.get(), pango_language_from_string("en"));
    new_page();
    for (const Piece& piece : document.pieces) std::visit([this](const auto& each) { set(each); }, piece);
    head_and_foot();
  }

  void check_font() const {
    PangoFontDescription* const wanted = pango_font_description_from_string(kFont);
    PangoFont* const font = pango_context_load_font(context.get(), wanted);
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

  [[nodiscard]] Text text(const std::string& what, Style style, double width = 0, Align align = Align::left,
                          std::size_t lead = 0) const {
    return Text(context.get(), what, style, width, align, lead);
  }
  [[nodiscard]] double width() const { return right - left; }
  [[nodiscard]] double room() const { return bottom - y; }
  [[nodiscard]] bool at_top() const { return y <= kTop; }
  void draw(Drawing drawing) { pages.back().push_back(std::move(drawing)); }
  void new_page() {
    pages.emplace_back();
    y = kTop;
  }
  void need(double height) {
    if (room() < height && !at_top()) new_page();
  }
  void space(double height) {
    if (!at_top()) y += height;
  }

  /// Lines that may go over to the next page.
  void flow(const Text& block, double x) {
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
  void put(const Text& block, double x) {
    draw([block, x, at = y](cairo_t* cairo) { block.draw(cairo, x, at); });
  }

  void set(const NewPage& page) {
    if (room() < page.unless_left_pt && !at_top()) new_page();
  }

  void set(const Title& title) {
    const double code_side = title.code ? 11.5 * size : 0, wide = width() - (title.code ? code_side + 10 : 0);
    const double start = y;
    const Text kind = text(title.kind, {1.35 * size}, wide),
               name = text(title.name, {2.5 * size, true}, wide);
    put(kind, left);
    y += kind.height() + 1;
    put(name, left);
    y += name.height() + 6;
    draw([this, at = y, wide](cairo_t* cairo) { rule(cairo, left, left + wide, at, 1.6); });
    y += 8;
    set_facts(title.facts, wide);
    y += 0.8 * size;
    if (!title.code) return;
    draw([this, code = *title.code, code_side, start](cairo_t* cairo) {
      draw_code(cairo, code.code, right - code_side, start - 4, code_side);
      double down = start - 6 + code_side;
      for (const std::string& line : code.lines) {
        const Text each = text(line, {0.78 * size}, code_side, Align::centre);
        each.draw(cairo, right - code_side, down);
        down += each.height();
      }
    });
    double down = start - 4 + code_side;
    for (const std::string& line : title.code->lines)
      down += text(line, {0.78 * size}, code_side, Align::centre).height();
    y = std::max(y, down);
  }

  void set(const Heading& heading) {
    const bool first = heading.level == 1;
    if (first) {
      ++section;
      subsection = 0;
    } else {
      ++subsection;
    }
    const std::string number = !document.numbered ? ""
                               : first            ? std::to_string(section) + "   "
                                       : std::to_string(section) + '.' + std::to_string(subsection) + "   ";
    const Text block = text(number + heading.text, {(first ? 1.4 : 1.12) * size, true}, width());
    space((first ? 1.9 : 1.2) * size);
    need(block.height() + 8.5 * size);
    outline.push_back({number + heading.text, heading.level, int(pages.size()), y});
    put(block, left);
    y += block.height() + 1;
    if (first) draw([this, at = y](cairo_t* cairo) { rule(cairo, left, right, at, 0.8); });
    y += first ? 0.7 * size : 0.3 * size;
  }

  void set(const Paragraph& paragraph) {
    const std::string whole =
        paragraph.lead.empty() ? paragraph.text : paragraph.lead + "  " + paragraph.text;
    if (paragraph.text.empty()) need(4.5 * size);  // a lead stays with what it leads to
    flow(text(whole, {paragraph.size * size}, width(), Align::left, paragraph.lead.size()), left);
    y += 0.55 * size;
  }

  void set(const Items& items) {
    for (const std::string& item : items.texts) {
      const double indent = 1.3 * size;
      need(1.5 * size);
      const Text block = text(item, {size}, width() - indent);
      draw([this, dash = text("\xE2\x80\x93", {size}), at = y](cairo_t* cairo) {
        dash.draw(cairo, left, at);
      });
      flow(block, left + indent);
      y += 0.25 * size;
    }
    y += 0.4 * size;
  }

  void set(const Facts& facts) {
    set_facts(facts.rows, width());
    y += 0.5 * size;
  }
  void set_facts(const std::vector<Fact>& rows, double wide) {
    double names = 0;
    for (const Fact& fact : rows) names = std::max(names, text(fact.name, {size}).width());
    names = std::min(names + 1.6 * size, 0.4 * wide);
    for (const Fact& fact : rows) {
      const Text name = text(fact.name, {size}, names - size), value = text(fact.value, {size}, wide - names);
      need(std::min(std::max(name.height(), value.height()), 6 * size));
      const double start = y;
      const std::size_t page = pages.size();
      draw([this, name, at = y](cairo_t* cairo) {
        grey(cairo, 0.32);
        name.draw(cairo, left, at);
        grey(cairo, 0);
      });
      flow(value, left + names);
      if (page == pages.size()) y = std::max(y, start + name.height());
      y += 0.22 * size;
    }
  }

  void set(const Box& box) {
    const double inset = 0.9 * size, wide = width() - 2 * inset;
    std::vector<std::pair<Text, double>> parts;  // and the space below
    if (!box.heading.empty()) parts.emplace_back(text(box.heading, {size, true}, wide), 0.25 * size);
    if (!box.answer.empty()) parts.emplace_back(text(box.answer, {2.1 * size, true}, wide), 0.35 * size);
    for (const std::string& each : box.texts) parts.emplace_back(text(each, {size}, wide), 0.3 * size);
    double high = 2 * 0.7 * size;
    for (const auto& [part, below] : parts) high += part.height() + below;
    need(high);
    if (high > room()) {  // no frame is that high
      for (const auto& [part, below] : parts) {
        flow(part, left + inset);
        y += below;
      }
      return;
    }
    draw([this, at = y, high, heavy = box.heavy](cairo_t* cairo) {
      const double weight = heavy ? 2.2 : 0.8;
      grey(cairo, 0);
      cairo_set_dash(cairo, nullptr, 0, 0);
      cairo_set_line_width(cairo, weight);
      cairo_rectangle(cairo, left + weight / 2, at + weight / 2, width() - weight, high - weight);
      cairo_stroke(cairo);
    });
    y += 0.7 * size;
    for (const auto& [part, below] : parts) {
      put(part, left + inset);
      y += part.height() + below;
    }
    y += 0.7 * size + 0.8 * size;
  }

  void set(const Code& code) {
    const double side = 10 * size;
    std::vector<Text> lines;
    double high = 0;
    for (const std::string& line : code.lines) {
      lines.push_back(text(line, {size, lines.empty()}, width() - side - size));
      high += lines.back().height();
    }
    need(std::max(side, high));
    draw([this, code, side, lines, high, at = y](cairo_t* cairo) {
      draw_code(cairo, code.code, left, at, side);
      double down = at + std::max(0.0, (side - high) / 2);
      for (const Text& line : lines) {
        line.draw(cairo, left + side + size, down);
        down += line.height();
      }
    });
    y += std::max(side, high) + 0.6 * size;
  }

  void set(Chart chart) {
    const std::string name = "Figure " + std::to_string(++figures);
    const Text caption = text(name + "  " + chart.caption, {0.9 * size}, width(), Align::left, name.size());
    double high = chart_height(context.get(), chart, width(), 0.9 * size);
    // A figure gives way by up to a third rather than leave a page half empty.
    const double lacks = caption.height() + 0.4 * size + high - room();
    if (lacks > 0 && lacks < chart.height_pt / 3) {
      chart.height_pt -= lacks;
      high -= lacks;
    }
    need(high + caption.height() + 0.4 * size - 0.01);
    put(caption, left);
    y += caption.height() + 0.4 * size;
    draw([this, chart, at = y](cairo_t* cairo) {
      draw_chart(cairo, context.get(), chart, left, at, width(), 0.9 * size);
    });
    y += high + 1.1 * size;
  }

  // ---- tables --------------------------------------------------------------------------------------------------

  /// Natural widths where they fit, else columns give way down to their longest word.
  [[nodiscard]] std::vector<double> column_widths(const Table& table, double letters) const {
    const std::size_t count = table.columns.size();
    std::vector<double> natural(count), least(count);
    for (std::size_t c = 0; c < count; ++c) {
      least[c] = natural[c] = longest_word(context.get(), table.columns[c].heading, {letters, true});
      for (const Row& row : table.rows) {
        if (row.group || c >= row.cells.size() || row.cells[c].empty()) continue;
        const Style style{letters, false, row.aside};
        const double whole = Text(context.get(), row.cells[c], style).width();
        natural[c] = std::max(natural[c], whole);
        // A figure and its unit stay on one line; words may break.
        least[c] = std::max(least[c], table.columns[c].align == Align::right
                                          ? std::min(whole, 12 * letters)
                                          : longest_word(context.get(), row.cells[c], style));
      }
      least[c] = std::min(least[c], 0.5 * width());
    }
    const double free = width() - 2 * kPadding * double(count);
    double sum = 0, low = 0;
    for (std::size_t c = 0; c < count; ++c) {
      sum += natural[c];
      low += least[c];
    }
    if (sum > free && low < free) {
      double from = 0, to = width();  // no column wider than this, but for its longest word
      for (int step = 0; step < 40; ++step) {
        const double most = (from + to) / 2;
        double total = 0;
        for (std::size_t c = 0; c < count; ++c) total += std::max(least[c], std::min(natural[c], most));
        (total > free ? to : from) = most;
      }
      for (std::size_t c = 0; c < count; ++c) natural[c] = std::max(least[c], std::min(natural[c], from));
    } else if (sum > free) {
      for (std::size_t c = 0; c < count; ++c) natural[c] = least[c] * free / low;
    } else {
      const double share = std::min((free - sum) / double(count), 3 * letters);
      for (double& each : natural) each += share;
    }
    for (double& each : natural) each += 2 * kPadding + 0.05;
    return natural;
  }

  void set(const Table& table) {
    double letters = table.size * size;
    std::vector<double> widths = column_widths(table, letters);
    double total = 0;
    for (const double each : widths) total += each;
    const auto cells_of = [&](const std::vector<std::string>& texts, Style style) {
      std::vector<Text> cells;
      for (std::size_t c = 0; c < texts.size(); ++c)
        cells.push_back(text(texts[c], style, widths[c] - 2 * kPadding, table.columns[c].align));
      return cells;
    };
    std::vector<std::string> headings;
    for (const Column& column : table.columns) headings.push_back(column.heading);
    const std::vector<Text> head = cells_of(headings, {letters, true});
    double head_high = 0;
    for (const Text& cell : head) head_high = std::max(head_high, cell.height());

    const std::string name = table.caption.empty() ? "" : "Table " + std::to_string(++tables);
    const double gap = 0.28 * letters;
    const auto begin = [&](bool again) {
      if (!name.empty()) {
        const Text caption = text(name + "  " + table.caption + (again ? " (continued)" : ""), {0.9 * size},
                                  width(), Align::left, name.size());
        put(caption, left);
        y += caption.height() + 0.3 * size;
      }
      draw([this, at = y, total](cairo_t* cairo) { rule(cairo, left, left + total, at, 0.9); });
      y += gap;
      double x = left;
      for (std::size_t c = 0; c < head.size(); ++c) {
        draw([cell = head[c], x, at = y + head_high - head[c].height()](cairo_t* cairo) {
          cell.draw(cairo, x + kPadding, at);
        });
        x += widths[c];
      }
      y += head_high + gap;
      draw([this, at = y, total](cairo_t* cairo) { rule(cairo, left, left + total, at, 0.6); });
      y += gap;
    };
    const auto end = [&] {
      draw([this, at = y, total](cairo_t* cairo) { rule(cairo, left, left + total, at, 0.9); });
    };

    need(head_high + 6.5 * letters);
    begin(false);
    double head_bottom = y;
    for (std::size_t r = 0; r < table.rows.size(); ++r) {
      const Row& row = table.rows[r];
      std::vector<Text> cells;
      if (row.group)
        cells.push_back(text(row.cells.front(), {letters, true}, total - 2 * kPadding));
      else
        cells = cells_of(row.cells, {letters, false, row.aside});
      double high = 0;
      for (const Text& cell : cells) high = std::max(high, cell.height());
      // A group's name stays with its first row, and the last row does not go over alone.
      const bool keeps_next = row.group || r + 2 == table.rows.size();
      const double wanted = high + 2 * gap + (keeps_next ? 2.2 * letters : 0);
      const auto over = [&] {
        y -= gap;
        end();
        new_page();
        begin(true);
        head_bottom = y;
      };
      if (wanted > room() && y > head_bottom && wanted < bottom - kTop - head_high - 4 * size) over();
      std::vector<int> done(cells.size());
      for (bool more = true; more;) {
        more = false;
        double part = 0;
        std::vector<int> upto(cells.size());
        for (std::size_t c = 0; c < cells.size(); ++c) {
          int count = cells[c].fitting(done[c], room() - 2 * gap);
          if (count == 0 && y <= head_bottom) count = 1;
          upto[c] = std::min(done[c] + count, cells[c].lines());
          part = std::max(part, cells[c].height(done[c], upto[c]));
        }
        if (row.group)
          draw([this, at = y, part, gap, total](cairo_t* cairo) {
            grey(cairo, 0.93);
            cairo_rectangle(cairo, left, at - gap, total, part + 2 * gap);
            cairo_fill(cairo);
            grey(cairo, 0);
          });
        double x = left;
        for (std::size_t c = 0; c < cells.size(); ++c) {
          draw([cell = cells[c], x, at = y, from = done[c], to = upto[c]](cairo_t* cairo) {
            if (from < to) cell.draw(cairo, x + kPadding, at, from, to);
          });
          x += widths[c];
          done[c] = upto[c];
          more = more || done[c] < cells[c].lines();
        }
        y += part + gap;
        if (more) over();
      }
      if (r + 1 < table.rows.size())
        draw([this, at = y, total](cairo_t* cairo) { rule(cairo, left, left + total, at, 0.3, 0.7); });
      y += gap;
    }
    y -= gap;
    end();
    y += 0.35 * size;
    if (!table.note.empty()) flow(text(table.note, {0.82 * size}, width()), left);
    y += 1.0 * size;
  }

  // ---- pages ---------------------------------------------------------------------------------------------------

  void head_and_foot() {
    const Style small{8};
    const double half = width() * 0.62;
    for (std::size_t page = 0; page < pages.size(); ++page)
      pages[page].push_back([this, page, small, half](cairo_t* cairo) {
        const auto one_line = [&](const std::string& what, Style style, double most) {
          Text whole = text(what, style);
          if (whole.width() <= most) return whole;
          std::string cut = what;
          while (!cut.empty() && text(cut + "\xE2\x80\xA6", style).width() > most) {
            do cut.pop_back();
            while (!cut.empty() && (static_cast<unsigned char>(cut.back()) & 0xC0) == 0x80);
            if (!cut.empty() && static_cast<unsigned char>(cut.back()) >= 0xC0) cut.pop_back();
          }
          return text(cut + "\xE2\x80\xA6", style);
        };
        const Text a = one_line(document.head_left, {8, true}, half),
                   b = one_line(document.head_right, small, width() - half - 10),
                   c = one_line(document.foot, {7.5}, width() - 60),
                   d = text(std::to_string(page + 1) + " of " + std::to_string(pages.size()), {8, true});
        a.draw(cairo, left, kHead);
        b.draw(cairo, right - b.width(), kHead);
        rule(cairo, left, right, kHead + 13, 0.5);
        rule(cairo, left, right, bottom + 12, 0.5);
        c.draw(cairo, left, bottom + 15);
        d.draw(cairo, right - d.width(), bottom + 15);
      });
  }
  void draw_page(int page, cairo_t* cairo) const {
    grey(cairo, 0);
    for (const Drawing& each : pages[std::size_t(page)]) {
      cairo_save(cairo);
      cairo_new_path(cairo);
      each(cairo);
      cairo_restore(cairo);
    }
  }
};

Pages::Pages(const Document& document) : work_(std::make_unique<Work>(document)) {}
Pages::~Pages() = default;
int Pages::count() const { return int(work_->pages.size()); }

namespace {

cairo_status_t keep(void* bytes, const unsigned char* data, unsigned length) {
  static_cast<std::string*>(bytes)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}
struct Surface {
  cairo_surface_t* surface;
  cairo_t* cairo = cairo_create(surface);
  explicit Surface(cairo_surface_t* on) : surface(on) {}
  Surface(const Surface&) = delete;
  Surface& operator=(const Surface&) = delete;
  ~Surface() {
    cairo_destroy(cairo);
    cairo_surface_destroy(surface);
  }
  void finish() const {
    cairo_status_t status = cairo_status(cairo);
    cairo_surface_finish(surface);
    if (status == CAIRO_STATUS_SUCCESS) status = cairo_surface_status(surface);
    if (status != CAIRO_STATUS_SUCCESS)
      throw Unset(std::string("the drawing failed: ") + cairo_status_to_string(status));
  }
};

}  // namespace

std::string Pages::pdf() const {
  const Work& work = *work_;
  std::string bytes;
  const Surface on(cairo_pdf_surface_create_for_stream(keep, &bytes, work.paper_width, work.paper_height));
  cairo_pdf_surface_restrict_to_version(on.surface, CAIRO_PDF_VERSION_1_5);
  const std::string date = work.document.date.substr(0, 19) + 'Z';
  for (const auto& [what, value] : {std::pair{CAIRO_PDF_METADATA_TITLE, work.document.title},
                                    {CAIRO_PDF_METADATA_SUBJECT, work.document.subject},
                                    {CAIRO_PDF_METADATA_AUTHOR, std::string("hangtrue")},
                                    {CAIRO_PDF_METADATA_CREATOR, std::string("hangtrue report")},
                                    {CAIRO_PDF_METADATA_CREATE_DATE, date},
                                    {CAIRO_PDF_METADATA_MOD_DATE, date}})
    cairo_pdf_surface_set_metadata(on.surface, what, value.c_str());
  int parent = CAIRO_PDF_OUTLINE_ROOT;
  for (const Mark& mark : work.outline) {
    char place[64];
    std::snprintf(place, sizeof place, "page=%d pos=[%.1f %.1f]", mark.page, work.left, mark.y);
    const int item =
        cairo_pdf_surface_add_outline(on.surface, mark.level == 1 ? int(CAIRO_PDF_OUTLINE_ROOT) : parent,
                                      mark.text.c_str(), place, cairo_pdf_outline_flags_t(0));
    if (mark.level == 1) parent = item;
  }
  for (int page = 0; page < count(); ++page) {
    work.draw_page(page, on.cairo);
    cairo_show_page(on.cairo);
  }
  on.finish();
  return bytes;
}

std::string Pages::svg(int page) const {
  std::string bytes;
  const Surface on(
      cairo_svg_surface_create_for_stream(keep, &bytes, work_->paper_width, work_->paper_height));
  cairo_svg_surface_set_document_unit(on.surface, CAIRO_SVG_UNIT_PT);
  work_->draw_page(page, on.cairo);
  cairo_show_page(on.cairo);
  on.finish();
  return bytes;
}

std::string Pages::png(int page) const {
  constexpr double kScale = kPngPerInch / 72;
  const Surface on(cairo_image_surface_create(CAIRO_FORMAT_RGB24,
                                              int(std::lround(work_->paper_width * kScale)),
                                              int(std::lround(work_->paper_height * kScale))));
  cairo_scale(on.cairo, kScale, kScale);
  cairo_set_source_rgb(on.cairo, 1, 1, 1);
  cairo_paint(on.cairo);
  work_->draw_page(page, on.cairo);
  std::string bytes;
  if (cairo_status(on.cairo) == CAIRO_STATUS_SUCCESS &&
      cairo_surface_write_to_png_stream(on.surface, keep, &bytes) != CAIRO_STATUS_SUCCESS)
    throw Unset("the picture could not be made");
  on.finish();
  return bytes;
}

}  // namespace hangtrue::report

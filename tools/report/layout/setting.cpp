#include "tools/report/layout/setting.hpp"

#include <algorithm>

#include "tools/report/chart/draw.hpp"
#include "tools/report/layout/ink.hpp"
#include "tools/report/layout/table.hpp"

namespace hangtrue::report {

namespace {

constexpr double kHead = 38;  // top of the line that every page begins with

}  // namespace

Setting::Setting(const Document& document)
    : flow_(document.paper, document.text_pt), numbered_(document.numbered), words_(document.words) {
  for (std::size_t i = 0; i < document.pieces.size(); ++i) {
    keeps_ = i + 1 < document.pieces.size() ? least_height(document.pieces[i + 1]) : 0;
    if (i + 2 < document.pieces.size() && std::holds_alternative<Heading>(document.pieces[i + 1]))
      keeps_ += least_height(document.pieces[i + 2]);
    std::visit([this](const auto& each) { set(each); }, document.pieces[i]);
  }
  set_head_and_foot(document);
}

void Setting::set(const NewPage& page) {
  if (flow_.room() < page.unless_left_pt && !flow_.at_top()) flow_.new_page();
}

void Setting::set(const Title& title) {
  const double size = flow_.size;
  const double code_side = title.code ? 11.5 * size : 0,
               wide = flow_.width() - (title.code ? code_side + 10 : 0);
  const double start = flow_.y;
  const Text kind = flow_.text(title.kind, {1.35 * size}, wide),
             name = flow_.text(title.name, {2.5 * size, true}, wide);
  flow_.put(kind, flow_.left);
  flow_.y += kind.height() + 1;
  flow_.put(name, flow_.left);
  flow_.y += name.height() + 6;
  flow_.draw(
      [left = flow_.left, at = flow_.y, wide](cairo_t* cairo) { rule(cairo, left, left + wide, at, 1.6); });
  flow_.y += 8;
  set_facts(title.facts, wide);
  flow_.y += 0.8 * size;
  if (title.code) set_code_of_title(*title.code, start, code_side);
}

void Setting::set_code_of_title(const Code& code, double start, double side) {
  std::vector<Text> lines;
  double below = start - 4 + side;
  for (const std::string& line : code.lines) {
    lines.push_back(flow_.text(line, {0.78 * flow_.size}, side, Align::centre));
    below += lines.back().height();
  }
  flow_.draw([left = flow_.right - side, code = code.code, lines, side, start](cairo_t* cairo) {
    draw_code(cairo, code, left, start - 4, side);
    double down = start - 6 + side;
    for (const Text& line : lines) {
      line.draw(cairo, left, down);
      down += line.height();
    }
  });
  flow_.y = std::max(flow_.y, below);
}

void Setting::set(const Heading& heading) {
  const double size = flow_.size;
  const bool first = heading.level == 1;
  if (first) {
    ++section_;
    subsection_ = 0;
  } else {
    ++subsection_;
  }
  const std::string number = !numbered_ ? ""
                             : first    ? std::to_string(section_) + "   "
                                     : std::to_string(section_) + '.' + std::to_string(subsection_) + "   ";
  const Text block = flow_.text(number + heading.text, {(first ? 1.4 : 1.12) * size, true}, flow_.width());
  flow_.space((first ? 1.9 : 1.2) * size);
  flow_.need(block.height() + std::max(8.5 * size, 2 * size + keeps_));
  outline_.push_back({number + heading.text, heading.level, int(flow_.pages().size()), flow_.y});
  flow_.put(block, flow_.left);
  flow_.y += block.height() + 1;
  if (first)
    flow_.draw([this, at = flow_.y](cairo_t* cairo) { rule(cairo, flow_.left, flow_.right, at, 0.8); });
  flow_.y += first ? 0.7 * size : 0.3 * size;
}

void Setting::set(const Paragraph& paragraph) {
  const double size = flow_.size;
  const std::string whole = paragraph.lead.empty() ? paragraph.text : paragraph.lead + "  " + paragraph.text;
  if (paragraph.text.empty())
    flow_.need(std::max(4.5 * size, 2 * size + keeps_));  // a lead stays with what it leads to
  flow_.flow(flow_.text(whole, {paragraph.size * size}, flow_.width(), Align::left, paragraph.lead.size()),
             flow_.left);
  flow_.y += 0.55 * size;
}

void Setting::set(const Items& items) {
  const double size = flow_.size, indent = 1.3 * size;
  for (const std::string& item : items.texts) {
    const Text block = flow_.text(item, {size}, flow_.width() - indent);
    // The dash stays with as many lines as Flow::flow leaves together.
    flow_.need(std::max(1.5 * size, block.height(0, block.lines() == 3 ? 3 : std::min(block.lines(), 2))));
    flow_.put(flow_.text("\xE2\x80\x93", {size}), flow_.left);
    flow_.flow(block, flow_.left + indent);
    flow_.y += 0.25 * size;
  }
  flow_.y += 0.4 * size;
}

void Setting::set(const Facts& facts) {
  set_facts(facts.rows, flow_.width());
  flow_.y += 0.5 * flow_.size;
}

void Setting::set_facts(const std::vector<Fact>& rows, double wide) {
  const double size = flow_.size;
  double names = 0;
  for (const Fact& fact : rows) names = std::max(names, flow_.text(fact.name, {size}).width());
  names = std::min(names + 1.6 * size, 0.4 * wide);
  for (const Fact& fact : rows) {
    const Text name = flow_.text(fact.name, {size}, names - size),
               value = flow_.text(fact.value, {size}, wide - names);
    flow_.need(std::min(std::max(name.height(), value.height()), 6 * size));
    const double start = flow_.y;
    const std::size_t page = flow_.pages().size();
    flow_.draw([left = flow_.left, name, start](cairo_t* cairo) {
      grey(cairo, 0.32);
      name.draw(cairo, left, start);
      grey(cairo, 0);
    });
    flow_.flow(value, flow_.left + names);
    if (page == flow_.pages().size()) flow_.y = std::max(flow_.y, start + name.height());
    flow_.y += 0.22 * size;
  }
}

void Setting::set(const Fields& fields) {
  constexpr int kBeside = 2;
  const double size = flow_.size, line = 2.6 * size, gap = 1.5 * size;
  const double wide = (flow_.width() - (kBeside - 1) * gap) / kBeside;
  const std::size_t rows = (fields.rows.size() + kBeside - 1) / kBeside;
  flow_.need(line * double(rows));
  for (std::size_t i = 0; i < fields.rows.size(); ++i) {
    const double x = flow_.left + double(i % kBeside) * (wide + gap),
                 at = flow_.y + double(i / kBeside) * line;
    const Text name = flow_.text(fields.rows[i].name, {0.9 * size});
    const Text value = flow_.text(fields.rows[i].value, {0.9 * size});
    flow_.draw([=](cairo_t* cairo) {
      name.draw(cairo, x, at + line - name.height() - 2);
      value.draw(cairo, x + name.width() + 0.8 * size, at + line - value.height() - 2);
      rule(cairo, x + name.width() + 0.5 * size, x + wide, at + line - 3, 0.5);
    });
  }
  flow_.y += line * double(rows) + 0.8 * size;
}

double Setting::least_height(const Piece& piece) const {
  const double size = flow_.size;
  if (const auto* const box = std::get_if<Box>(&piece))
    return std::min(box_height(parts_of(*box)), 0.5 * flow_.paper_height);
  if (const auto* const chart = std::get_if<Chart>(&piece)) {
    // As far as it gives way, and its caption.
    const double high = chart_height(flow_.context(), *chart, flow_.width(), 0.9 * size);
    return high - chart->height_pt / 3 + 3 * size;
  }
  if (std::holds_alternative<Table>(piece)) return 12 * size;
  if (std::holds_alternative<Code>(piece)) return 10 * size;
  if (std::holds_alternative<PlanView>(piece)) return plan_view_height(size);
  if (std::holds_alternative<Heading>(piece)) return 4 * size;
  if (const auto* const paragraph = std::get_if<Paragraph>(&piece))
    return paragraph->text.empty() ? 4.5 * size : 3 * size;
  if (std::holds_alternative<NewPage>(piece)) return 0;
  return 3 * size;
}

std::vector<Setting::BoxPart> Setting::parts_of(const Box& box) const {
  const double size = flow_.size, inset = 0.9 * size, wide = flow_.width() - 2 * inset;
  std::vector<BoxPart> parts;
  if (!box.heading.empty()) parts.push_back({flow_.text(box.heading, {size, true}, wide), 0.25 * size});
  if (!box.answer.empty()) parts.push_back({flow_.text(box.answer, {2.1 * size, true}, wide), 0.35 * size});
  for (const std::string& each : box.texts) parts.push_back({flow_.text(each, {size}, wide), 0.3 * size});
  return parts;
}

double Setting::box_height(const std::vector<BoxPart>& parts) const {
  double high = 2 * 0.7 * flow_.size;
  for (const BoxPart& part : parts) high += part.text.height() + part.below;
  return high;
}

void Setting::set(const Box& box) {
  const double size = flow_.size, inset = 0.9 * size;
  const std::vector<BoxPart> parts = parts_of(box);
  const double high = box_height(parts);
  flow_.need(high);
  if (high > flow_.room()) {  // no frame is that high
    for (const BoxPart& part : parts) {
      flow_.flow(part.text, flow_.left + inset);
      flow_.y += part.below;
    }
    return;
  }
  flow_.draw([this, at = flow_.y, high, heavy = box.heavy](cairo_t* cairo) {
    const double weight = heavy ? 2.2 : 0.8;
    grey(cairo, 0);
    cairo_set_dash(cairo, nullptr, 0, 0);
    cairo_set_line_width(cairo, weight);
    cairo_rectangle(cairo, flow_.left + weight / 2, at + weight / 2, flow_.width() - weight, high - weight);
    cairo_stroke(cairo);
  });
  flow_.y += 0.7 * size;
  for (const BoxPart& part : parts) {
    flow_.put(part.text, flow_.left + inset);
    flow_.y += part.text.height() + part.below;
  }
  flow_.y += 0.7 * size + 0.8 * size;
}

void Setting::set(const Code& code) {
  const double size = flow_.size, side = 10 * size;
  std::vector<Text> lines;
  double high = 0;
  for (const std::string& line : code.lines) {
    lines.push_back(flow_.text(line, {size, lines.empty()}, flow_.width() - side - size));
    high += lines.back().height();
  }
  flow_.need(std::max(side, high));
  flow_.draw([left = flow_.left, code = code.code, size, side, lines, high, at = flow_.y](cairo_t* cairo) {
    draw_code(cairo, code, left, at, side);
    double down = at + std::max(0.0, (side - high) / 2);
    for (const Text& line : lines) {
      line.draw(cairo, left + side + size, down);
      down += line.height();
    }
  });
  flow_.y += std::max(side, high) + 0.6 * size;
}

void Setting::set(Chart chart) {
  const double size = flow_.size;
  const std::string name = words_.figure + ' ' + std::to_string(++figures_);
  const Text caption =
      flow_.text(name + "  " + chart.caption, {0.9 * size}, flow_.width(), Align::left, name.size());
  double high = chart_height(flow_.context(), chart, flow_.width(), 0.9 * size);
  // A figure gives way by up to a third rather than leave a page half empty.
  const double lacks = caption.height() + 0.4 * size + high - flow_.room();
  if (lacks > 0 && lacks < chart.height_pt / 3) {
    chart.height_pt -= lacks;
    high -= lacks;
  }
  flow_.need(high + caption.height() + 0.4 * size - 0.01);
  flow_.put(caption, flow_.left);
  flow_.y += caption.height() + 0.4 * size;
  flow_.draw([this, chart, at = flow_.y](cairo_t* cairo) {
    draw_chart(cairo, flow_.context(), chart, flow_.left, at, flow_.width(), 0.9 * flow_.size);
  });
  flow_.y += high + 1.1 * size;
}

void Setting::set(const PlanView& view) {
  const double size = flow_.size, high = plan_view_height(size);
  flow_.need(high);
  flow_.draw([this, view, size, at = flow_.y](cairo_t* cairo) {
    draw_plan_view(cairo, flow_.context(), view, flow_.left, at, flow_.width(), size);
  });
  flow_.y += high + 0.6 * size;
}

void Setting::set(const Table& table) {
  set_table(flow_, table, table.caption.empty() ? "" : words_.table + ' ' + std::to_string(++tables_));
}

void Setting::set_head_and_foot(const Document& document) {
  const double left = flow_.left, right = flow_.right, foot = flow_.bottom;
  const double half = flow_.width() * 0.62;
  const Text head_left = flow_.one_line(document.head_left, {8, true}, half),
             head_right = flow_.one_line(document.head_right, {8}, flow_.width() - half - 10),
             foot_left = flow_.one_line(document.foot, {7.5}, flow_.width() - 60);
  const std::size_t pages = flow_.pages().size();
  for (std::size_t page = 0; page < pages; ++page) {
    const Text number =
        flow_.text(std::to_string(page + 1) + ' ' + words_.of + ' ' + std::to_string(pages), {8, true});
    flow_.draw_on(page, [=](cairo_t* cairo) {
      head_left.draw(cairo, left, kHead);
      head_right.draw(cairo, right - head_right.width(), kHead);
      rule(cairo, left, right, kHead + 13, 0.5);
      rule(cairo, left, right, foot + 12, 0.5);
      foot_left.draw(cairo, left, foot + 15);
      number.draw(cairo, right - number.width(), foot + 15);
    });
  }
}

}  // namespace hangtrue::report

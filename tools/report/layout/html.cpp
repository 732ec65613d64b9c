#include "tools/report/layout/html.hpp"

#include <algorithm>
#include <cmath>
#include <string_view>

#include <fmt/format.h>

#include "firmware-host/sheet/format.hpp"
#include "firmware-host/sheet/number.hpp"

namespace hangtrue::report {

namespace {

constexpr std::string_view kLineSeparator = "\xE2\x80\xA8";  // U+2028

std::string escaped(std::string_view text) {
  std::string result;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text.substr(i, kLineSeparator.size()) == kLineSeparator) {
      result += "<br>";
      i += kLineSeparator.size() - 1;
      continue;
    }
    switch (text[i]) {
      case '&':
        result += "&amp;";
        break;
      case '<':
        result += "&lt;";
        break;
      case '>':
        result += "&gt;";
        break;
      case '"':
        result += "&quot;";
        break;
      default:
        result += text[i];
    }
  }
  return result;
}

constexpr std::string_view kStyle =
    "body{font:1rem/1.5 sans-serif;max-width:60rem;margin:auto;padding:1rem}"
    "table{border-collapse:collapse;margin:1rem 0}caption{text-align:left;font-weight:bold}"
    "th,td{border:1px solid;padding:.2rem "
    ".5rem;vertical-align:top;text-align:left}td.figure{text-align:right}"
    "tr.aside{font-style:italic}div.box{border:1px solid;padding:.5rem 1rem;margin:1rem 0}"
    "div.heavy{border-width:3px}p.answer{font-size:1.5rem;font-weight:bold}dt{font-weight:bold}";

class HtmlWriter {
 public:
  explicit HtmlWriter(const Document& document)
      : numbered_(document.numbered),
        words_(document.words),
        language_(document.language == "de" ? sheet::Language::german : sheet::Language::english) {
    text_ = "<!DOCTYPE html>\n<html lang=\"" + escaped(document.language) +
            "\">\n<head>\n<meta charset=\"utf-8\">\n"
            "<meta name=\"viewport\" content=\"width=device-width\">\n<title>" +
            escaped(document.title) + "</title>\n<style>" + std::string(kStyle) +
            "</style>\n</head>\n<body>\n<main>\n";
    for (const Piece& piece : document.pieces) std::visit([this](const auto& each) { set(each); }, piece);
    text_ += "</main>\n<footer>\n" + paragraph(escaped(document.foot)) + "</footer>\n</body>\n</html>\n";
  }
  std::string take() { return std::move(text_); }

 private:
  static std::string paragraph(const std::string& html) { return "<p>" + html + "</p>\n"; }

  void set(const Title& title) {
    text_ += "<header>\n<h1>" + escaped(title.kind) + ": " + escaped(title.name) + "</h1>\n";
    set(Facts{title.facts});
    text_ += "</header>\n";
  }
  void set(const Heading& heading) {
    const bool first = heading.level == 1;
    first ? (++section_, subsection_ = 0) : ++subsection_;
    const std::string number = !numbered_ ? ""
                               : first    ? std::to_string(section_) + ' '
                                       : std::to_string(section_) + '.' + std::to_string(subsection_) + ' ';
    const std::string tag = first ? "h2" : "h3";
    text_ += '<' + tag + '>' + number + escaped(heading.text) + "</" + tag + ">\n";
  }
  void set(const Paragraph& each) {
    text_ += paragraph((each.lead.empty() ? "" : "<strong>" + escaped(each.lead) + "</strong> ") +
                       escaped(each.text));
  }
  void set(const Items& items) {
    text_ += "<ul>\n";
    for (const std::string& each : items.texts) text_ += "<li>" + escaped(each) + "</li>\n";
    text_ += "</ul>\n";
  }
  void set(const Facts& facts) {
    text_ += "<dl>\n";
    for (const Fact& each : facts.rows)
      text_ += "<dt>" + escaped(each.name) + "</dt><dd>" + escaped(each.value) + "</dd>\n";
    text_ += "</dl>\n";
  }
  void set(const Fields& fields) {
    text_ += "<dl>\n";
    for (const Fact& each : fields.rows)
      text_ += "<dt>" + escaped(each.name) + "</dt><dd>" +
               escaped(each.value.empty() ? words_.fill_in : each.value) + "</dd>\n";
    text_ += "</dl>\n";
  }
  void set(const Box& box) {
    text_ += std::string("<div role=\"note\" class=\"box") + (box.heavy ? " heavy" : "") + "\">\n";
    if (!box.heading.empty()) text_ += "<p><strong>" + escaped(box.heading) + "</strong></p>\n";
    if (!box.answer.empty()) text_ += "<p class=\"answer\">" + escaped(box.answer) + "</p>\n";
    for (const std::string& each : box.texts) text_ += paragraph(escaped(each));
    text_ += "</div>\n";
  }
  void set(const Table& table) {
    text_ += "<table>\n";
    if (!table.caption.empty())
      text_ += "<caption>" + words_.table + ' ' + std::to_string(++tables_) + ". " + escaped(table.caption) +
               "</caption>\n";
    text_ += "<thead><tr>";
    for (const Column& each : table.columns) text_ += "<th scope=\"col\">" + escaped(each.heading) + "</th>";
    text_ += "</tr></thead>\n<tbody>\n";
    for (const Row& row : table.rows) set_row(table, row);
    text_ += "</tbody>\n</table>\n";
    if (!table.note.empty()) text_ += paragraph("<small>" + escaped(table.note) + "</small>");
  }
  void set_row(const Table& table, const Row& row) {
    if (row.group) {
      text_ += "<tr><th colspan=\"" + std::to_string(table.columns.size()) + "\" scope=\"rowgroup\">" +
               escaped(row.cells.front()) + "</th></tr>\n";
      return;
    }
    text_ += row.aside ? "<tr class=\"aside\">" : "<tr>";
    for (std::size_t c = 0; c < row.cells.size(); ++c) {
      const bool figure = c < table.columns.size() && table.columns[c].align == Align::right;
      text_ += c == 0 ? "<th scope=\"row\">" + escaped(row.cells[c]) + "</th>"
                      : (figure ? "<td class=\"figure\">" : "<td>") + escaped(row.cells[c]) + "</td>";
    }
    text_ += "</tr>\n";
  }
  // In words: each line's lowest and highest, and the limits.
  void set(const Chart& chart) {
    text_ += "<p><strong>" + words_.figure + ' ' + std::to_string(++figures_) + ".</strong> " +
             escaped(chart.caption + ' ' + words_.told) + "</p>\n<ul>\n";
    const auto figure = [&](double y) {
      return sheet::with_decimal_sign(sheet::show_number(y / chart.up.unit, 3), language_) +
             (chart.up.name.empty() ? "" : ' ' + chart.up.name);
    };
    for (const Series& each : chart.series) {
      if (each.y.empty()) continue;
      const auto [low, high] = std::minmax_element(each.y.begin(), each.y.end());
      text_ += "<li>" +
               escaped(fmt::format(fmt::runtime(words_.range), each.label, figure(*low), figure(*high))) +
               "</li>\n";
    }
    for (const Limit& each : chart.limits)
      if (!each.label.empty())
        text_ +=
            "<li>" + escaped(fmt::format(fmt::runtime(words_.limit), each.label, figure(each.y))) + "</li>\n";
    text_ += "</ul>\n";
  }
  void set(const PlanView& view) {
    std::string supports;
    for (const PlanView::Place& each : view.supports)
      supports += (supports.empty() ? "" : ", ") + each.letter + ' ' + view.at + ' ' +
                  sheet::show_number(100 * each.x / view.length, 0) + " % " + view.of_length;
    text_ += paragraph(escaped(view.above + ": " + supports) + '.');
  }
  void set(const Code& code) {
    for (const std::string& line : code.lines) text_ += paragraph(escaped(line));
  }
  void set(const NewPage&) {}

  const bool numbered_;
  const Words words_;
  const sheet::Language language_;
  std::string text_;
  int section_ = 0, subsection_ = 0, tables_ = 0, figures_ = 0;
};

}  // namespace

std::string html_of(const Document& document) { return HtmlWriter(document).take(); }

}  // namespace hangtrue::report

// document.hpp: a document as pieces, in order: what it says, not where on which page it stands (page.hpp does that).
//
// Units   texts are UTF-8 as they are to be read; lengths in a chart SI; sizes on paper in points (1/72 in).
// Grey    everything reads in black and white: lines differ by their dashes, bands by their tint.
#pragma once

#include <algorithm>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "firmware-host/book/qr_code.hpp"
#include "firmware-host/sheet/format.hpp"

namespace hangtrue::report {

enum class Paper { a4, letter };
enum class Align { left, right, centre };

/// Numbered "1", "1.1", and listed in the outline of a PDF.
struct Heading {
  std::string text;
  int level = 1;
};
/// `lead`, if any, stands before the text in bold.
struct Paragraph {
  std::string text, lead = "";
  double size = 1;  // of the document's own
};
struct Items {
  std::vector<std::string> texts;
};
struct Fact {
  std::string name, value;
};
/// Names beside values.
struct Facts {
  std::vector<Fact> rows;
};
/// A statement in a frame; `answer` is set large.
struct Box {
  std::string heading, answer;
  std::vector<std::string> texts;
  bool heavy = false;  // a thick frame: what must not be overlooked
};

struct Column {
  std::string heading;
  Align align = Align::left;
};
/// Of "name|>set right|^centred".
[[nodiscard]] inline std::vector<Column> columns(const std::string& headings) {
  std::vector<Column> result;
  for (std::size_t start = 0; start <= headings.size();) {
    const std::size_t end = std::min(headings.find('|', start), headings.size());
    std::string one = headings.substr(start, end - start);
    const Align align = one.starts_with('>')   ? Align::right
                        : one.starts_with('^') ? Align::centre
                                               : Align::left;
    result.push_back({align == Align::left ? one : one.substr(1), align});
    start = end + 1;
  }
  return result;
}
struct Row {
  std::vector<std::string> cells;  // one a column; of a group the first alone, over all columns
  bool group = false;
  bool aside = false;  // set in italics: does not count
};
/// Breaks between rows, its headings anew on every page; a row higher than a page breaks between lines.
struct Table {
  std::string caption;
  std::vector<Column> columns;
  std::vector<Row> rows;
  std::string note = "";  // small, below
  double size = 0.87;     // of the document's own
};

/// A QR code with lines beside it.
struct Code {
  book::QrCode code;
  std::vector<std::string> lines;
};
/// What stands at the head of a document's first page; a code at its right.
struct Title {
  std::string kind, name;
  std::vector<Fact> facts;
  std::optional<Code> code{};
};

enum class Stroke { none, solid, dashed, dotted, dash_dot };
enum class Dot { none, open, full, cross, square };
enum class Quantity { height, slope, number };  // m, rad, none

struct Series {
  std::string label;
  Stroke stroke = Stroke::solid;
  Dot dot = Dot::none;
  bool band = false;  // `half` as a tinted band; else as bars
  double weight = 0.9;
  std::vector<double> x, y, half{};  // `half` empty or one a point
};
/// A level line with its label at the right end.
struct Limit {
  double y = 0;
  std::string label;
};
/// A support below or above the drawing.
struct Holding {
  double x = 0;
  std::string letter;
  bool from_above = false;
};
struct Chart {
  std::string caption;
  Quantity up = Quantity::height;
  sheet::Show show = sheet::Show::metric;
  bool over_days = false;  // x in days; else m along the run
  double x_from = 0, x_to = 1;
  std::vector<Series> series;
  std::vector<Limit> limits{};
  std::vector<Holding> holdings{};
  double height_pt = 165;
  bool states_exaggeration = false;  // heights over lengths, a round figure
};

/// Keeps what follows off this page unless so much of it is left.
struct NewPage {
  double unless_left_pt = 1e9;
};

using Piece = std::variant<Title, Heading, Paragraph, Items, Facts, Box, Table, Chart, Code, NewPage>;

struct Document {
  Paper paper = Paper::a4;
  double text_pt = 9;
  bool numbered = true;  // headings
  std::string title, subject;
  std::string head_left, head_right, foot;  // on every page
  std::string date;                         // RFC 3339; never the clock's
  std::vector<Piece> pieces;

  template <class P>
  void add(P piece) {
    pieces.emplace_back(std::move(piece));
  }
};

}  // namespace hangtrue::report

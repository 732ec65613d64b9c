// document.hpp: a document as pieces in order: what it says, not where on which page it stands (pages.hpp decides that).
//
// Units   texts are UTF-8 as they are to be read; sizes on paper in points, 1/72 in.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "firmware-host/book/qr_code.hpp"
#include "tools/report/chart/chart.hpp"
#include "tools/report/layout/style.hpp"

namespace hangtrue::report {

enum class Paper { a4, letter };

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
/// Names, each with its value, or with a line to write on by hand where that is empty; two beside each other.
struct Fields {
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
[[nodiscard]] std::vector<Column> columns(const std::string& headings);
struct Row {
  std::vector<std::string> cells;  // one a column; of a group the first alone, over all columns
  bool group = false;
  bool aside = false;  // in italics: does not count
};
/// Breaks between rows, with its headings repeated on every page; a row higher than a page breaks between lines.
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
/// The head of a document's first page; a code at its right.
struct Title {
  std::string kind, name;
  std::vector<Fact> facts;
  std::optional<Code> code{};
};

/// What follows begins a new page unless so much of this one is left.
struct NewPage {
  double unless_left_pt = 1e9;
};

using Piece =
    std::variant<Title, Heading, Paragraph, Items, Facts, Fields, Box, Table, Chart, PlanView, Code, NewPage>;

/// What the layout itself says.
struct Words {
  std::string of = "of";                    // "1 of 2" pages
  std::string fill_in = "to be filled in";  // of a field, where nothing can be written on
  std::string table = "Table", figure = "Figure";
  // Where a drawing is told instead of drawn; formats of fmt.
  std::string told = "A drawing, here in words:", range = "{}: lowest {}, highest {}", limit = "{}: at {}";
};

struct Document {
  Paper paper = Paper::a4;
  double text_pt = 9;
  bool numbered = true;  // headings
  std::string title, subject;
  std::string head_left, head_right, foot;  // on every page
  std::string date;                         // RFC 3339; never the clock's
  std::string language = "en";              // of its words, as BCP 47 has it
  Words words;
  std::vector<Piece> pieces;

  template <class P>
  void add(P piece) {
    pieces.emplace_back(std::move(piece));
  }
};

}  // namespace hangtrue::report

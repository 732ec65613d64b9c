#include "tools/report/layout/table.hpp"

#include <algorithm>
#include <numeric>

#include "tools/report/layout/ink.hpp"

namespace hangtrue::report {

namespace {

constexpr double kPadding = 4.5;  // on both sides of a cell

double sum(const std::vector<double>& values) { return std::accumulate(values.begin(), values.end(), 0.0); }

/// Brings columns down to `free` together: none wider than a common most, but for its longest word.
void narrow(std::vector<double>& natural, const std::vector<double>& least, double free, double widest) {
  const auto at_most = [&](std::size_t column, double most) {
    return std::max(least[column], std::min(natural[column], most));
  };
  double from = 0, to = widest;
  for (int step = 0; step < 40; ++step) {
    const double most = (from + to) / 2;
    double total = 0;
    for (std::size_t c = 0; c < natural.size(); ++c) total += at_most(c, most);
    (total > free ? to : from) = most;
  }
  for (std::size_t c = 0; c < natural.size(); ++c) natural[c] = at_most(c, from);
}

struct Widths {
  std::vector<double> columns;
  bool fit = true;  // no figure is broken
};
/// Natural widths where they fit, else columns give way down to their longest word.
Widths column_widths(const Flow& flow, const Table& table, double letters) {
  const std::size_t count = table.columns.size();
  std::vector<double> natural(count), least(count);
  for (std::size_t c = 0; c < count; ++c) {
    least[c] = natural[c] = longest_word(flow.context(), table.columns[c].heading, {letters, true});
    for (const Row& row : table.rows) {
      if (row.group || c >= row.cells.size() || row.cells[c].empty()) continue;
      const Style style{letters, false, row.aside};
      const double whole = flow.text(row.cells[c], style).width();
      natural[c] = std::max(natural[c], whole);
      // A figure and its unit stay on one line; words may break.
      least[c] = std::max(least[c], table.columns[c].align == Align::right
                                        ? std::min(whole, 12 * letters)
                                        : longest_word(flow.context(), row.cells[c], style));
    }
    least[c] = std::min(least[c], 0.5 * flow.width());
  }
  const double free = flow.width() - 2 * kPadding * double(count), wanted = sum(natural), low = sum(least);
  const bool fit = wanted <= free || low < free;
  if (wanted > free && low < free) {
    narrow(natural, least, free, flow.width());
  } else if (wanted > free) {
    for (std::size_t c = 0; c < count; ++c) natural[c] = least[c] * free / low;
  } else {
    const double share = std::min((free - wanted) / double(count), 3 * letters);
    for (double& each : natural) each += share;
  }
  for (double& each : natural) each += 2 * kPadding + 0.05;
  return {std::move(natural), fit};
}

/// As large as the table asks for, or smaller so that no figure is broken; not below two thirds of it.
double letters_of(const Flow& flow, const Table& table) {
  const double asked = table.size * flow.size;
  double letters = asked;
  while (letters > 0.67 * asked && !column_widths(flow, table, letters).fit) letters *= 0.95;
  return letters;
}

class TableSetter {
 public:
  TableSetter(Flow& flow, const Table& table, std::string name)
      : flow_(flow),
        table_(table),
        name_(std::move(name)),
        letters_(letters_of(flow, table)),
        gap_(0.28 * letters_),
        widths_(column_widths(flow, table, letters_).columns),
        total_(sum(widths_)) {
    std::vector<std::string> headings;
    for (const Column& column : table.columns) headings.push_back(column.heading);
    head_ = cells_of(headings, {letters_, true});
    for (const Text& cell : head_) head_high_ = std::max(head_high_, cell.height());
  }

  void set() {
    flow_.need(head_high_ + 6.5 * letters_);
    begin(false);
    for (std::size_t r = 0; r < table_.rows.size(); ++r) {
      set_row(r);
      if (r + 1 < table_.rows.size()) draw_rule(0.3, 0.7);
      flow_.y += gap_;
    }
    flow_.y -= gap_;
    draw_rule(0.9);
    flow_.y += 0.35 * flow_.size;
    if (!table_.note.empty())
      flow_.flow(flow_.text(table_.note, {0.82 * flow_.size}, flow_.width()), flow_.left);
    flow_.y += 1.0 * flow_.size;
  }

 private:
  [[nodiscard]] std::vector<Text> cells_of(const std::vector<std::string>& texts, Style style) const {
    std::vector<Text> cells;
    for (std::size_t c = 0; c < texts.size(); ++c)
      cells.push_back(flow_.text(texts[c], style, widths_[c] - 2 * kPadding, table_.columns[c].align));
    return cells;
  }
  void draw_rule(double weight, double level = 0) {
    flow_.draw([left = flow_.left, at = flow_.y, total = total_, weight, level](cairo_t* cairo) {
      rule(cairo, left, left + total, at, weight, level);
    });
  }

  /// Caption and headings.
  void begin(bool again) {
    if (!name_.empty()) {
      const Text caption = flow_.text(name_ + "  " + table_.caption + (again ? " (continued)" : ""),
                                      {0.9 * flow_.size}, flow_.width(), Align::left, name_.size());
      flow_.put(caption, flow_.left);
      flow_.y += caption.height() + 0.3 * flow_.size;
    }
    draw_rule(0.9);
    flow_.y += gap_;
    double x = flow_.left;
    for (std::size_t c = 0; c < head_.size(); ++c) {
      flow_.draw([cell = head_[c], x, at = flow_.y + head_high_ - head_[c].height()](cairo_t* cairo) {
        cell.draw(cairo, x + kPadding, at);
      });
      x += widths_[c];
    }
    flow_.y += head_high_ + gap_;
    draw_rule(0.6);
    flow_.y += gap_;
    head_bottom_ = flow_.y;
  }

  void go_over() {
    flow_.y -= gap_;
    draw_rule(0.9);
    flow_.new_page();
    begin(true);
  }

  void set_row(std::size_t r) {
    const Row& row = table_.rows[r];
    const std::vector<Text> cells =
        row.group ? std::vector{flow_.text(row.cells.front(), {letters_, true}, total_ - 2 * kPadding)}
                  : cells_of(row.cells, {letters_, false, row.aside});
    double high = 0;
    for (const Text& cell : cells) high = std::max(high, cell.height());
    // A group's name stays with its first row, and the last row does not go over alone.
    const bool keeps_next = row.group || r + 2 == table_.rows.size();
    const double wanted = high + 2 * gap_ + (keeps_next ? 2.2 * letters_ : 0);
    if (wanted > flow_.room() && flow_.y > head_bottom_ &&
        wanted < flow_.bottom - kTop - head_high_ - 4 * flow_.size)
      go_over();
    std::vector<int> done(cells.size());
    while (set_lines(cells, done, row.group)) go_over();
  }

  /// As many lines of each cell as this page holds, from those done on. Returns whether any are left.
  bool set_lines(const std::vector<Text>& cells, std::vector<int>& done, bool group) {
    double part = 0;
    std::vector<int> upto(cells.size());
    for (std::size_t c = 0; c < cells.size(); ++c) {
      int count = cells[c].fitting(done[c], flow_.room() - 2 * gap_);
      if (count == 0 && flow_.y <= head_bottom_) count = 1;
      upto[c] = std::min(done[c] + count, cells[c].lines());
      part = std::max(part, cells[c].height(done[c], upto[c]));
    }
    if (group)
      flow_.draw(
          [left = flow_.left, at = flow_.y - gap_, total = total_, high = part + 2 * gap_](cairo_t* cairo) {
            grey(cairo, 0.93);
            cairo_rectangle(cairo, left, at, total, high);
            cairo_fill(cairo);
            grey(cairo, 0);
          });
    double x = flow_.left;
    bool more = false;
    for (std::size_t c = 0; c < cells.size(); ++c) {
      flow_.draw([cell = cells[c], x, at = flow_.y, from = done[c], to = upto[c]](cairo_t* cairo) {
        if (from < to) cell.draw(cairo, x + kPadding, at, from, to);
      });
      x += widths_[c];
      done[c] = upto[c];
      more = more || done[c] < cells[c].lines();
    }
    flow_.y += part + gap_;
    return more;
  }

  Flow& flow_;
  const Table& table_;
  const std::string name_;
  const double letters_, gap_;  // size of the letters; room above and below a row
  const std::vector<double> widths_;
  const double total_;
  std::vector<Text> head_;
  double head_high_ = 0, head_bottom_ = 0;
};

}  // namespace

void set_table(Flow& flow, const Table& table, const std::string& name) {
  TableSetter(flow, table, name).set();
}

}  // namespace hangtrue::report

// walk.hpp: walks a parsed TOML sheet and writes down everything that is wrong with it. For the readers of sheets only.
//
// Every key that a reader asks for is known; close() complains of the keys that nobody asked for and suggests the
// nearest known one. A value that is missing or wrong is complained of once and returned as nothing, so that the
// reader goes on and finds the rest.
#pragma once

#include <toml++/toml.h>

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/sheet/complaint.hpp"
#include "firmware-host/sheet/nearest.hpp"
#include "firmware-host/sheet/units.hpp"

namespace hangtrue::sheet {

/// Where complaints about one file gather.
struct Sink {
  std::string file;
  std::vector<Complaint> complaints;
  std::string_view text;  // the sheet as it was typed; valid while it is read
  void add(int line, std::string key, std::string found, std::string expected);
  /// As a complaint shows it; a number as it was typed: "1.50", not "1.5".
  [[nodiscard]] std::string as_typed(const toml::node& node) const;
  /// All of them, by line; the sink is then empty.
  [[nodiscard]] std::vector<Complaint> taken_in_order();
};

/// The whole file, or nothing and a complaint: not there, a directory, unreadable, empty, binary, larger than 1 MiB,
/// a pipe into which nobody writes for two seconds.
[[nodiscard]] std::optional<std::string> read_text_file(const std::string& path, Sink& sink);
/// The same checks for a text that is already here.
[[nodiscard]] bool is_fit_text(std::string_view text, Sink& sink);

/// The parsed sheet, or nothing and a complaint.
[[nodiscard]] std::optional<toml::table> parse_toml(std::string_view text, Sink& sink);

/// In quotes, control characters made visible, shortened when long.
[[nodiscard]] std::string in_quotes(std::string_view text);
/// As a complaint shows it: "\"12\"", "12", "a list".
[[nodiscard]] std::string shown(const toml::node& node);
/// `"a", "b" or "c"`.
[[nodiscard]] std::string any_of(const std::vector<std::string>& names);

enum class Need { required, optional };
enum class Sign { any, positive, not_negative, not_zero };

/// A text in a list, and where it stands.
struct TextAt {
  std::string text;
  int line;
  std::string path;
};

/// One table of a sheet.
class Walk {
 public:
  Walk(const toml::table& table, std::string path, Sink& sink)
      : table_(&table), path_(std::move(path)), sink_(&sink) {}

  [[nodiscard]] bool has(std::string_view key);
  [[nodiscard]] std::optional<double> quantity(std::string_view key, Kind kind, Need need,
                                               Sign sign = Sign::any);
  /// A plain number, above < it < below; `expected` says so in words.
  [[nodiscard]] std::optional<double> number(std::string_view key, Need need, double above, double below,
                                             const char* expected);
  /// A plain number, or a text such as "95 %".
  [[nodiscard]] std::optional<double> share(std::string_view key, Need need, double above, double below,
                                            const char* expected);
  [[nodiscard]] std::optional<int> whole(std::string_view key, Need need, int least, int most);
  [[nodiscard]] std::optional<bool> flag(std::string_view key);
  /// Not empty, no control characters.
  [[nodiscard]] std::optional<std::string> text(std::string_view key, Need need);
  /// The index of the word.
  [[nodiscard]] std::optional<int> word(std::string_view key, Need need,
                                        std::initializer_list<const char*> words);
  [[nodiscard]] std::optional<Walk> table(std::string_view key, Need need);
  /// A table of ours in the place of what stands at key: what is wrong with it is wrong there.
  [[nodiscard]] Walk standing_for(std::string_view key, const toml::table& table) const;
  /// Tables in a list ([[key]]), or tables by name ([key.name]) with their names.
  [[nodiscard]] std::vector<Walk> tables(std::string_view key, Need need);
  [[nodiscard]] std::vector<std::pair<std::string, Walk>> named_tables(std::string_view key);
  [[nodiscard]] std::vector<TextAt> texts(std::string_view key, Need need);
  /// Two quantities, ["0 mm", "8 mm"].
  [[nodiscard]] std::optional<std::pair<double, double>> pair(std::string_view key, Kind kind, Need need);
  /// The node itself, for what has several forms; complains when it is required and missing.
  [[nodiscard]] const toml::node* node(std::string_view key, Need need, std::string_view expected);
  /// One quantity of any node.
  [[nodiscard]] std::optional<double> quantity_of(const toml::node& node, const std::string& path, Kind kind,
                                                  Sign sign);

  void complain(std::string_view key, std::string found, std::string expected);
  /// Complains of what stands at key, as found.
  void complain(std::string_view key, std::string expected);
  [[nodiscard]] int line() const;
  [[nodiscard]] int line(std::string_view key) const;
  [[nodiscard]] std::string path(std::string_view key) const;
  [[nodiscard]] const std::string& path() const { return path_; }

  /// Keys that may stand here, though nobody asks for them: where what decides about them could not be read.
  void know(std::initializer_list<const char*> keys);
  void close();

 private:
  const toml::table* table_;
  int line_ = 0;  // where the table has none of its own
  std::string path_;
  Sink* sink_;
  std::vector<std::string> asked_;
};

}  // namespace hangtrue::sheet

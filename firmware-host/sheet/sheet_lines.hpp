// sheet_lines.hpp: where each key of a sheet stands, and its value as it was typed: for remarks on a sheet that could be read.
//
// Keys     as complaints name them: "support[2].rise", "material.steel.E", "stock.van".
#pragma once

#include <map>
#include <string>
#include <string_view>

namespace hangtrue::sheet {

class SheetLines {
 public:
  SheetLines() = default;
  /// Empty where the text is no TOML.
  explicit SheetLines(std::string_view text);

  /// Of the key, else of the table around it; 0 where neither stands there.
  [[nodiscard]] int line(std::string key) const;
  /// A text, without its quotes; empty where the key is not there or no text.
  [[nodiscard]] std::string typed(const std::string& key) const;

 private:
  struct Entry {
    int line;
    std::string typed;
  };
  std::map<std::string, Entry> entries_;
};

/// Of the file; empty where it cannot be read.
[[nodiscard]] SheetLines lines_of_file(const std::string& path);

}  // namespace hangtrue::sheet

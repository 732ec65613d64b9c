// keys.hpp: every key of the run sheet and of the kit sheet, described once: for `hangtrue explain` and `hangtrue new`, for the
// manual pages and for the JSON Schemas.
//
// The readers (run_sheet.cpp, kit_sheet.cpp and the files of their parts) decide what a sheet means; a test holds this table to them
// both ways: each key that they ask for stands here, each key here is asked for, each example is read without a complaint, and each
// default that is a value changes nothing where it is written down.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/sheet/units.hpp"

namespace hangtrue::sheet {

enum class SheetSort : std::uint8_t { run, kit };

/// What a value may be; several forms are joined by |.
namespace form {
inline constexpr unsigned text = 1, word = 2, quantity = 4, number = 8, share = 16, whole = 32, flag = 64,
                          date = 128, names = 256, pair = 512, quantities = 1024, table = 2048, tables = 4096;
}

enum class Must : std::uint8_t { always, may, depends };

struct Key {
  SheetSort sheet;
  std::string_view
      section;  // what its heading has: "support", "material.NAME", "instrument.channel"; empty at the top
  std::string_view name;  // below that heading: "rise", "adjust.rise"
  unsigned forms;
  std::optional<Kind> kind;  // of quantities, where it is always the same
  Must must;
  std::string_view words;  // apart by "|": of form::word
  std::string_view only;   // where it may stand, or must: "by = \"rod\""; empty: everywhere
  std::string_view
      otherwise;  // what counts where it is not there: a value as the sheet would have it, or words
  std::string_view limits;
  std::string_view instead;  // apart by "|": keys of the same table that may not stand beside it
  std::string_view says;     // what it is; a sentence
  std::string_view example;  // a line, or several, below the heading

  /// "support.adjust.rise"
  [[nodiscard]] std::string path() const;
};

struct Section {
  SheetSort sheet;
  std::string_view name;     // as in Key::section
  std::string_view heading;  // "[[support]]"; empty at the top
  bool must;
  std::string_view says;
};

/// In the order in which a sheet is best written.
[[nodiscard]] std::span<const Section> sections();
/// Section by section, in the order of sections().
[[nodiscard]] std::span<const Key> keys();

/// The parts of a text that stand apart by "|".
[[nodiscard]] std::vector<std::string> parts(std::string_view joined);
/// What a value may be, in words: "\"rigid\", \"free\" or a stiffness with its unit, such as \"12 kN/mm\" or \"68000 lbf/in\"".
[[nodiscard]] std::string value_words(const Key& key);

/// The keys that somebody means by a path or its end: "support.adjust.rise" is one, "adjust.rise" the same, "rise" are several. A
/// number in brackets, as complaints have it, does not count: "support[2].rise"; nor does the name of a material or a stock.
[[nodiscard]] std::vector<const Key*> keys_meant(std::string_view written);
/// "run.support.rise"...: the names nearest to one that means none.
[[nodiscard]] std::string nearest_key(std::string_view written);

}  // namespace hangtrue::sheet

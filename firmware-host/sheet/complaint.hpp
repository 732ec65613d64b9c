// complaint.hpp: one thing that is wrong with a file the user wrote, in words that let them mend it.
#pragma once

#include <string>
#include <vector>

namespace hangtrue::sheet {

struct Complaint {
  std::string file;
  int line = 0;          // 1 is the first; 0 where there is none (the file cannot be read)
  std::string key;       // "support[2].rise", "readings column at"; may be empty
  std::string found;     // as written, or what is missing
  std::string expected;  // what would be right

  /// "shelf.toml:31: support[2].rise: found \"12\", expected a stiffness with its unit, such as \"12 kN/mm\"".
  [[nodiscard]] std::string text() const;
};

/// One a line.
[[nodiscard]] std::string text(const std::vector<Complaint>& complaints);

}  // namespace hangtrue::sheet

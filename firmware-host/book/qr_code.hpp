// qr_code.hpp: a text as a QR code (ISO/IEC 18004), by libqrencode; drawn by whoever shows it: terminal, page, report.
//
// Form    byte mode, UTF-8 as it is, error correction M (about 15 % of the code may be spoilt), the smallest version.
// Margin  a reader needs kQuiet light modules on all sides; they are not part of the modules here.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace hangtrue::book {

struct QrCode {
  static constexpr int kQuiet = 4;  // modules
  int side = 0;                     // modules a side, 21 or more
  std::vector<bool> dark;           // side * side, row by row from the top

  /// Light outside of the code, so that margins need no care.
  [[nodiscard]] bool is_dark(int row, int column) const;
};

/// Nothing for an empty text or one that no QR code holds (2,331 bytes are the most).
[[nodiscard]] std::optional<QrCode> qr_code(std::string_view text);

/// Lines of a terminal, quiet margin included, two modules high a line: a block character (U+2580, U+2584, U+2588) is dark, a
/// space is light, as on paper. A terminal must be told to write black on white.
[[nodiscard]] std::vector<std::string> terminal_lines(const QrCode& code);

}  // namespace hangtrue::book

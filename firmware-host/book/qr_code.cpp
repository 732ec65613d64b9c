#include "firmware-host/book/qr_code.hpp"

#include <qrencode.h>

#include <array>
#include <memory>

namespace hangtrue::book {

bool QrCode::is_dark(int row, int column) const {
  if (row < 0 || column < 0 || row >= side || column >= side) return false;
  return dark[static_cast<std::size_t>(row * side + column)];
}

std::optional<QrCode> qr_code(std::string_view text) {
  struct Free {
    void operator()(QRcode* code) const { QRcode_free(code); }
  };
  const std::unique_ptr<QRcode, Free> encoded(
      QRcode_encodeData(static_cast<int>(text.size()), reinterpret_cast<const unsigned char*>(text.data()),
                        /*version: the smallest that holds it*/ 0, QR_ECLEVEL_M));
  if (!encoded) return std::nullopt;
  QrCode code;
  code.side = encoded->width;
  for (int i = 0; i < code.side * code.side; ++i) code.dark.push_back((encoded->data[i] & 1) != 0);
  return code;
}

std::vector<std::string> terminal_lines(const QrCode& code) {
  constexpr std::array<const char*, 4> kBlocks{" ", "\xE2\x96\x80", "\xE2\x96\x84", "\xE2\x96\x88"};
  std::vector<std::string> lines;
  for (int row = -QrCode::kQuiet; row < code.side + QrCode::kQuiet; row += 2) {
    std::string& line = lines.emplace_back();
    for (int column = -QrCode::kQuiet; column < code.side + QrCode::kQuiet; ++column)
      line += kBlocks[(code.is_dark(row, column) ? 1u : 0u) + (code.is_dark(row + 1, column) ? 2u : 0u)];
  }
  return lines;
}

}  // namespace hangtrue::book

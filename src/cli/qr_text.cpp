#include "cli/qr_text.h"

#include <qrencode.h>

#include <memory>

namespace ng::cli {

std::optional<std::string> qr_text(const std::string& text, bool colours) {
  const std::unique_ptr<QRcode, decltype(&QRcode_free)> code(QRcode_encodeString8bit(text.c_str(), 0, QR_ECLEVEL_M),
                                                             QRcode_free);
  if (code == nullptr) return std::nullopt;
  constexpr int kQuiet = 4;
  const int width = code->width;
  const auto dark = [&](int x, int y) {
    if (x < 0 || y < 0 || x >= width || y >= width) return false;
    return (code->data[y * width + x] & 1) != 0;
  };
  std::string out;
  for (int y = -kQuiet; y < width + kQuiet; y += 2) {
    if (colours) out += "\x1b[30;107m";
    for (int x = -kQuiet; x < width + kQuiet; ++x) {
      // The ink is the dark modules where we set the colours, else the light ones.
      const bool upper = dark(x, y) == colours, lower = dark(x, y + 1) == colours;
      out += upper && lower ? "█" : upper ? "▀" : lower ? "▄" : " ";
    }
    out += colours ? "\x1b[0m\n" : "\n";
  }
  return out;
}

}  // namespace ng::cli

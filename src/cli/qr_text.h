// cli/qr_text.h - a QR code (ISO/IEC 18004) as text for a terminal.
#pragma once

#include <optional>
#include <string>

namespace ng::cli {

// Two rows of modules in each line, black on white with a quiet zone of four modules as the standard asks; with
// `colours` as a terminal understands them, else for a light text on a dark ground. Nothing where `text` is too long.
[[nodiscard]] std::optional<std::string> qr_text(const std::string& text, bool colours);

}  // namespace ng::cli

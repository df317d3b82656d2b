#include "app/text_file.h"

#include <fmt/format.h>

#include <fstream>
#include <span>
#include <sstream>

#include "io/atomic_file.h"

namespace ng::app {

Result<std::string> read_text(const std::filesystem::path& path) {
  std::error_code failure;
  if (!std::filesystem::is_regular_file(path, failure))
    return Error(Code::kNotFound, fmt::format("there is no file {}", path.string()));
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  if (!file || (!text && std::filesystem::file_size(path, failure) > 0))
    return Error(Code::kIo, fmt::format("cannot read {}", path.string()));
  return text.str();
}

Result<void> write_text(const std::filesystem::path& path, const std::string& text, io::Overwrite overwrite) {
  NG_TRY(io::AtomicFile file, io::AtomicFile::create(path, overwrite));
  NG_CHECK(file.write_at(0, std::as_bytes(std::span(text))));
  return file.commit();
}

Result<std::filesystem::path> keep_before(const std::filesystem::path& path, const std::string& text) {
  for (int number = 1;; ++number) {
    const auto kept =
        path.parent_path() / fmt::format("{}.before-{}{}", path.stem().string(), number, path.extension().string());
    const auto written = write_text(kept, text, io::Overwrite::kRefuse);
    if (written.ok()) return kept;
    if (written.error().code() != Code::kExists) return written.error();
    NG_TRY(const std::string there, read_text(kept));
    if (there == text) return kept;
  }
}

}  // namespace ng::app

#include "io/open_frame.h"

#include <array>
#include <string_view>
#include <utility>

#include "io/byte_source.h"
#include "io/fits_source.h"
#include "io/system_error.h"

namespace ng::io {

Result<std::unique_ptr<FrameSource>> open_frame(const std::filesystem::path& path) {
  NG_TRY(auto bytes, open_bytes(path));
  std::array<char, 16> head{};
  auto read = bytes->read_at(0, std::as_writable_bytes(std::span(head)));
  if (!read.ok()) return std::move(read).error().in(path.string());
  const std::string_view start(head.data(), *read);
  if (start.empty()) return Error(Code::kCorrupt, "the file is empty").in(path.string());
  if (start.starts_with("SIMPLE  =")) return open_fits(path, std::move(bytes)).in(path.string());
  return Error(Code::kUnsupported, "this is no picture file that is known here (FITS, camera raw, TIFF or PNG)")
      .in(path.string());
}

}  // namespace ng::io

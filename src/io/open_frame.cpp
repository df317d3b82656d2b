#include "io/open_frame.h"

#include <array>
#include <string_view>
#include <utility>

#include "io/byte_source.h"
#include "io/fits_source.h"
#include "io/picture_source.h"
#include "io/raw_source.h"
#include "io/tiff_probe.h"

namespace ng::io {
namespace {

constexpr std::uint64_t kSmallestRaw = 512;  // less does not hold a directory and one row; a note or a log does

bool is_tiff(std::string_view start) {
  using namespace std::string_view_literals;
  return start.starts_with("II*\0"sv) || start.starts_with("MM\0*"sv) || start.starts_with("II+\0"sv) ||
         start.starts_with("MM\0+"sv);
}

Result<std::unique_ptr<FrameSource>> open_by_content(const std::filesystem::path& path,
                                                     std::unique_ptr<ByteSource> bytes) {
  std::array<char, 16> head{};
  NG_TRY(const std::size_t n, bytes->read_at(0, std::as_writable_bytes(std::span(head))));
  const std::string_view start(head.data(), n);
  if (start.empty()) return Error(Code::kCorrupt, "the file is empty");
  if (start.starts_with("SIMPLE  =")) return open_fits(path, std::move(bytes));
  if (bytes->compressed())
    return Error(Code::kUnsupported, "this gzip file holds no FITS image: only FITS is read inside gzip");
  if (start.starts_with("\x89PNG\r\n\x1a\n")) return open_png(path, std::move(bytes));
  const bool cr2 = start.size() > 10 && start.substr(8, 2) == "CR";
  if (is_tiff(start) && !cr2 && !tiff_is_camera_raw(*bytes)) return open_tiff(path, std::move(bytes));
  if (start.starts_with("\xFF\xD8\xFF"))
    return Error(Code::kUnsupported, "a JPEG picture is no frame: its values are rounded, curved and averaged");
  if (bytes->size().value_or(kSmallestRaw) < kSmallestRaw)
    return Error(Code::kUnsupported, "a file this small holds no picture");
  return open_raw(path);
}

}  // namespace

Result<std::unique_ptr<FrameSource>> open_frame(const std::filesystem::path& path) {
  NG_TRY(auto bytes, open_bytes(path));
  return open_by_content(path, std::move(bytes)).in(path.string());
}

}  // namespace ng::io

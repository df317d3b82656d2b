#include <fmt/format.h>

#include "io/facts_reader.h"
#include "io/picture_source.h"

namespace ng::io {
namespace {

constexpr std::int64_t kMaxPixels = std::int64_t{1} << 31;  // per plane; the largest sensors have 2e8
constexpr std::int64_t kMaxPixelsPerByte = 4096;            // beyond what deflate or LZW can pack of one value

}  // namespace

Result<FrameFacts> picture_facts(const std::filesystem::path& path, std::int64_t width, std::int64_t height, int planes,
                                 std::uint64_t file_bytes) {
  if (width < 1 || height < 1) return Error(Code::kCorrupt, "the picture has no pixels");
  if (width > kMaxPixels || height > kMaxPixels / width)
    return Error(Code::kUnsupported,
                 fmt::format("{} x {} pixels are more than one frame can have (2^31)", width, height));
  if (static_cast<std::uint64_t>(width * height / kMaxPixelsPerByte) > file_bytes)
    return Error(Code::kCorrupt,
                 fmt::format("{} x {} pixels cannot be packed into {} bytes", width, height, file_bytes));
  FrameFacts facts;
  facts.width = static_cast<int>(width);
  facts.height = static_cast<int>(height);
  facts.planes = planes;
  const FitsCards none;
  FactsReader reader(none, facts);
  read_kind(reader, path.filename().string());
  return facts;
}

}  // namespace ng::io

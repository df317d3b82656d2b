#include "io/fits_layout.h"

#include <fmt/format.h>

#include <array>
#include <limits>
#include <utility>

namespace ng::io {
namespace {

constexpr std::uint64_t kMaxHeaderBytes = std::uint64_t{16} << 20;  // 200 000 cards: no honest header is longer
constexpr std::int64_t kMaxAxis = std::numeric_limits<int>::max() / 4;
constexpr std::int64_t kMaxPixels = std::int64_t{1} << 31;  // per plane; the largest sensors have 2e8
constexpr std::uint64_t kMaxTileRatio = 16384;              // of unpacked to packed bytes, for any FITS tile code

constexpr std::uint64_t kHuge = std::uint64_t{1} << 60;

// a x b, or kHuge when it is that much or more.
[[nodiscard]] std::uint64_t product(std::uint64_t a, std::uint64_t b) {
  return b != 0 && a >= kHuge / b ? kHuge : a * b;
}

[[nodiscard]] std::uint64_t padded(std::uint64_t bytes) {
  return (bytes + kBlockBytes - 1) / kBlockBytes * kBlockBytes;
}

// The header that begins at `offset`, up to and without its END card, and its length in whole blocks.
struct RawHeader {
  std::string cards;
  std::uint64_t bytes = 0;
};
Result<RawHeader> read_header(ByteSource& bytes, std::uint64_t offset) {
  RawHeader header;
  std::array<char, kBlockBytes> block{};
  while (header.bytes < kMaxHeaderBytes) {
    NG_TRY(const std::size_t n, bytes.read_at(offset + header.bytes, std::as_writable_bytes(std::span(block))));
    const std::string_view text(block.data(), n);
    for (std::size_t at = 0; at + kCardBytes <= n; at += kCardBytes) {
      const std::string_view card = text.substr(at, kCardBytes);
      if (is_end_card(card)) {
        header.bytes += kBlockBytes;
        return header;
      }
      header.cards += card;
    }
    if (n < kBlockBytes)
      return Error(Code::kCorrupt, "the file ends inside its FITS header (no END card): copy it again from its source");
    header.bytes += kBlockBytes;
  }
  return Error(Code::kCorrupt, "the FITS header has no END card within 16 MB");
}

// Axes of the image part, with prefix "" or "Z".
Result<void> read_shape(FitsHdu& hdu, const std::string& prefix) {
  const auto bitpix = hdu.cards.integer(prefix + "BITPIX");
  const auto naxis = hdu.cards.integer(prefix + "NAXIS");
  if (!bitpix || !naxis || *naxis < 0 || *naxis > 999)
    return Error(Code::kCorrupt, fmt::format("the header has no valid {0}BITPIX and {0}NAXIS", prefix));
  if (*bitpix != 8 && *bitpix != 16 && *bitpix != 32 && *bitpix != 64 && *bitpix != -32 && *bitpix != -64)
    return Error(Code::kCorrupt, fmt::format("{}BITPIX = {} is no FITS pixel type", prefix, *bitpix));
  hdu.bitpix = static_cast<int>(*bitpix);
  std::array<std::int64_t, 3> axes{1, 1, 1};
  for (int i = 0; i < *naxis; ++i) {
    const auto n = hdu.cards.integer(fmt::format("{}NAXIS{}", prefix, i + 1));
    if (!n || *n < 0) return Error(Code::kCorrupt, fmt::format("{}NAXIS{} is missing or negative", prefix, i + 1));
    if (i < 3) axes[i] = *n;
    if (i >= 3 && *n != 1) hdu.flat_shape = false;
  }
  if (*naxis < 2) return {};  // no image here; width stays 0
  if (axes[0] > kMaxAxis || axes[1] > kMaxAxis || axes[2] > kMaxAxis)
    return Error(Code::kCorrupt, fmt::format("an image of {} x {} pixels cannot be", axes[0], axes[1]));
  hdu.width = static_cast<int>(axes[0]);
  hdu.height = static_cast<int>(axes[1]);
  hdu.planes = static_cast<int>(axes[2]);
  return {};
}

// |BITPIX|/8 x GCOUNT x (PCOUNT + NAXIS1 x NAXIS2 x ...), without overflow.
Result<std::uint64_t> data_size(const FitsCards& cards) {
  const auto bitpix = cards.integer("BITPIX");
  const auto naxis = cards.integer("NAXIS");
  if (!bitpix || !naxis || *naxis < 0 || *naxis > 999)
    return Error(Code::kCorrupt, "a header has no valid BITPIX and NAXIS");
  if (*naxis == 0) return std::uint64_t{0};
  std::uint64_t elements = 1;
  for (int i = 1; i <= *naxis; ++i) {
    const auto n = cards.integer(fmt::format("NAXIS{}", i));
    if (!n || *n < 0) return Error(Code::kCorrupt, fmt::format("NAXIS{} is missing or negative", i));
    if (i == 1 && *n == 0 && cards.is_true("GROUPS")) continue;  // random groups (section 6)
    elements = product(elements, static_cast<std::uint64_t>(*n));
  }
  const std::int64_t pcount = cards.find("PCOUNT") == nullptr ? 0 : cards.integer("PCOUNT").value_or(-1);
  const std::int64_t gcount = cards.find("GCOUNT") == nullptr ? 1 : cards.integer("GCOUNT").value_or(-1);
  if (pcount < 0 || gcount < 0) return Error(Code::kCorrupt, "PCOUNT or GCOUNT is negative or no number");
  const std::uint64_t all = product(elements + static_cast<std::uint64_t>(pcount), static_cast<std::uint64_t>(gcount));
  const std::uint64_t bytes = product(all, static_cast<std::uint64_t>(std::abs(*bitpix) / 8));
  if (bytes >= kHuge) return Error(Code::kCorrupt, "the data size in the header cannot be");
  return bytes;
}

Result<void> check_fits_into_file(const FitsHdu& hdu, ByteSource& bytes) {
  const std::uint64_t end = hdu.data_offset + hdu.data_bytes;
  const std::uint64_t there = bytes.size().value_or(bytes.size_limit());
  if (end <= there) return {};
  const std::uint64_t have = there > hdu.data_offset ? there - hdu.data_offset : 0;
  return Error(Code::kCorrupt,
               fmt::format("the file is cut off: its header promises {} bytes of pixels, {} are there; copy it again "
                           "from its source",
                           hdu.data_bytes, have));
}

// Reads the HDU at `offset`; nothing where the file ends there.
Result<std::optional<FitsHdu>> read_hdu(ByteSource& bytes, std::uint64_t offset, int index) {
  std::array<char, 8> first{};
  NG_TRY(const std::size_t n, bytes.read_at(offset, std::as_writable_bytes(std::span(first))));
  const std::string_view expected = index == 0 ? "SIMPLE  " : "XTENSION";
  if (std::string_view(first.data(), n) != expected) return std::optional<FitsHdu>();  // section 3.5: may be anything
  NG_TRY(RawHeader raw, read_header(bytes, offset));
  FitsHdu hdu;
  hdu.index = index;
  hdu.cards = FitsCards::scan(raw.cards);
  const std::string type = upper(hdu.cards.text("XTENSION").value_or(""));
  NG_TRY(hdu.data_bytes, data_size(hdu.cards));
  hdu.data_offset = offset + raw.bytes;
  hdu.name = upper(hdu.cards.text("EXTNAME").value_or(""));
  if ((index == 0 && !hdu.cards.is_true("GROUPS")) || type == "IMAGE") {
    hdu.kind = HduKind::kImage;
    NG_CHECK(read_shape(hdu, ""));
  } else if (type == "BINTABLE" && hdu.cards.is_true("ZIMAGE")) {
    hdu.kind = HduKind::kTiledImage;
    NG_CHECK(read_shape(hdu, "Z"));
  }
  return std::optional(std::move(hdu));
}

Result<void> check_is_frame(const FitsHdu& hdu) {
  if (!hdu.flat_shape || (hdu.planes != 1 && hdu.planes != 3))
    return Error(Code::kUnsupported,
                 fmt::format("the image has {} planes: a frame has one, or three for colour", hdu.planes));
  if (std::int64_t{hdu.width} * hdu.height > kMaxPixels)
    return Error(Code::kUnsupported,
                 fmt::format("{} x {} pixels are more than one frame can have (2^31)", hdu.width, hdu.height));
  const auto unpacked = static_cast<std::uint64_t>(hdu.width) * hdu.height * hdu.planes * std::abs(hdu.bitpix) / 8;
  if (hdu.kind == HduKind::kTiledImage && unpacked > product(hdu.data_bytes, kMaxTileRatio))
    return Error(Code::kCorrupt,
                 fmt::format("{} x {} pixels cannot be packed into {} bytes", hdu.width, hdu.height, hdu.data_bytes));
  return {};
}

bool is_mask(const FitsHdu& hdu) {
  return hdu.name == "BPM" || hdu.name == "MASK";
}

}  // namespace

Result<FitsLayout> read_fits_layout(ByteSource& bytes) {
  NG_TRY(auto primary, read_hdu(bytes, 0, 0));
  if (!primary) return Error(Code::kCorrupt, "the file does not begin with a FITS header");
  const FitsCards primary_cards = primary->cards;
  std::optional<FitsHdu> image;
  std::optional<FitsHdu> mask;
  std::optional<FitsHdu> hdu = std::move(primary);
  for (int index = 0; hdu && !(image && mask); ++index) {
    NG_CHECK(check_fits_into_file(*hdu, bytes));
    const std::uint64_t next = hdu->data_offset + padded(hdu->data_bytes);
    const bool holds_image = hdu->holds_pixels() && !is_mask(*hdu);
    if (holds_image && !image) {
      image = std::move(hdu);
    } else if (hdu->holds_pixels() && !holds_image && !mask) {
      mask = std::move(hdu);
    }
    // Looking for extensions behind the pixels means unpacking all of a gzip file: only when the header announces some.
    if (index == 0 && image && bytes.compressed() && !primary_cards.is_true("EXTEND")) break;
    NG_TRY(hdu, read_hdu(bytes, next, index + 1));
  }
  if (!image) return Error(Code::kUnsupported, "the FITS file holds no image");
  NG_CHECK(check_is_frame(*image));
  if (mask && (mask->width != image->width || mask->height != image->height || mask->planes != 1)) mask.reset();
  if (mask) NG_CHECK(check_is_frame(*mask));
  FitsLayout layout{std::move(*image), std::move(mask), {}};
  layout.cards = layout.image.cards;
  if (layout.image.index > 0) layout.cards.inherit(primary_cards);
  return layout;
}

Result<FitsLayout> read_fits_layout_of(ByteSource& bytes, const std::string& name) {
  const std::string wanted = upper(name);
  NG_TRY(auto hdu, read_hdu(bytes, 0, 0));
  if (!hdu) return Error(Code::kCorrupt, "the file does not begin with a FITS header");
  for (int index = 1; hdu; ++index) {
    NG_CHECK(check_fits_into_file(*hdu, bytes));
    if (hdu->holds_pixels() && hdu->name == wanted) {
      NG_CHECK(check_is_frame(*hdu));
      FitsLayout layout{std::move(*hdu), {}, {}};
      layout.cards = layout.image.cards;
      return layout;
    }
    const std::uint64_t next = hdu->data_offset + padded(hdu->data_bytes);
    NG_TRY(hdu, read_hdu(bytes, next, index));
  }
  return Error(Code::kNotFound, fmt::format("the FITS file has no image extension {}", wanted));
}

}  // namespace ng::io

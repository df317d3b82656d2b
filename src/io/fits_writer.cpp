#include "io/fits_writer.h"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <utility>

#include "io/atomic_file.h"
#include "io/fits_card.h"
#include "io/fits_checksum.h"
#include "io/fits_encode.h"
#include "io/fits_header_text.h"

namespace ng::io {
namespace {

constexpr std::size_t kChunkBytes = std::size_t{256} << 10;

struct Hdu {
  FitsImageSpec spec;
  HeaderText header;
  std::uint64_t offset = 0;  // of the header in the file
  OnesComplementSum sum;     // of the rows written so far
  std::vector<bool> written;
  bool rewritten = false;  // a row was written twice: the sum no longer stands, it is taken from the file

  [[nodiscard]] std::uint64_t pixel_bytes() const { return spec.pixel == FitsPixel::kFloat32 ? 4 : 2; }
  [[nodiscard]] std::uint64_t row_bytes() const { return pixel_bytes() * static_cast<std::uint64_t>(spec.width); }
  [[nodiscard]] std::uint64_t data_offset() const { return offset + header.text.size(); }
  [[nodiscard]] std::uint64_t data_bytes() const {
    return row_bytes() * static_cast<std::uint64_t>(spec.height) * static_cast<std::uint64_t>(spec.planes);
  }
  [[nodiscard]] std::uint64_t end() const {
    return data_offset() + (data_bytes() + kBlockBytes - 1) / kBlockBytes * kBlockBytes;
  }
};

}  // namespace

struct FitsWriter::State {
  explicit State(AtomicFile f) : file(std::move(f)) {}

  // encode(y, out, second_half) turns row y of the view into words and returns their sum.
  template <typename Encode>
  [[nodiscard]] Result<void> write(int index, int plane, int y0, int rows, const Encode& encode) {
    Hdu& hdu = hdus[static_cast<std::size_t>(index)];
    const std::uint64_t row_bytes = hdu.row_bytes();
    const std::uint64_t first = static_cast<std::uint64_t>(plane) * hdu.spec.height + y0;
    const int at_once = static_cast<int>(std::clamp<std::uint64_t>(kChunkBytes / row_bytes, 1, rows + 1));
    buffer.resize(row_bytes * at_once);
    for (int y = 0; y < rows; y += at_once) {
      const int n = std::min(at_once, rows - y);
      for (int i = 0; i < n; ++i) {
        const std::uint64_t row = first + y + i;
        const bool second_half = row * row_bytes % 4 != 0;
        hdu.sum.add_words(encode(y + i, buffer.data() + row_bytes * i, second_half));
        hdu.rewritten = hdu.rewritten || hdu.written[row];
        hdu.written[row] = true;
      }
      NG_CHECK(file.write_at(hdu.data_offset() + (first + y) * row_bytes, std::span(buffer).first(row_bytes * n)));
    }
    return {};
  }

  [[nodiscard]] Result<void> finish(Hdu& hdu) {
    const auto missing = std::count(hdu.written.begin(), hdu.written.end(), false);
    if (missing > 0)
      return Error(Code::kInvalidInput, fmt::format("{} rows of '{}' were never written", missing, hdu.spec.name));
    if (hdu.rewritten) NG_CHECK(sum_again(hdu));
    const std::uint32_t datasum = hdu.sum.value();
    NG_TRY(const std::string datasum_card, format_card({"DATASUM", std::to_string(datasum), "sum of the data"}));
    NG_TRY(const std::string blank, format_card({"CHECKSUM", std::string(16, '0'), "sum of header and data"}));
    hdu.header.text.replace(hdu.header.datasum_at, kCardBytes, datasum_card);
    hdu.header.text.replace(hdu.header.checksum_at, kCardBytes, blank);
    OnesComplementSum all;
    all.add(std::as_bytes(std::span(hdu.header.text)));
    all.add_words(datasum);
    NG_TRY(const std::string checksum_card,
           format_card({"CHECKSUM", encode_checksum(all.value()), "sum of header and data"}));
    hdu.header.text.replace(hdu.header.checksum_at, kCardBytes, checksum_card);
    return file.write_at(hdu.offset, std::as_bytes(std::span(hdu.header.text)));
  }

  [[nodiscard]] Result<void> sum_again(Hdu& hdu) {
    hdu.sum = {};
    for (std::uint64_t at = 0; at < hdu.data_bytes(); at += buffer.size()) {
      buffer.resize(std::min<std::uint64_t>(kChunkBytes, hdu.data_bytes() - at));
      NG_CHECK(file.read_at(hdu.data_offset() + at, buffer));
      hdu.sum.add(buffer);
    }
    return {};
  }

  AtomicFile file;
  std::vector<Hdu> hdus;
  std::vector<std::byte> buffer;
  std::vector<std::uint16_t> rounded;
};

FitsWriter::FitsWriter(std::unique_ptr<State> state) : state_(std::move(state)) {}
FitsWriter::FitsWriter(FitsWriter&&) noexcept = default;
FitsWriter& FitsWriter::operator=(FitsWriter&&) noexcept = default;
FitsWriter::~FitsWriter() = default;

Result<FitsWriter> FitsWriter::create(const std::filesystem::path& path, Overwrite overwrite) {
  NG_TRY(AtomicFile file, AtomicFile::create(path, overwrite));
  return FitsWriter(std::make_unique<State>(std::move(file)));
}

Result<int> FitsWriter::add_image(const FitsImageSpec& spec) {
  const int index = static_cast<int>(state_->hdus.size());
  Hdu hdu;
  hdu.spec = spec;
  hdu.spec.cards.clear();
  NG_TRY(hdu.header, format_header(spec, index));
  hdu.offset = index == 0 ? 0 : state_->hdus.back().end();
  hdu.written.assign(static_cast<std::size_t>(spec.height) * spec.planes, false);
  NG_CHECK(state_->file.reserve(hdu.end()));
  state_->hdus.push_back(std::move(hdu));
  return index;
}

Result<void> FitsWriter::write_rows(int hdu, int plane, int y0, View<const float> rows) {
  const FitsImageSpec& spec = state_->hdus[static_cast<std::size_t>(hdu)].spec;
  assert(plane >= 0 && plane < spec.planes && y0 >= 0 && y0 + rows.height <= spec.height && rows.width == spec.width);
  if (spec.pixel == FitsPixel::kFloat32)
    return state_->write(hdu, plane, y0, rows.height, [&](int y, std::byte* out, bool) {
      return encode_float(rows.row(y), out, static_cast<std::size_t>(rows.width));
    });
  std::vector<std::uint16_t>& rounded = state_->rounded;
  rounded.resize(static_cast<std::size_t>(rows.width));
  return state_->write(hdu, plane, y0, rows.height, [&](int y, std::byte* out, bool second_half) {
    round_to_uint16(rows.row(y), rounded.data(), rounded.size());
    return encode_uint16(rounded.data(), out, rounded.size(), second_half);
  });
}

Result<void> FitsWriter::write_rows(int hdu, int plane, int y0, View<const std::uint16_t> rows) {
  const FitsImageSpec& spec = state_->hdus[static_cast<std::size_t>(hdu)].spec;
  assert(plane >= 0 && plane < spec.planes && y0 >= 0 && y0 + rows.height <= spec.height && rows.width == spec.width);
  if (spec.pixel == FitsPixel::kUint16)
    return state_->write(hdu, plane, y0, rows.height, [&](int y, std::byte* out, bool second_half) {
      return encode_uint16(rows.row(y), out, static_cast<std::size_t>(rows.width), second_half);
    });
  std::vector<float> row(static_cast<std::size_t>(rows.width));
  return state_->write(hdu, plane, y0, rows.height, [&](int y, std::byte* out, bool) {
    std::copy_n(rows.row(y), rows.width, row.begin());
    return encode_float(row.data(), out, row.size());
  });
}

Result<void> FitsWriter::commit() {
  if (state_->hdus.empty()) return Error(Code::kInvalidInput, "a FITS file without an image was to be written");
  for (Hdu& hdu : state_->hdus) NG_CHECK(state_->finish(hdu));
  return state_->file.commit();
}

}  // namespace ng::io

#include "io/fits_card_change.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <span>
#include <string>

#include "io/atomic_file.h"
#include "io/byte_source.h"
#include "io/fits_card.h"
#include "io/fits_checksum.h"
#include "io/fits_header_text.h"
#include "io/fits_layout.h"

namespace ng::io {
namespace {

Result<std::string> read_text(ByteSource& bytes, std::uint64_t offset, std::size_t count) {
  std::string text(count, '\0');
  NG_TRY(const std::size_t n, bytes.read_at(offset, std::as_writable_bytes(std::span(text))));
  if (n != count) return Error(Code::kCorrupt, "the file ends inside a header");
  return text;
}

// The header that ends where the data begin: blocks backwards to the one that begins like a header.
Result<std::pair<std::uint64_t, std::string>> header_before(ByteSource& bytes, std::uint64_t data_offset) {
  std::string header;
  for (std::uint64_t at = data_offset; at >= kBlockBytes;) {
    at -= kBlockBytes;
    NG_TRY(const std::string block, read_text(bytes, at, kBlockBytes));
    header.insert(0, block);
    if (block.starts_with("SIMPLE  =") || block.starts_with("XTENSION=")) return std::pair(at, header);
  }
  return Error(Code::kCorrupt, "the header of the image has no beginning");
}

std::string name_of(std::string_view card) {
  return std::string(trimmed(card.substr(0, 8)));
}

Result<std::string> changed_header(const std::string& header, const std::function<bool(std::string_view)>& drop,
                                   const std::vector<FitsCard>& add) {
  std::string text, datasum;
  bool summed = false;
  bool dropping = false;
  for (std::size_t at = 0; at + kCardBytes <= header.size(); at += kCardBytes) {
    const std::string_view card = std::string_view(header).substr(at, kCardBytes);
    if (is_end_card(card)) break;
    const std::string name = name_of(card);
    // A text that is continued goes with the card that it continues.
    dropping = name == "CONTINUE" ? dropping : drop(name) || name == "CHECKSUM";
    summed = summed || name == "CHECKSUM";
    if (name == "DATASUM") {
      datasum = FitsCards::scan(card).text("DATASUM").value_or("");
    }
    if (!dropping) text += card;
  }
  // Blank cards before END are room for growth: what is added may have it.
  while (text.size() >= kCardBytes && trimmed(std::string_view(text).substr(text.size() - kCardBytes)).empty())
    text.resize(text.size() - kCardBytes);
  for (const FitsCard& card : add) {
    NG_TRY(const std::string cards, format_card(card));
    text += cards;
  }
  std::uint32_t data = 0;
  const auto [end, error] = std::from_chars(datasum.data(), datasum.data() + datasum.size(), data);
  const bool known = summed && !datasum.empty() && error == std::errc() && end == datasum.data() + datasum.size();
  const std::size_t checksum_at = text.size();
  if (known) {
    NG_TRY(const std::string blank, format_card({"CHECKSUM", std::string(16, '0'), "sum of header and data"}));
    text += blank;
  }
  std::string last = "END";
  last.resize(kCardBytes, ' ');
  text += last;
  text.resize((text.size() + kBlockBytes - 1) / kBlockBytes * kBlockBytes, ' ');
  if (known) {
    OnesComplementSum all;
    all.add(std::as_bytes(std::span(text)));
    all.add_words(data);
    NG_TRY(const std::string sum, format_card({"CHECKSUM", encode_checksum(all.value()), "sum of header and data"}));
    text.replace(checksum_at, kCardBytes, sum);
  }
  return text;
}

// Copies what stands from `from` on to the end of the data.
Result<std::uint64_t> copy_rest(ByteSource& bytes, std::uint64_t from, std::uint64_t end, AtomicFile& file,
                                std::uint64_t to) {
  std::vector<std::byte> buffer(std::size_t{1} << 20);
  while (from < end) {
    const auto want = static_cast<std::size_t>(std::min<std::uint64_t>(buffer.size(), end - from));
    NG_TRY(const std::size_t n, bytes.read_at(from, std::span(buffer).first(want)));
    NG_CHECK(file.write_at(to, std::span<const std::byte>(buffer).first(n)));
    from += n;
    to += n;
    if (n < want) break;
  }
  return to;
}

Result<void> change(ByteSource& bytes, const std::filesystem::path& to,
                    const std::function<bool(std::string_view)>& drop, const std::vector<FitsCard>& add,
                    Overwrite overwrite) {
  std::array<char, 9> start{};
  NG_TRY(const std::size_t n, bytes.read_at(0, std::as_writable_bytes(std::span(start))));
  if (std::string_view(start.data(), n) != "SIMPLE  =")
    return Error(Code::kUnsupported, "only a FITS file has a header that can hold a solution");
  NG_TRY(const FitsLayout layout, read_fits_layout(bytes));
  NG_TRY(const auto found, header_before(bytes, layout.image.data_offset));
  const auto& [offset, header] = found;
  NG_TRY(const std::string text, changed_header(header, drop, add));
  NG_TRY(AtomicFile file, AtomicFile::create(to, overwrite));
  NG_TRY(std::uint64_t at, copy_rest(bytes, 0, offset, file, 0));
  NG_CHECK(file.write_at(at, std::as_bytes(std::span(text))));
  at += text.size();
  NG_TRY(at, copy_rest(bytes, layout.image.data_offset, ~std::uint64_t{0}, file, at));
  return file.commit();
}

}  // namespace

Result<void> change_fits_cards(const std::filesystem::path& from, const std::filesystem::path& to,
                               const std::function<bool(std::string_view)>& drop, const std::vector<FitsCard>& add,
                               Overwrite overwrite) {
  NG_TRY(auto bytes, open_bytes(from));
  std::error_code ignored;
  if (bytes->compressed() && std::filesystem::equivalent(from, to, ignored))
    return Error(Code::kUnsupported,
                 from.string() + ": a file inside gzip is not changed in place; have a copy written instead");
  return change(*bytes, to, drop, add, overwrite).in(from.string());
}

}  // namespace ng::io

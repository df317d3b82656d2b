#include "app/verified_copy.h"

#include <fcntl.h>
#include <fmt/format.h>

#include <cerrno>
#include <span>
#include <vector>

#include "io/content_hash.h"
#include "io/file_descriptor.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kPieceBytes = std::size_t{256} << 10;  // stays in the cache of the core that hashes and writes it

Result<io::FileDescriptor> open_to_read(const fs::path& path) {
  io::FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (!file.open()) return io::system_error("cannot read " + io::quoted(path), errno);
  return file;
}

// Gives the file piece by piece to `take`.
template <typename Take>
Result<void> read_all(const io::FileDescriptor& file, const fs::path& path, const Context& ctx, Take&& take) {
  std::vector<std::byte> piece(kPieceBytes);
  ::posix_fadvise(file.get(), 0, 0, POSIX_FADV_SEQUENTIAL);
  while (true) {
    if (ctx.cancelled()) return Error(Code::kCancelled, "stopped; run the same again to go on");
    const ssize_t n = ::read(file.get(), piece.data(), piece.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return io::system_error("cannot read " + io::quoted(path), errno);
    if (n == 0) return {};
    NG_CHECK(take(std::span(piece).first(static_cast<std::size_t>(n))));
    ctx.advance(n);
  }
}

Result<std::string> hash_open(const io::FileDescriptor& file, const fs::path& path, const Context& ctx) {
  io::ContentHash hash;
  NG_CHECK(read_all(file, path, ctx, [&](std::span<const std::byte> bytes) -> Result<void> {
    hash.add(bytes);
    return {};
  }));
  return hash.text();
}

}  // namespace

Result<std::string> hash_file(const fs::path& path, const Context& ctx) {
  NG_TRY(const io::FileDescriptor file, open_to_read(path));
  return hash_open(file, path, ctx);
}

Result<std::string> hash_from_disk(const fs::path& path, const Context& ctx) {
  NG_TRY(const io::FileDescriptor file, open_to_read(path));
  if (::fsync(file.get()) != 0 && errno != EROFS && errno != EINVAL)
    return io::system_error("cannot write " + io::quoted(path), errno);
  ::posix_fadvise(file.get(), 0, 0, POSIX_FADV_DONTNEED);
  return hash_open(file, path, ctx);
}

Result<VerifiedCopy> copy_hashed(const fs::path& from, const fs::path& to, const Context& ctx) {
  const auto source = open_to_read(from);
  if (!source.ok()) return VerifiedCopy{std::nullopt, {}, source.error().message()};
  NG_TRY(io::AtomicFile copy, io::AtomicFile::create(to, io::Overwrite::kRefuse));
  io::ContentHash hash;
  std::uint64_t at = 0;
  Result<void> written;
  const auto read = read_all(*source, from, ctx, [&](std::span<const std::byte> bytes) -> Result<void> {
    hash.add(bytes);
    written = copy.write_at(at, bytes);
    at += bytes.size();
    return written;
  });
  if (!read.ok()) {
    if (!written.ok() || read.error().code() == Code::kCancelled) return read.error();
    return VerifiedCopy{std::nullopt, {}, read.error().message()};
  }
  return VerifiedCopy{std::move(copy), hash.text(), {}};
}

Result<void> read_back(const fs::path& temporary, const fs::path& to, const std::string& hash, const Context& ctx) {
  Context silent = ctx;
  silent.progress = nullptr;
  NG_TRY(const std::string back, hash_from_disk(temporary, silent));
  if (back != hash)
    return Error(Code::kCorrupt, fmt::format("{}: what the disk gave back differs from what was written; the copy was "
                                             "thrown away: try again, and do not trust this disk",
                                             io::quoted(to)));
  return {};
}

Result<VerifiedCopy> copy_verified(const fs::path& from, const fs::path& to, const Context& ctx) {
  NG_TRY(VerifiedCopy made, copy_hashed(from, to, ctx));
  if (made.file) NG_CHECK(read_back(made.file->temporary_path(), to, made.hash, ctx));
  return made;
}

}  // namespace ng::app

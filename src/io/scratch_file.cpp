#include "io/scratch_file.h"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <filesystem>
#include <utility>

#include "io/system_error.h"

namespace ng::io {
namespace {

constexpr const char* kDoing = "cannot use the folder for temporary files (set TMPDIR to another one)";

}  // namespace

Result<ScratchFile> ScratchFile::create() {
  std::error_code error;
  const std::filesystem::path folder = std::filesystem::temp_directory_path(error);
  if (error) return system_error(kDoing, error.value());
  FileDescriptor file(::open(folder.c_str(), O_TMPFILE | O_RDWR | O_CLOEXEC, 0600));
  if (file.open()) return ScratchFile(std::move(file));
  std::string name = (folder / "nightglass-XXXXXX").string();  // a file system without nameless files
  FileDescriptor named(::mkostemp(name.data(), O_CLOEXEC));
  if (!named.open()) return system_error(kDoing, errno);
  ::unlink(name.c_str());
  return ScratchFile(std::move(named));
}

Result<void> ScratchFile::write_at(std::uint64_t offset, std::span<const std::byte> bytes) {
  while (!bytes.empty()) {
    const ssize_t n = ::pwrite(file_.get(), bytes.data(), bytes.size(), static_cast<off_t>(offset));
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return system_error(kDoing, errno);
    offset += static_cast<std::uint64_t>(n);
    bytes = bytes.subspan(static_cast<std::size_t>(n));
  }
  return {};
}

Result<void> ScratchFile::read_at(std::uint64_t offset, std::span<std::byte> bytes) const {
  while (!bytes.empty()) {
    const ssize_t n = ::pread(file_.get(), bytes.data(), bytes.size(), static_cast<off_t>(offset));
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return system_error(kDoing, n < 0 ? errno : EIO);
    offset += static_cast<std::uint64_t>(n);
    bytes = bytes.subspan(static_cast<std::size_t>(n));
  }
  return {};
}

}  // namespace ng::io

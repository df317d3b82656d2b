#include "io/atomic_file.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <utility>

#include "io/system_error.h"

namespace ng::io {
namespace fs = std::filesystem;
namespace {

constexpr std::size_t kNameBytes = 200;  // of the final name in the temporary one: the system allows 255 for all
constexpr std::uint64_t kSendBytes = std::uint64_t{32} << 20;

fs::path folder_of(const fs::path& path) {
  return path.has_parent_path() ? path.parent_path() : fs::path(".");
}

Error exists_already(const fs::path& path) {
  return {Code::kExists,
          fmt::format("{} exists already and is not overwritten: choose another name, or ask for it to be "
                      "replaced",
                      quoted(path))};
}

}  // namespace

Result<AtomicFile> AtomicFile::create(const fs::path& path, Overwrite overwrite) {
  const fs::path folder = folder_of(path);
  std::error_code ignored;
  if (!path.has_filename()) return Error(Code::kInvalidInput, fmt::format("{} is no file name", quoted(path)));
  if (!fs::exists(folder, ignored))
    return Error(Code::kNotFound,
                 fmt::format("cannot write {}: the folder {} does not exist", quoted(path), quoted(folder)));
  if (!fs::is_directory(folder, ignored))
    return Error(Code::kIo, fmt::format("cannot write {}: {} is not a folder", quoted(path), quoted(folder)));
  if (fs::is_directory(path, ignored))
    return Error(Code::kExists, fmt::format("cannot write {}: a folder has that name", quoted(path)));
  if (overwrite == Overwrite::kRefuse && fs::exists(fs::symlink_status(path, ignored))) return exists_already(path);

  AtomicFile out;
  out.path_ = path;
  out.overwrite_ = overwrite;
  // The temporary name is cut; whether the final one fits is asked now, not when all is written.
  std::error_code named;
  static_cast<void>(fs::symlink_status(path, named));
  if (named == std::errc::filename_too_long) return out.refused(ENAMETOOLONG);
  for (int n = 0; n < 1000; ++n) {
    const fs::path name =
        folder / fmt::format(".{}.{}-{}.part", path.filename().string().substr(0, kNameBytes), ::getpid(), n);
    out.file_ = FileDescriptor(::open(name.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0666));
    if (out.file_.open()) {
      out.temporary_ = name;
      return out;
    }
    if (errno != EEXIST) return out.refused(errno);
  }
  return Error(Code::kIo, fmt::format("cannot write {}: the folder is full of left-over .part files", quoted(path)));
}

AtomicFile::AtomicFile(AtomicFile&& other) noexcept
    : path_(std::move(other.path_)),
      temporary_(std::exchange(other.temporary_, {})),
      file_(std::move(other.file_)),
      overwrite_(other.overwrite_),
      unsent_(other.unsent_) {}

AtomicFile& AtomicFile::operator=(AtomicFile&& other) noexcept {
  if (this == &other) return *this;
  remove_temporary();
  path_ = std::move(other.path_);
  temporary_ = std::exchange(other.temporary_, {});
  file_ = FileDescriptor(std::move(other.file_));
  overwrite_ = other.overwrite_;
  unsent_ = other.unsent_;
  return *this;
}

AtomicFile::~AtomicFile() {
  remove_temporary();
}

void AtomicFile::remove_temporary() noexcept {
  if (!temporary_.empty()) ::unlink(temporary_.c_str());
  temporary_.clear();
}

Error AtomicFile::refused(int error_number) const {
  return system_error("cannot write " + quoted(path_), error_number);
}

Result<void> AtomicFile::write_at(std::uint64_t offset, std::span<const std::byte> bytes) {
  unsent_ += bytes.size();
  while (!bytes.empty()) {
    const ssize_t n = ::pwrite(file_.get(), bytes.data(), bytes.size(), static_cast<off_t>(offset));
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return refused(errno);
    offset += static_cast<std::uint64_t>(n);
    bytes = bytes.subspan(static_cast<std::size_t>(n));
  }
  // The disk may begin while we compute, so that commit() has little to wait for. Only a hint: it may fail.
  if (unsent_ >= kSendBytes) {
    ::sync_file_range(file_.get(), 0, 0, SYNC_FILE_RANGE_WRITE);
    unsent_ = 0;
  }
  return {};
}

Result<void> AtomicFile::read_at(std::uint64_t offset, std::span<std::byte> bytes) const {
  while (!bytes.empty()) {
    const ssize_t n = ::pread(file_.get(), bytes.data(), bytes.size(), static_cast<off_t>(offset));
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return refused(errno);
    if (n == 0) return refused(EIO);
    offset += static_cast<std::uint64_t>(n);
    bytes = bytes.subspan(static_cast<std::size_t>(n));
  }
  return {};
}

Result<void> AtomicFile::reserve(std::uint64_t bytes) {
  const auto length = static_cast<off_t>(bytes);
  // fallocate, not posix_fallocate: on a file system that cannot reserve, writing zeros instead would cost minutes.
  if (::fallocate(file_.get(), 0, 0, length) != 0 && errno != EOPNOTSUPP && errno != ENOSYS && errno != EINVAL)
    return refused(errno);
  if (::ftruncate(file_.get(), length) != 0) return refused(errno);
  return {};
}

Result<void> AtomicFile::commit() {
  if (::fsync(file_.get()) != 0) return refused(errno);
  if (!file_.close()) return refused(errno);
  if (overwrite_ == Overwrite::kReplace) {
    if (std::rename(temporary_.c_str(), path_.c_str()) != 0) return refused(errno);
  } else if (::renameat2(AT_FDCWD, temporary_.c_str(), AT_FDCWD, path_.c_str(), RENAME_NOREPLACE) != 0) {
    if (errno == EEXIST) return exists_already(path_);
    // A file system without that call: a second name, refused if it is taken, then the first one goes.
    if (::link(temporary_.c_str(), path_.c_str()) != 0) {
      if (errno == EEXIST) return exists_already(path_);
      if (errno != EPERM && errno != EOPNOTSUPP) return refused(errno);
      // Nor links (FAT): look once more, then rename.
      if (fs::exists(fs::symlink_status(path_))) return exists_already(path_);
      if (std::rename(temporary_.c_str(), path_.c_str()) != 0) return refused(errno);
    } else {
      ::unlink(temporary_.c_str());
    }
  }
  temporary_.clear();
  const FileDescriptor folder(::open(folder_of(path_).c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (folder.open()) ::fsync(folder.get());  // the name itself; some file systems refuse, and the data are safe anyway
  return {};
}

}  // namespace ng::io

#include "io/byte_source.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>

#include <array>
#include <cerrno>
#include <utility>

#include "io/file_descriptor.h"
#include "io/gzip_bytes.h"
#include "io/system_error.h"

namespace ng::io {
namespace {

class PlainBytes final : public ByteSource {
 public:
  PlainBytes(std::filesystem::path path, const struct stat& status)
      : path_(std::move(path)), size_(static_cast<std::uint64_t>(status.st_size)), changed_(status.st_mtim) {}

  [[nodiscard]] Result<std::size_t> read_at(std::uint64_t offset, std::span<std::byte> out) override {
    if (!file_.open()) file_ = FileDescriptor(::open(path_.c_str(), O_RDONLY | O_CLOEXEC));
    if (!file_.open()) return system_error("cannot read " + quoted(path_), errno);
    auto read = read_if_unchanged(offset, out);
    if (!kept_open_) file_ = FileDescriptor();
    return read;
  }
  [[nodiscard]] std::optional<std::uint64_t> size() const override { return size_; }
  [[nodiscard]] std::uint64_t size_limit() const override { return size_; }
  [[nodiscard]] Result<void> verify_to_end() override { return {}; }
  [[nodiscard]] bool compressed() const override { return false; }
  void keep_open(bool wanted) override {
    kept_open_ = wanted;
    if (!wanted) file_ = FileDescriptor();
  }

 private:
  [[nodiscard]] Result<std::size_t> read_if_unchanged(std::uint64_t offset, std::span<std::byte> out) const {
    struct stat now {};
    if (::fstat(file_.get(), &now) != 0) return system_error("cannot read " + quoted(path_), errno);
    if (static_cast<std::uint64_t>(now.st_size) != size_ || now.st_mtim.tv_sec != changed_.tv_sec ||
        now.st_mtim.tv_nsec != changed_.tv_nsec)
      return Error(Code::kIo, fmt::format("{} was changed while it was in use", quoted(path_)));
    std::size_t done = 0;
    while (done < out.size()) {
      const ssize_t n = ::pread(file_.get(), out.data() + done, out.size() - done, static_cast<off_t>(offset + done));
      if (n < 0 && errno == EINTR) continue;
      if (n < 0) return system_error("cannot read " + quoted(path_), errno);
      if (n == 0) break;
      done += static_cast<std::size_t>(n);
    }
    return done;
  }

  std::filesystem::path path_;
  std::uint64_t size_;
  timespec changed_;
  FileDescriptor file_;  // open where it is kept so
  bool kept_open_ = false;
};

}  // namespace

Result<std::unique_ptr<ByteSource>> open_plain_bytes(const std::filesystem::path& path) {
  const FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
  if (!file.open()) return system_error("cannot read " + quoted(path), errno);
  struct stat status {};
  if (::fstat(file.get(), &status) != 0) return system_error("cannot read " + quoted(path), errno);
  if (S_ISDIR(status.st_mode)) return Error(Code::kIo, quoted(path) + " is a folder, not a file");
  if (!S_ISREG(status.st_mode)) return Error(Code::kIo, quoted(path) + " is not an ordinary file");
  return std::unique_ptr<ByteSource>(std::make_unique<PlainBytes>(path, status));
}

Result<std::unique_ptr<ByteSource>> open_bytes(const std::filesystem::path& path) {
  NG_TRY(auto plain, open_plain_bytes(path));
  std::array<std::byte, 2> magic{};
  NG_TRY(const std::size_t n, plain->read_at(0, magic));
  if (n < 2 || magic[0] != std::byte{0x1f} || magic[1] != std::byte{0x8b}) return plain;
  return inflated(std::move(plain));
}

}  // namespace ng::io

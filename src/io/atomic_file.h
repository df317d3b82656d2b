// io/atomic_file.h - a file that is either there whole, or not there.
//
// Written under a temporary name in the same folder (".NAME.PID-N.part"), so that the last step is one rename of the
// same disk (POSIX rename(2); renameat2(2) or link(2) where an existing file must not be replaced, so that two writers
// cannot both believe that they were first). Destroyed without commit(), it leaves nothing behind.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <span>

#include "base/result.h"
#include "io/file_descriptor.h"
#include "io/overwrite.h"

namespace ng::io {

class AtomicFile {
 public:
  // Errors: kExists (with kRefuse; also when `path` is a folder), kNotFound (no such folder), kIo (no permission,
  // read-only or full disk). Existence is checked now, before hours of work, and again by commit().
  [[nodiscard]] static Result<AtomicFile> create(const std::filesystem::path& path, Overwrite overwrite);
  AtomicFile(AtomicFile&& other) noexcept;
  AtomicFile& operator=(AtomicFile&& other) noexcept;
  ~AtomicFile();

  // Writes at an offset, in any order; gaps read as zeros. Safe from several threads for separate ranges.
  [[nodiscard]] Result<void> write_at(std::uint64_t offset, std::span<const std::byte> bytes);
  [[nodiscard]] Result<void> read_at(std::uint64_t offset, std::span<std::byte> bytes) const;
  // Makes the file exactly this long and reserves the room on disk, so that a full disk is known before the work.
  [[nodiscard]] Result<void> reserve(std::uint64_t bytes);
  // fsync, rename, fsync of the folder. Nothing may be written afterwards.
  [[nodiscard]] Result<void> commit();

  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  // The temporary name, for libraries that insist on opening files themselves.
  [[nodiscard]] const std::filesystem::path& temporary_path() const { return temporary_; }

 private:
  AtomicFile() = default;
  void remove_temporary() noexcept;
  [[nodiscard]] Error refused(int error_number) const;

  std::filesystem::path path_;
  std::filesystem::path temporary_;  // empty once committed
  FileDescriptor file_;
  Overwrite overwrite_ = Overwrite::kRefuse;
  std::uint64_t unsent_ = 0;  // bytes written since the disk was last told to begin
};

}  // namespace ng::io

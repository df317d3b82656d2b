// io/scratch_file.h - room on disk for unpacked pixels that must not stay in memory: a file without a name.
//
// It lies in the folder for temporary files (TMPDIR, else /tmp) and is gone when its owner is, even after a crash.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

#include "base/result.h"
#include "io/file_descriptor.h"

namespace ng::io {

class ScratchFile {
 public:
  // Errors: kIo.
  [[nodiscard]] static Result<ScratchFile> create();

  [[nodiscard]] Result<void> write_at(std::uint64_t offset, std::span<const std::byte> bytes);
  [[nodiscard]] Result<void> read_at(std::uint64_t offset, std::span<std::byte> bytes) const;

 private:
  explicit ScratchFile(FileDescriptor file) : file_(std::move(file)) {}
  FileDescriptor file_;
};

}  // namespace ng::io

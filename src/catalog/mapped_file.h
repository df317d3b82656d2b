// catalog/mapped_file.h - a whole file as bytes in memory, read only; the system brings what is looked at.
#pragma once

#include <cstddef>
#include <filesystem>
#include <span>
#include <utility>

#include "base/result.h"

namespace ng::catalog {

class MappedFile {
 public:
  // An empty file gives no bytes. Errors: kNotFound, kIo.
  [[nodiscard]] static Result<MappedFile> open(const std::filesystem::path& path);
  MappedFile() = default;
  MappedFile(MappedFile&& other) noexcept : bytes_(std::exchange(other.bytes_, {})) {}
  MappedFile& operator=(MappedFile&& other) noexcept {
    std::swap(bytes_, other.bytes_);
    return *this;
  }
  ~MappedFile();

  [[nodiscard]] std::span<const char> bytes() const { return bytes_; }

 private:
  std::span<char> bytes_;
};

}  // namespace ng::catalog

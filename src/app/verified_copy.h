// app/verified_copy.h - a copy that was read back from the disk and is equal, or none.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "base/context.h"
#include "base/result.h"
#include "io/atomic_file.h"

namespace ng::app {

// XXH3-128 of a file, hexadecimal, as `xxhsum -H2` shows it. Progress in bytes. Errors: kNotFound, kIo, kCancelled.
[[nodiscard]] Result<std::string> hash_file(const std::filesystem::path& path, const Context& ctx);

// The same, of what the disk itself holds: our memory of the file is dropped first, as far as the system does that.
[[nodiscard]] Result<std::string> hash_from_disk(const std::filesystem::path& path, const Context& ctx);

// The file under its temporary name, hashed while it was read, on the disk, read back and equal. commit() gives it its
// name. The source is opened for reading alone.
struct VerifiedCopy {
  std::optional<io::AtomicFile> file;
  std::string hash;
  std::string unreadable;  // why the source could not be read to its end; there is no file then
};
// Errors are those of the place where the copy goes: kNotFound, kIo (full disk), kCorrupt (what was read back differs),
// kExists, kCancelled.
[[nodiscard]] Result<VerifiedCopy> copy_verified(const std::filesystem::path& from, const std::filesystem::path& to,
                                                 const Context& ctx);

// The same in two steps, so that the next file may be copied while this one is read back: first a copy that nobody has
// looked at yet, then the look. A copy that was not looked at is not to be committed.
[[nodiscard]] Result<VerifiedCopy> copy_hashed(const std::filesystem::path& from, const std::filesystem::path& to,
                                               const Context& ctx);
[[nodiscard]] Result<void> read_back(const std::filesystem::path& temporary, const std::filesystem::path& to,
                                     const std::string& hash, const Context& ctx);

}  // namespace ng::app

#include "io/system_error.h"

#include <fmt/format.h>

#include <cerrno>
#include <system_error>

namespace ng::io {

Error system_error(const std::string& doing, int error_number) {
  switch (error_number) {
    case ENOENT:
    case ENOTDIR:
      return {Code::kNotFound, fmt::format("{}: there is no such file or folder", doing)};
    case EEXIST:
      return {Code::kExists, fmt::format("{}: it exists already", doing)};
    case EACCES:
    case EPERM:
      return {Code::kIo, fmt::format("{}: permission denied", doing)};
    case EROFS:
      return {Code::kIo, fmt::format("{}: the disk is mounted read-only", doing)};
    case ENOSPC:
      return {Code::kIo, fmt::format("{}: the disk is full", doing)};
    case EDQUOT:
      return {Code::kIo, fmt::format("{}: your disk quota is used up", doing)};
    case EFBIG:
      return {Code::kIo, fmt::format("{}: the file would be larger than this disk or account allows", doing)};
    case ENAMETOOLONG:
      return {Code::kIo, fmt::format("{}: the name is too long", doing)};
    case EMFILE:
    case ENFILE:
      return {Code::kIo, fmt::format("{}: too many files are open (raise the limit with ulimit -n)", doing)};
    default:
      return {Code::kIo, fmt::format("{}: {}", doing, std::generic_category().message(error_number))};
  }
}

std::string quoted(const std::filesystem::path& path) {
  return fmt::format("'{}'", path.string());
}

}  // namespace ng::io

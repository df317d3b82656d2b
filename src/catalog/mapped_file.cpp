#include "catalog/mapped_file.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>

namespace ng::catalog {

Result<MappedFile> MappedFile::open(const std::filesystem::path& path) {
  const auto refused = [&path](int number) {
    return Error(number == ENOENT ? Code::kNotFound : Code::kIo,
                 fmt::format("{}: {}", path.string(), std::generic_category().message(number)));
  };
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (file < 0) return refused(errno);
  MappedFile mapped;
  struct stat status {};
  int trouble = fstat(file, &status) == 0 ? 0 : errno;
  if (trouble == 0 && status.st_size > 0) {
    const auto size = static_cast<std::size_t>(status.st_size);
    void* memory = mmap(nullptr, size, PROT_READ, MAP_PRIVATE, file, 0);
    if (memory == MAP_FAILED) {
      trouble = errno;
    } else {
      mapped.bytes_ = {static_cast<char*>(memory), size};
    }
  }
  ::close(file);
  if (trouble != 0) return refused(trouble);
  return mapped;
}

MappedFile::~MappedFile() {
  if (!bytes_.empty()) munmap(bytes_.data(), bytes_.size());
}

}  // namespace ng::catalog

// io/tiff_stream.h - libtiff on our own byte sources and sinks, quiet and without a global error handler.
#pragma once

#include <tiffio.h>

#include <memory>
#include <string>

#include "io/atomic_file.h"
#include "io/byte_source.h"

namespace ng::io {

// What libtiff reads from or writes to, and its last complaint. Outlives the handle.
class TiffStream {
 public:
  explicit TiffStream(ByteSource& source) : source_(&source) {}
  explicit TiffStream(AtomicFile& sink) : sink_(&sink) {}
  TiffStream(const TiffStream&) = delete;
  TiffStream& operator=(const TiffStream&) = delete;

  struct Close {
    void operator()(TIFF* tiff) const { TIFFClose(tiff); }
  };
  using Handle = std::unique_ptr<TIFF, Close>;

  // `mode` as for TIFFOpen. Null when libtiff refuses: see error().
  [[nodiscard]] Handle open(const char* mode);
  // The complaint of libtiff or of the disk, ready to be returned; `fallback` when there is none.
  [[nodiscard]] Error error(Code code, const std::string& fallback) const;

 private:
  friend struct TiffCallbacks;
  ByteSource* source_ = nullptr;
  AtomicFile* sink_ = nullptr;
  std::uint64_t position_ = 0;
  std::uint64_t written_ = 0;
  std::string complaint_;
  std::unique_ptr<Error> disk_error_;
};

}  // namespace ng::io

// io/gzip_bytes.h - random access inside a gzip file.
//
// RFC 1951/1952, decoded by zlib. A copy of the decoder's state every 4 MiB of output lets a later read restart there,
// forwards or backwards, at the price of inflating 4 MiB at most. Concatenated members are one stream, as the RFC says.
// The check value at the end of a member is verified whenever a read passes it.
#pragma once

#include <memory>

#include "io/byte_source.h"

namespace ng::io {

[[nodiscard]] std::unique_ptr<ByteSource> inflated(std::unique_ptr<ByteSource> gzip);

}  // namespace ng::io

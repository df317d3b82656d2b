#include "io/tiff_stream.h"

#include <fmt/format.h>

#include <array>
#include <cstdarg>
#include <cstdio>
#include <utility>

namespace ng::io {

// libtiff's functions for an open "file". A failed call is remembered, because libtiff only learns that it failed.
struct TiffCallbacks {
  static TiffStream& stream(thandle_t handle) { return *static_cast<TiffStream*>(handle); }

  static tmsize_t read(thandle_t handle, void* data, tmsize_t size) {
    TiffStream& s = stream(handle);
    const std::span out(static_cast<std::byte*>(data), static_cast<std::size_t>(size));
    std::size_t n = 0;
    if (s.source_ != nullptr) {
      auto got = s.source_->read_at(s.position_, out);
      if (!got.ok()) return fail(s, std::move(got).error());
      n = *got;
    } else {
      n = s.position_ < s.written_ ? std::min<std::uint64_t>(out.size(), s.written_ - s.position_) : 0;
      auto got = s.sink_->read_at(s.position_, out.first(n));
      if (!got.ok()) return fail(s, std::move(got).error());
    }
    s.position_ += n;
    return static_cast<tmsize_t>(n);
  }
  static tmsize_t write(thandle_t handle, void* data, tmsize_t size) {
    TiffStream& s = stream(handle);
    if (s.sink_ == nullptr) return -1;
    const std::span in(static_cast<const std::byte*>(data), static_cast<std::size_t>(size));
    auto done = s.sink_->write_at(s.position_, in);
    if (!done.ok()) return fail(s, std::move(done).error());
    s.position_ += in.size();
    s.written_ = std::max(s.written_, s.position_);
    return size;
  }
  static toff_t seek(thandle_t handle, toff_t offset, int whence) {
    TiffStream& s = stream(handle);
    s.position_ = offset + (whence == SEEK_CUR ? s.position_ : whence == SEEK_END ? size(handle) : 0);
    return s.position_;
  }
  static toff_t size(thandle_t handle) {
    const TiffStream& s = stream(handle);
    return s.source_ != nullptr ? s.source_->size().value_or(0) : s.written_;
  }
  static int close(thandle_t) { return 0; }

  static int on_error(TIFF*, void* data, const char* module, const char* format, std::va_list arguments) {
    std::array<char, 256> text{};
    std::vsnprintf(text.data(), text.size(), format, arguments);
    auto& s = *static_cast<TiffStream*>(data);
    if (s.complaint_.empty())
      s.complaint_ = module == nullptr ? text.data() : fmt::format("{}: {}", module, text.data());
    return 1;
  }
  static int on_warning(TIFF*, void*, const char*, const char*, std::va_list) { return 1; }

 private:
  static tmsize_t fail(TiffStream& s, Error error) {
    if (!s.disk_error_) s.disk_error_ = std::make_unique<Error>(std::move(error));
    return -1;
  }
};

TiffStream::Handle TiffStream::open(const char* mode) {
  TIFFOpenOptions* options = TIFFOpenOptionsAlloc();
  if (options == nullptr) return nullptr;
  TIFFOpenOptionsSetMaxSingleMemAlloc(options, tmsize_t{1} << 31);
  TIFFOpenOptionsSetErrorHandlerExtR(options, TiffCallbacks::on_error, this);
  TIFFOpenOptionsSetWarningHandlerExtR(options, TiffCallbacks::on_warning, this);
  Handle tiff(TIFFClientOpenExt("TIFF", mode, this, TiffCallbacks::read, TiffCallbacks::write, TiffCallbacks::seek,
                                TiffCallbacks::close, TiffCallbacks::size, nullptr, nullptr, options));
  TIFFOpenOptionsFree(options);
  return tiff;
}

Error TiffStream::error(Code code, const std::string& fallback) const {
  if (disk_error_) return *disk_error_;
  return {code, complaint_.empty() ? fallback : fmt::format("{} ({})", fallback, complaint_)};
}

}  // namespace ng::io

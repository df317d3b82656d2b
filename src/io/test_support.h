// io/test_support.h - for the tests of this folder: a folder that cleans up, files by bytes, FITS files card by card.
#pragma once

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

#include "base/image.h"
#include "base/result.h"
#include "io/open_frame.h"

namespace ng::io::testing {

class TempFolder {
 public:
  TempFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "ng-io-XXXXXX").string();
    path_ = ::mkdtemp(name.data());
  }
  ~TempFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  [[nodiscard]] std::filesystem::path operator/(std::string_view name) const { return path_ / name; }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  [[nodiscard]] int files() const {
    return static_cast<int>(std::distance(std::filesystem::directory_iterator(path_), {}));
  }

 private:
  std::filesystem::path path_;
};

inline void put(const std::filesystem::path& path, std::string_view bytes) {
  std::ofstream(path, std::ios::binary).write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}
[[nodiscard]] inline std::string get(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

[[nodiscard]] inline std::string padded(std::string text, std::size_t multiple, char fill) {
  text.resize((text.size() + multiple - 1) / multiple * multiple, fill);
  return text;
}

// A header of the given card images (each cut or filled to 80 characters), with END and padding.
[[nodiscard]] inline std::string header(const std::vector<std::string>& cards) {
  std::string text;
  for (std::string card : cards) {
    card.resize(80, ' ');
    text += card;
  }
  std::string end = "END";
  end.resize(80, ' ');
  return padded(text + end, 2880, ' ');
}
// The mandatory cards of a primary image, then the given ones.
[[nodiscard]] inline std::string image_header(int bitpix, int width, int height, const std::vector<std::string>& cards,
                                              int planes = 1) {
  std::vector<std::string> all{"SIMPLE  =                    T", "BITPIX  = " + std::to_string(bitpix),
                               planes == 1 ? "NAXIS   = 2" : "NAXIS   = 3", "NAXIS1  = " + std::to_string(width),
                               "NAXIS2  = " + std::to_string(height)};
  if (planes != 1) all.push_back("NAXIS3  = " + std::to_string(planes));
  all.insert(all.end(), cards.begin(), cards.end());
  return header(all);
}
[[nodiscard]] inline std::string data_block(std::string data) {
  return padded(std::move(data), 2880, '\0');
}

// Big-endian bytes of integers or floats.
template <typename T>
[[nodiscard]] std::string big_endian(const std::vector<T>& values) {
  std::string bytes;
  for (const T& value : values) {
    char raw[sizeof(T)];
    std::memcpy(raw, &value, sizeof(T));
    for (std::size_t i = sizeof(T); i-- > 0;) bytes += raw[i];
  }
  return bytes;
}

// The whole plane, or the error as a test failure.
[[nodiscard]] inline Image<float> pixels_of(const std::filesystem::path& path, int plane = 0) {
  auto source = open_frame(path);
  if (!source.ok()) {
    ADD_FAILURE() << source.error().message();
    return {};
  }
  auto image = read_plane(**source, plane);
  if (!image.ok()) {
    ADD_FAILURE() << image.error().message();
    return {};
  }
  return std::move(*image);
}

MATCHER(IsOk, "") {
  if (!arg.ok()) *result_listener << arg.error().message();
  return arg.ok();
}
MATCHER_P2(Fails, code, part, "") {
  if (arg.ok()) return false;
  *result_listener << "code " << static_cast<int>(arg.error().code()) << ", message: " << arg.error().message();
  return arg.error().code() == code && arg.error().message().find(part) != std::string::npos;
}

}  // namespace ng::io::testing

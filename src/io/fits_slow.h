// io/fits_slow.h - the plain twin of our reading of FITS pixels: cfitsio, the whole image at once.
#pragma once

#include <fitsio.h>

#include <array>
#include <filesystem>
#include <limits>
#include <vector>

namespace ng::io::testing {

// All pixels of one plane of HDU `hdu` (0: primary), undefined ones NaN; empty when cfitsio refuses.
[[nodiscard]] inline std::vector<float> slow_plane(const std::filesystem::path& path, int hdu, int width, int height,
                                                   int plane) {
  std::vector<float> pixels(static_cast<std::size_t>(width) * height);
  fitsfile* file = nullptr;
  int status = 0;
  int any = 0;
  float undefined = std::numeric_limits<float>::quiet_NaN();
  std::array<long, 3> first{1, 1, plane + 1L};
  fits_open_diskfile(&file, path.c_str(), READONLY, &status);
  if (status == 0) fits_movabs_hdu(file, hdu + 1, nullptr, &status);
  if (status == 0)
    fits_read_pix(file, TFLOAT, first.data(), static_cast<long long>(pixels.size()), &undefined, pixels.data(), &any,
                  &status);
  if (status != 0) pixels.clear();
  status = 0;
  if (file != nullptr) fits_close_file(file, &status);
  return pixels;
}

}  // namespace ng::io::testing

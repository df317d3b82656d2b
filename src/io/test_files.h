// io/test_files.h - for the tests of this folder: small files of the formats that need a library to be made.
#pragma once

#include <fitsio.h>
#include <tiffio.h>
#include <zlib.h>

#include "io/test_support.h"

namespace ng::io::testing {

[[nodiscard]] inline std::string gzipped(const std::string& text) {
  z_stream z{};
  deflateInit2(&z, 6, Z_DEFLATED, 15 + 16, 8, Z_DEFAULT_STRATEGY);
  std::string out(deflateBound(&z, text.size()) + 64, '\0');
  z.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(text.data()));
  z.avail_in = static_cast<uInt>(text.size());
  z.next_out = reinterpret_cast<Bytef*>(out.data());
  z.avail_out = static_cast<uInt>(out.size());
  deflate(&z, Z_FINISH);
  out.resize(z.total_out);
  deflateEnd(&z);
  return out;
}

// cfitsio's verdict on the checksums of an HDU: 1 right, 0 absent, -1 wrong.
[[nodiscard]] inline std::pair<int, int> verdict(const std::filesystem::path& path, int hdu) {
  fitsfile* file = nullptr;
  int status = 0, data = -9, all = -9;
  fits_open_diskfile(&file, path.c_str(), READONLY, &status);
  fits_movabs_hdu(file, hdu + 1, nullptr, &status);
  fits_verify_chksum(file, &data, &all, &status);
  fits_close_file(file, &status);
  return {data, all};
}

// Tile-compressed by cfitsio, without checksums: "rice", "gzip", "plio" (16 bit), "dither" (float, Rice).
[[nodiscard]] inline std::string tiled_fits(View<const std::uint16_t> image, const std::string& packing) {
  const TempFolder folder;
  const std::filesystem::path path = folder / "a.fz";
  const bool real = packing == "dither";
  fitsfile* file = nullptr;
  int status = 0;
  std::array<long, 2> axes{image.width, image.height};
  fits_create_diskfile(&file, path.c_str(), &status);
  fits_set_compression_type(file, packing == "gzip" ? GZIP_1 : packing == "plio" ? PLIO_1 : RICE_1, &status);
  if (real) fits_set_quantize_dither(file, SUBTRACTIVE_DITHER_1, &status);
  fits_create_img(file, real ? FLOAT_IMG : SHORT_IMG, 2, axes.data(), &status);
  for (int y = 0; y < image.height; ++y) {
    std::array<long, 2> first{1, y + 1L};
    std::vector<float> floats(image.row(y), image.row(y) + image.width);
    std::vector<short> shorts(image.row(y), image.row(y) + image.width);
    void* const row = real ? static_cast<void*>(floats.data()) : shorts.data();
    fits_write_pix(file, real ? TFLOAT : TSHORT, first.data(), image.width, row, &status);
  }
  fits_close_file(file, &status);
  EXPECT_EQ(status, 0);
  return get(path);
}

// What a small DNG (Adobe DNG specification 1.4; TIFF/EP, ISO 12234-2) says of itself.
struct SmallDng {
  std::array<std::uint8_t, 4> pattern{0, 1, 1, 2};  // CFAPattern: red, green, green, blue
  std::array<float, 4> black{512, 512, 512, 512};   // BlackLevel of the 2 x 2 cell
  std::uint32_t white = 16383;
  int border = 0;  // ActiveArea leaves out so many rows above and columns to the left
  std::uint16_t photometric = PHOTOMETRIC_CFA;
};

// A 16-bit uncompressed DNG whose pixel (x, y) of the whole sensor is 600 + 3 x + 100 y.
[[nodiscard]] inline std::string small_dng(int width, int height, const SmallDng& dng = {}) {
  const TempFolder folder;
  const std::filesystem::path path = folder / "a.dng";
  const auto samples = static_cast<std::uint16_t>(dng.photometric == PHOTOMETRIC_CFA ? 1 : 3);
  TIFF* tiff = TIFFOpen(path.c_str(), "w");
  TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, 0);
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, width);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, height);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 16);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, dng.photometric);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, samples);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, height);
  TIFFSetField(tiff, TIFFTAG_MAKE, "Example");
  TIFFSetField(tiff, TIFFTAG_MODEL, "One");
  TIFFSetField(tiff, TIFFTAG_DATETIME, "2026:01:14 21:03:00");
  TIFFSetField(tiff, TIFFTAG_DNGVERSION, "\001\004\000\000");
  TIFFSetField(tiff, TIFFTAG_DNGBACKWARDVERSION, "\001\001\000\000");
  TIFFSetField(tiff, TIFFTAG_UNIQUECAMERAMODEL, "Example One");
  const std::array<float, 9> matrix{1, 0, 0, 0, 1, 0, 0, 0, 1};
  TIFFSetField(tiff, TIFFTAG_COLORMATRIX1, 9, matrix.data());
  if (samples == 1) {
    const std::array<std::uint16_t, 2> cell{2, 2};
    TIFFSetField(tiff, TIFFTAG_CFAREPEATPATTERNDIM, cell.data());
    TIFFSetField(tiff, TIFFTAG_CFAPATTERN, 4, dng.pattern.data());
    TIFFSetField(tiff, TIFFTAG_BLACKLEVELREPEATDIM, cell.data());
    TIFFSetField(tiff, TIFFTAG_BLACKLEVEL, 4, dng.black.data());
    TIFFSetField(tiff, TIFFTAG_WHITELEVEL, 1, &dng.white);
    const std::array<std::uint32_t, 4> active{static_cast<std::uint32_t>(dng.border),
                                              static_cast<std::uint32_t>(dng.border),
                                              static_cast<std::uint32_t>(height), static_cast<std::uint32_t>(width)};
    if (dng.border > 0) TIFFSetField(tiff, TIFFTAG_ACTIVEAREA, active.data());
  }
  std::vector<std::uint16_t> row(static_cast<std::size_t>(width) * samples);
  for (int y = 0; y < height; ++y) {
    for (int x = 0; x < width * samples; ++x)
      row[static_cast<std::size_t>(x)] = static_cast<std::uint16_t>(600 + 3 * (x / samples) + 100 * y);
    TIFFWriteScanline(tiff, row.data(), static_cast<std::uint32_t>(y), 0);
  }
  TIFFWriteDirectory(tiff);
  std::uint64_t exif = 0;
  TIFFCreateEXIFDirectory(tiff);
  TIFFSetField(tiff, EXIFTAG_EXPOSURETIME, 120.0);
  const std::array<std::uint16_t, 1> iso{800};
  TIFFSetField(tiff, EXIFTAG_ISOSPEEDRATINGS, 1, iso.data());
  TIFFSetField(tiff, EXIFTAG_DATETIMEORIGINAL, "2026:01:14 21:03:00");
  TIFFSetField(tiff, EXIFTAG_FOCALLENGTH, 200.0);
  TIFFSetField(tiff, EXIFTAG_FNUMBER, 4.0);
  TIFFWriteCustomDirectory(tiff, &exif);
  TIFFSetDirectory(tiff, 0);
  TIFFSetField(tiff, TIFFTAG_EXIFIFD, exif);
  TIFFRewriteDirectory(tiff);
  TIFFClose(tiff);
  return get(path);
}

}  // namespace ng::io::testing

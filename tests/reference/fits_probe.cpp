// The other end of fits_variants.py: reads one file and hands its pixels over, or writes files for astropy to judge.
//
//   fits_probe read FILE OUT     float32 pixels of all planes, one after another, in this machine's byte order; prints
//                                "width height planes"; on failure prints the message and returns 1
//   fits_probe write FOLDER      floats.fits, counts.fits, colour.fits, three_hdus.fits
#include <cstdio>
#include <filesystem>
#include <string>

#include "io/fits_writer.h"
#include "io/open_frame.h"

namespace {

using namespace ng;

Result<void> read(const std::string& file, const std::string& out) {
  NG_TRY(const auto source, io::open_frame(file));
  std::FILE* to = std::fopen(out.c_str(), "wb");
  if (to == nullptr) return Error(Code::kIo, "cannot write " + out);
  const FrameFacts& facts = source->facts();
  for (int p = 0; p < facts.planes; ++p) {
    NG_TRY(const Image<float> image, read_plane(*source, p));
    for (int y = 0; y < facts.height; ++y)
      std::fwrite(image.plane().row(y), sizeof(float), static_cast<std::size_t>(facts.width), to);
  }
  std::fclose(to);
  std::printf("%d %d %d\n", facts.width, facts.height, facts.planes);
  return {};
}

// Value of a pixel, the same formula as in fits_variants.py; whole numbers below 65536.
float value(int plane, int x, int y) {
  return static_cast<float>((plane * 20000 + y * 300 + x * 7) % 65536);
}

Result<void> write_file(const std::filesystem::path& path, const std::vector<io::FitsImageSpec>& specs) {
  NG_TRY(auto writer, io::FitsWriter::create(path, io::Overwrite::kReplace));
  for (const io::FitsImageSpec& spec : specs) {
    NG_TRY(const int hdu, writer.add_image(spec));
    Image<float> image(spec.width, spec.height);
    for (int p = 0; p < spec.planes; ++p) {
      for (int y = 0; y < spec.height; ++y)
        for (int x = 0; x < spec.width; ++x) image.plane()(x, y) = value(p + hdu, x, y);
      NG_CHECK(writer.write_rows(hdu, p, 0, View<const float>(image.plane())));
    }
  }
  return writer.commit();
}

Result<void> write(const std::filesystem::path& folder) {
  io::FitsImageSpec plain;
  plain.width = 53;
  plain.height = 31;
  plain.cards = {{"EXPTIME", 300.0, "[s] exposure"},
                 {"SMALL", -1.2345678901234567e-300, "all digits"},
                 {"FRAMES", std::int64_t{16}, "a number"},
                 {"STACKED", true, "a flag"},
                 {"OBJECT", std::string("Barnard's loop"), "with a quote"},
                 {"LONGTEXT", std::string(150, 'x') + " 'end'", "over several cards"},
                 {"HISTORY", std::string("first line"), ""},
                 {"HISTORY", std::string(150, 'h'), ""},
                 {"COMMENT", std::string("a remark"), ""}};
  NG_CHECK(write_file(folder / "floats.fits", {plain}));
  io::FitsImageSpec counts = plain;
  counts.pixel = io::FitsPixel::kUint16;
  NG_CHECK(write_file(folder / "counts.fits", {counts}));
  io::FitsImageSpec colour = plain;
  colour.planes = 3;
  NG_CHECK(write_file(folder / "colour.fits", {colour}));
  io::FitsImageSpec variance = plain;
  variance.name = "VARIANCE";
  io::FitsImageSpec coverage = counts;
  coverage.name = "COVERAGE";
  coverage.planes = 3;
  return write_file(folder / "three_hdus.fits", {plain, variance, coverage});
}

}  // namespace

int main(int argc, char** argv) {
  const std::string job = argc > 1 ? argv[1] : "";
  Result<void> result = Error(Code::kInvalidInput, "usage: fits_probe read FILE OUT | write FOLDER");
  if (job == "read" && argc == 4) result = read(argv[2], argv[3]);
  if (job == "write" && argc == 3) result = write(argv[2]);
  if (result.ok()) return 0;
  std::printf("%s\n", result.error().message().c_str());
  return 1;
}

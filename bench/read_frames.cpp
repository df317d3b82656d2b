// Reads FITS frames to float with cfitsio, on so many threads, and does nothing with them: what a reduction is held
// against. Usage: read_frames THREADS FILE...   Prints one JSON line: frames, seconds, processor_seconds.
#include <fitsio.h>

#include <atomic>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <thread>
#include <vector>

namespace {

bool read_frame(const char* path, std::vector<float>& pixels) {
  fitsfile* file = nullptr;
  int status = 0, dimensions = 0, kind = 0;
  long sides[3] = {1, 1, 1};
  fits_open_image(&file, path, READONLY, &status);
  fits_get_img_param(file, 3, &kind, &dimensions, sides, &status);
  if (status != 0) return false;
  const long count = sides[0] * sides[1] * sides[2];
  pixels.resize(static_cast<std::size_t>(count));
  fits_read_img(file, TFLOAT, 1, count, nullptr, pixels.data(), nullptr, &status);
  int closed = 0;
  fits_close_file(file, &closed);
  return status == 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 3) {
    std::fputs("usage: read_frames THREADS FILE...\n", stderr);
    return 2;
  }
  const int threads = std::atoi(argv[1]);
  std::atomic<int> next = 2;
  std::atomic<bool> failed = false;
  const auto start = std::chrono::steady_clock::now();
  std::vector<std::thread> readers;
  for (int t = 0; t < threads; ++t) {
    readers.emplace_back([&] {
      std::vector<float> pixels;
      for (int i = next++; i < argc; i = next++) {
        if (read_frame(argv[i], pixels)) continue;
        std::fprintf(stderr, "%s: could not be read\n", argv[i]);
        failed = true;
      }
    });
  }
  for (std::thread& reader : readers) reader.join();
  const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  std::printf("{\"frames\": %d, \"seconds\": %.4f, \"processor_seconds\": %.4f}\n", argc - 2, seconds,
              static_cast<double>(std::clock()) / CLOCKS_PER_SEC);
  return failed ? 1 : 0;
}

// app/measure_store.h - what was measured of lights, kept beside their masters so that adding frames need not measure
// the old ones again.
//
// One file per master (CBOR, RFC 8949, and a checksum of 8 bytes at its end); each light under its key: everything that
// its measures follow from. Numbers are kept whole: measures read back are the same bits. A file that is damaged, or of
// another version, counts as not there.
#pragma once

#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "app/light_frames.h"
#include "base/result.h"
#include "io/overwrite.h"
#include "store/product_records.h"

namespace ng::app {

class MeasureStore {
 public:
  // An empty store measures everything anew.
  MeasureStore();
  void add_folder(const std::filesystem::path& masters);  // of all masters in it
  void add_file(const std::filesystem::path& measures);
  MeasureStore(MeasureStore&&) noexcept;
  MeasureStore& operator=(MeasureStore&&) noexcept;
  ~MeasureStore();

  // Fills stars, quality, trails, thumbnail and background; false where nothing is kept under the light's key.
  [[nodiscard]] bool fill(Light& light) const;

 private:
  struct Kept;
  std::unique_ptr<Kept> kept_;
};

// Of each light in one file of measures what a library is searched by. Empty where the file is not there or damaged, or
// of another version.
[[nodiscard]] std::vector<store::MeasureRecord> read_measure_records(const std::filesystem::path& path);

// Errors: kExists, kIo.
[[nodiscard]] Result<void> save_measures(const std::filesystem::path& path, std::span<const Light* const> lights,
                                         io::Overwrite overwrite);

// From the light's content, its calibration frames' content (`calibration`: one hash for all of them) and the defects
// that are mapped (their content_hash).
[[nodiscard]] std::string measure_key(const Light& light, const std::string& calibration, const std::string& defects);

}  // namespace ng::app

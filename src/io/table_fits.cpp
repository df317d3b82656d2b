// FITS tables by cfitsio: the first table extension that is no image in tiles and has columns of numbers.
#include <fitsio.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "io/number_tables.h"

namespace ng::io {
namespace {

struct Close {
  void operator()(fitsfile* file) const {
    int status = 0;
    fits_close_file(file, &status);
  }
};

Error fits_error(int status) {
  std::array<char, FLEN_STATUS> text{};
  fits_get_errstatus(status, text.data());
  return {Code::kCorrupt, fmt::format("the FITS table cannot be read: {}", text.data())};
}

class FitsTable final : public NumberTable {
 public:
  Result<void> open(const std::filesystem::path& path) {
    int status = 0;
    fitsfile* raw = nullptr;
    fits_open_diskfile(&raw, path.c_str(), READONLY, &status);
    if (status != 0) return fits_error(status);
    file_.reset(raw);
    int hdus = 0;
    fits_get_num_hdus(file_.get(), &hdus, &status);
    for (int h = 2; h <= hdus && status == 0; ++h) {
      int type = 0;
      fits_movabs_hdu(file_.get(), h, &type, &status);
      int image_status = 0;
      if (status != 0 || type == IMAGE_HDU || fits_is_compressed_image(file_.get(), &image_status) != 0) continue;
      LONGLONG rows = 0;
      fits_get_num_rowsll(file_.get(), &rows, &status);
      if (status != 0 || rows == 0) continue;
      rows_ = rows;
      return read_columns();
    }
    if (status != 0) return fits_error(status);
    return Error(Code::kUnsupported, "the FITS file holds no table");
  }
  [[nodiscard]] const std::vector<TableColumn>& columns() const override { return columns_; }
  [[nodiscard]] std::string form() const override {
    return fmt::format("FITS table, {} columns of numbers", columns_.size());
  }
  [[nodiscard]] Result<bool> next(std::vector<double>& row) override {
    if (row_ >= rows_) return false;
    const auto n = static_cast<LONGLONG>(kChunk);
    if (row_ % n == 0) NG_CHECK(read_chunk(std::min(n, rows_ - row_)));
    row.resize(columns_.size());
    for (std::size_t i = 0; i < columns_.size(); ++i) row[i] = chunk_[i][static_cast<std::size_t>(row_ % n)];
    ++row_;
    return true;
  }

 private:
  static constexpr std::size_t kChunk = 4096;

  Result<void> read_columns() {
    int status = 0, count = 0;
    fits_get_num_cols(file_.get(), &count, &status);
    for (int c = 1; c <= count && status == 0; ++c) {
      int type = 0;
      long repeat = 0, width = 0;
      fits_get_coltype(file_.get(), c, &type, &repeat, &width, &status);
      if (status != 0 || repeat != 1 || type == TSTRING || type == TLOGICAL || type < 0) continue;
      std::array<char, FLEN_VALUE> name{}, unit{};
      int missing = 0;
      fits_read_key(file_.get(), TSTRING, fmt::format("TTYPE{}", c).c_str(), name.data(), nullptr, &missing);
      missing = 0;
      fits_read_key(file_.get(), TSTRING, fmt::format("TUNIT{}", c).c_str(), unit.data(), nullptr, &missing);
      columns_.push_back({name.data(), unit.data(), false});
      numbers_.push_back(c);
    }
    if (status != 0) return fits_error(status);
    chunk_.assign(columns_.size(), std::vector<double>(kChunk));
    return {};
  }

  Result<void> read_chunk(LONGLONG rows) {
    double nan = std::numeric_limits<double>::quiet_NaN();
    for (std::size_t i = 0; i < numbers_.size(); ++i) {
      int status = 0, any = 0;
      fits_read_col(file_.get(), TDOUBLE, numbers_[i], row_ + 1, 1, rows, &nan, chunk_[i].data(), &any, &status);
      if (status != 0) return fits_error(status);
    }
    return {};
  }

  std::unique_ptr<fitsfile, Close> file_;
  std::vector<TableColumn> columns_;
  std::vector<int> numbers_;  // their places in the file
  std::vector<std::vector<double>> chunk_;
  LONGLONG rows_ = 0, row_ = 0;
};

}  // namespace

Result<std::unique_ptr<NumberTable>> open_fits_table(const std::filesystem::path& path) {
  auto table = std::make_unique<FitsTable>();
  NG_CHECK(table->open(path));
  return std::unique_ptr<NumberTable>(std::move(table));
}

}  // namespace ng::io

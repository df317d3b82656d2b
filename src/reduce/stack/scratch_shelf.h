// reduce/stack/scratch_shelf.h - scratch for tiles, for as many hands as ask for it.
#pragma once

#include <memory>
#include <mutex>
#include <utility>
#include <vector>

#include "math/square_transform.h"
#include "reduce/stack/proper_tile.h"

namespace ng::reduce {

class ScratchShelf {
 public:
  explicit ScratchShelf(const math::SquareTransform& transform) : transform_(transform) {}

  [[nodiscard]] std::unique_ptr<TileScratch> take() {
    {
      const std::lock_guard lock(mutex_);
      if (!free_.empty()) {
        auto scratch = std::move(free_.back());
        free_.pop_back();
        return scratch;
      }
    }
    return std::make_unique<TileScratch>(transform_);
  }
  void give_back(std::unique_ptr<TileScratch> scratch) {
    const std::lock_guard lock(mutex_);
    free_.push_back(std::move(scratch));
  }

 private:
  const math::SquareTransform& transform_;
  std::mutex mutex_;
  std::vector<std::unique_ptr<TileScratch>> free_;
};

}  // namespace ng::reduce

#include "base/parallel.h"

#include <gtest/gtest.h>

#include <atomic>
#include <vector>

namespace ng {
namespace {

TEST(Parallel, RunsEachItemOnceForAnyPool) {
  for (const int threads : {0, 1, 2, 3, 8}) {
    ThreadPool pool(threads);
    Context ctx;
    ctx.pool = threads == 0 ? nullptr : &pool;
    for (int repeat = 0; repeat < 50; ++repeat) {
      std::vector<std::atomic<int>> hits(101);
      ASSERT_TRUE(parallel_for(ctx, 101, [&](int i) { ++hits[static_cast<std::size_t>(i)]; }).ok());
      for (const auto& h : hits) ASSERT_EQ(h.load(), 1);
    }
  }
}

TEST(Parallel, NestedCallsRunInPlace) {
  ThreadPool pool(3);
  Context ctx;
  ctx.pool = &pool;
  std::atomic<int> sum{0};
  const auto outer = parallel_for(ctx, 10, [&](int) { return parallel_for(ctx, 10, [&](int) { ++sum; }); });
  ASSERT_TRUE(outer.ok());
  EXPECT_EQ(sum.load(), 100);
}

TEST(Parallel, ReturnsTheFirstFailure) {
  const auto r = parallel_for({}, 10, [](int i) -> Result<void> {
    if (i >= 4) return Error(Code::kCorrupt, "item " + std::to_string(i));
    return {};
  });
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().message(), "item 4");
}

TEST(Parallel, StopsWhenCancelled) {
  CancelToken token;
  Context ctx;
  ctx.cancel = &token;
  int done = 0;
  const auto r = parallel_for(ctx, 100, [&](int i) {
    ++done;
    if (i == 9) token.cancel();
  });
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code(), Code::kCancelled);
  EXPECT_EQ(done, 10);
}

}  // namespace
}  // namespace ng

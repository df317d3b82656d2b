#include "base/result.h"

#include <gtest/gtest.h>

namespace ng {
namespace {

Result<int> half(int n) {
  if (n % 2 != 0) return Error(Code::kInvalidInput, "the number is odd");
  return n / 2;
}
Result<int> quarter(int n) {
  NG_TRY(const int h, half(n).in("first half"));
  return half(h).in("second half");
}

TEST(Result, CarriesAValueThroughTry) {
  EXPECT_EQ(quarter(12).value(), 3);
}

TEST(Result, CarriesTheErrorWithItsPlaces) {
  const Result<int> r = quarter(6).in("six");
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code(), Code::kInvalidInput);
  EXPECT_EQ(r.error().message(), "six: second half: the number is odd");
}

}  // namespace
}  // namespace ng

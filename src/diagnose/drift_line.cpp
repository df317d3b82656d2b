#include "diagnose/drift_line.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/robust.h"

namespace ng::diagnose {
namespace {

struct Line {
  double level = 0, slope = 0, slope_variance = 0;  // offset = level + slope * seconds
};

// A first line that wild values do not move: through the medians of the first and of the last third.
Line through_thirds(std::span<const double> seconds, std::span<const double> offsets) {
  const std::size_t third = seconds.size() / 3;
  const auto middle = [](std::span<const double> part) {
    std::vector<double> copy(part.begin(), part.end());
    return math::median(copy);
  };
  const double t0 = middle(seconds.first(third)), t1 = middle(seconds.last(third));
  const double y0 = middle(offsets.first(third)), y1 = middle(offsets.last(third));
  Line line;
  line.slope = (y1 - y0) / (t1 - t0);
  line.level = y0 - line.slope * t0;
  return line;
}

// Least squares, every point of the same weight, the error from what is left; larger by (1 + r) / (1 - r) in variance
// where neighbours still go together with correlation r (Bartlett 1935, J. R. Stat. Soc. 98, 536; from memory).
Line least_squares_line(const std::vector<double>& t, const std::vector<double>& y) {
  const auto n = static_cast<double>(t.size());
  double mean_t = 0, mean_y = 0, tt = 0, ty = 0, left = 0;
  for (std::size_t i = 0; i < t.size(); ++i) {
    mean_t += t[i] / n;
    mean_y += y[i] / n;
  }
  for (std::size_t i = 0; i < t.size(); ++i) {
    tt += (t[i] - mean_t) * (t[i] - mean_t);
    ty += (t[i] - mean_t) * (y[i] - mean_y);
  }
  Line line;
  line.slope = ty / tt;
  line.level = mean_y - line.slope * mean_t;
  double before = 0, beside = 0;
  for (std::size_t i = 0; i < t.size(); ++i) {
    const double r = y[i] - line.level - line.slope * t[i];
    left += r * r;
    beside += r * before;
    before = r;
  }
  const double together = left > 0 ? std::clamp(beside / left, 0.0, 0.9) : 0;
  line.slope_variance = left / (n - 2) / tt * (1 + together) / (1 - together);
  return line;
}

}  // namespace

Result<DriftLine> drift_line(std::span<const double> seconds, std::span<const double> offsets) {
  constexpr std::size_t kFewest = 30, kPerSpan = 5, kMostSpans = 24;
  constexpr double kShortest = 60, kWild = 5;
  if (seconds.size() < kFewest || seconds.back() - seconds.front() < kShortest)
    return Error(Code::kTooFew, "a drift needs 30 offsets over a minute at least; five minutes make it sure");
  for (std::size_t i = 1; i < seconds.size(); ++i)
    if (!(seconds[i] > seconds[i - 1])) return Error(Code::kInvalidInput, "the seconds must rise from row to row");
  const Line first = through_thirds(seconds, offsets);
  const auto off = [&](std::size_t i) { return offsets[i] - first.level - first.slope * seconds[i]; };
  std::vector<double> residuals(seconds.size());
  for (std::size_t i = 0; i < residuals.size(); ++i) residuals[i] = off(i);
  std::vector<double> copy = residuals;
  const double centre = math::median(copy);
  copy = residuals;
  DriftLine out;
  out.scatter = math::mad_sigma(copy, centre);

  const std::size_t spans = std::min(kMostSpans, seconds.size() / kPerSpan);
  const double width = (seconds.back() - seconds.front()) / static_cast<double>(spans);
  std::vector<double> sum_t(spans), sum_y(spans), count(spans);
  for (std::size_t i = 0; i < seconds.size(); ++i) {
    if (std::fabs(residuals[i] - centre) > kWild * out.scatter) {
      ++out.left_out;
      continue;
    }
    const auto k = std::min(spans - 1, static_cast<std::size_t>((seconds[i] - seconds.front()) / width));
    sum_t[k] += seconds[i];
    sum_y[k] += offsets[i];
    ++count[k];
    ++out.used;
  }
  std::vector<double> t, y;
  for (std::size_t k = 0; k < spans; ++k)
    if (count[k] > 0) {
      t.push_back(sum_t[k] / count[k]);
      y.push_back(sum_y[k] / count[k]);
    }
  if (t.size() < 3) return Error(Code::kTooFew, "the offsets stand in one place of the time: give a log without gaps");
  const Line line = least_squares_line(t, y);
  out.slope = line.slope;
  out.slope_error = std::sqrt(line.slope_variance);
  return out;
}

}  // namespace ng::diagnose

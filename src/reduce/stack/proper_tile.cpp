#include "reduce/stack/proper_tile.h"

#include <algorithm>
#include <cmath>

#include "reduce/stack/slope.h"

namespace ng::reduce {
namespace {

// Where a frame is sharper than the master, the prediction must raise the master's fine structure, and its noise with
// it: by no more than this.
constexpr float kMaxGain = 4;

// 1 at ratio 1, the ratio itself below, never above 1 + kMaxGain.
float tamed(float ratio) {
  const float over = ratio - 1;
  return over <= 0 ? ratio : 1 + over / std::sqrt(1 + over * over / (kMaxGain * kMaxGain));
}

}  // namespace

ProperTile::ProperTile(const math::SquareTransform& transform)
    : transform_(transform),
      columns_(transform.side() / 2 + 1),
      master_(transform.tile()),
      sky_(transform.tile()),
      master_spectrum_(transform.spectrum()),
      numerator_(transform.spectrum()),
      mean_profile_(columns_, transform.side()),
      denominator_(columns_, transform.side()) {}

void ProperTile::begin(const Image<float>& master, const Image<float>& sky, std::span<const TileFrame> frames,
                       TileScratch& scratch) {
  const int side = transform_.side();
  level_ = sky.plane()(side / 2, side / 2);
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) {
      master_.plane().row(y)[x] = master.plane().row(y)[x] - level_;
      sky_.plane().row(y)[x] = sky.plane().row(y)[x] - level_;
    }
  transform_.forward(master_, master_spectrum_);

  information_ = 0;
  double mean_weight = 0;
  for (const TileFrame& f : frames) {
    information_ += f.information;
    mean_weight += f.mean_weight;
  }
  numerator_.fill(0);
  mean_profile_.fill(0);
  denominator_.fill(0);
  const ProfileRow rows{scratch.rows.plane().row(0), scratch.rows.plane().row(1)};
  for (const TileFrame& f : frames) {
    const auto share = static_cast<float>(f.mean_weight / mean_weight);
    for (int j = 0; j < side; ++j) {
      f.transform->row(f.profile, f.to_master, *f.grid, side, j, rows);
      float* mean = mean_profile_.plane().row(j);
      float* den = denominator_.plane().row(j);
      for (int i = 0; i < columns_; ++i) {
        mean[i] += share * rows.signal[i];
        den[i] += f.information * rows.signal[i] * rows.signal[i] / rows.noise[i];
      }
    }
  }
}

void ProperTile::add(const TileFrame& frame, const OutlierRule& rule, TileScratch& scratch) {
  const int side = transform_.side();
  const ProfileRow rows{scratch.rows.plane().row(0), scratch.rows.plane().row(1)};
  double gain2 = 0;
  for (int j = 0; j < side; ++j) {
    frame.transform->row(frame.profile, frame.to_master, *frame.grid, side, j, rows);
    const float* mean = mean_profile_.plane().row(j);
    const std::complex<float>* master = master_spectrum_.plane().row(j);
    std::complex<float>* predicted = scratch.spectrum.plane().row(j);
    std::complex<float>* sum = numerator_.plane().row(j);
    float* filter = scratch.filter.plane().row(j);
    float row_gain2 = 0;
    for (int i = 0; i < columns_; ++i) {
      const float to_frame = tamed(rows.signal[i] / mean[i]);
      row_gain2 += to_frame * to_frame;
      filter[i] = frame.information * rows.signal[i] / rows.noise[i];
      predicted[i] = to_frame * master[i];
      sum[i] += filter[i] * predicted[i];
    }
    gain2 += static_cast<double>(row_gain2);
  }
  transform_.inverse(scratch.spectrum, scratch.predicted);
  judge(frame, rule, static_cast<float>(gain2 / side / columns_), scratch);

  transform_.forward(scratch.values, scratch.spectrum);
  for (int j = 0; j < side; ++j) {
    const float* filter = scratch.filter.plane().row(j);
    const std::complex<float>* difference = scratch.spectrum.plane().row(j);
    std::complex<float>* sum = numerator_.plane().row(j);
    for (int i = 0; i < columns_; ++i) sum[i] += filter[i] * difference[i];
  }
}

// Values become differences from the prediction, 0 where there is none or it is not believed.
void ProperTile::judge(const TileFrame& frame, const OutlierRule& rule, float noise_gain, TileScratch& scratch) const {
  const int side = transform_.side();
  const float kappa2 = rule.kappa * rule.kappa;
  const float master_variance = noise_gain / static_cast<float>(information_);
  scratch.hits.clear();
  for (int y = 0; y < side; ++y) {
    float* values = scratch.values.plane().row(y);
    float* variance = scratch.variance.plane().row(y);  // becomes that of the difference, allowances included
    const float* predicted = scratch.predicted.plane().row(y);
    const float* master = master_.plane().row(y);
    const float* sky = sky_.plane().row(y);
    float* slope = scratch.slope.plane().row(0);
    Fate* fate = scratch.fate.plane().row(y);
    slope_row(scratch.predicted.plane(), y, slope);
    for (int x = 0; x < side; ++x) {
      const float off = values[x] - level_ - predicted[x];
      const float photons = 1 + frame.signal_share * std::max(predicted[x] - sky[x], 0.0f);
      const float a = rule.slope_allowance * slope[x];
      const float b = rule.profile_allowance * (predicted[x] - master[x]);
      variance[x] = (variance[x] + master_variance) * photons + a * a + b * b;
      values[x] = std::isnan(off) ? 0 : off;
      fate[x] = std::isnan(off) ? Fate::kAbsent : Fate::kKept;
      if (rule.reject && values[x] * values[x] > kappa2 * variance[x]) scratch.hits.push_back({x, y});
    }
  }
  // The limit is lower around every hit (math/combine.h); what falls by that is no hit itself.
  for (const TilePixel& hit : scratch.hits) {
    for (int y = std::max(0, hit.y - 1); y <= std::min(side - 1, hit.y + 1); ++y) {
      for (int x = std::max(0, hit.x - 1); x <= std::min(side - 1, hit.x + 1); ++x) {
        float& off = scratch.values.plane()(x, y);
        const float limit2 = kappa2 * rule.near_share * rule.near_share * scratch.variance.plane()(x, y);
        if (scratch.fate.plane()(x, y) != Fate::kKept || off * off <= limit2) continue;
        scratch.fate.plane()(x, y) = Fate::kOutlier;
        off = 0;
      }
    }
  }
}

void ProperTile::finish(Image<float>& out, TileScratch& scratch) const {
  const int side = transform_.side();
  const auto information = static_cast<float>(information_);
  for (int j = 0; j < side; ++j) {
    const std::complex<float>* sum = numerator_.plane().row(j);
    const float* den = denominator_.plane().row(j);
    std::complex<float>* result = scratch.spectrum.plane().row(j);
    for (int i = 0; i < columns_; ++i) result[i] = sum[i] / std::sqrt(den[i] * information);
  }
  transform_.inverse(scratch.spectrum, out);
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) out.plane().row(y)[x] += level_;
}

Image<float> ProperTile::profile() const {
  Image<float> result(columns_, transform_.side());
  for (int j = 0; j < result.height(); ++j)
    for (int i = 0; i < columns_; ++i)
      result.plane()(i, j) = std::sqrt(denominator_.plane()(i, j) / static_cast<float>(information_));
  return result;
}

}  // namespace ng::reduce

#include "simulate/star_field.h"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "base/angle.h"
#include "math/random.h"
#include "simulate/streams.h"
#include "sky/gnomonic.h"

namespace ng::simulate {
namespace {

constexpr double kSteepness = 0.36, kBend = 0.009;

double log_counts(double v_mag) {
  const double m = v_mag - 15;
  return kSteepness * m - kBend * m * m;
}

// The magnitude at which log_counts() has a value, on its rising branch.
double magnitude_of(double log_count) {
  return 15 + (kSteepness - std::sqrt(kSteepness * kSteepness - 4 * kBend * log_count)) / (2 * kBend);
}

void sort_by_brightness(std::vector<FieldStar>& stars) {
  std::sort(stars.begin(), stars.end(), [](const FieldStar& a, const FieldStar& b) {
    return std::tuple(a.v_mag, a.xi_arcsec, a.eta_arcsec) < std::tuple(b.v_mag, b.xi_arcsec, b.eta_arcsec);
  });
}

class Field {
 public:
  explicit Field(const Scenario& s) : plane_({deg_to_rad(s.target.ra_deg), deg_to_rad(s.target.dec_deg)}) {}

  void add_drawn(double xi_arcsec, double eta_arcsec, double v_mag, double b_minus_v, StarOrigin origin) {
    const sky::Direction d = plane_.direction({xi_arcsec / kArcsecPerRadian, eta_arcsec / kArcsecPerRadian});
    stars_.push_back({rad_to_deg(d.ra_rad), rad_to_deg(d.dec_rad), xi_arcsec, eta_arcsec, v_mag, b_minus_v, origin});
  }
  void add_catalogued(const catalog::CatalogStar& star) {
    const auto p = plane_.project({star.ra_rad, star.dec_rad});
    if (!p) return;
    // A catalogue star without a colour is taken as a G star.
    stars_.push_back({rad_to_deg(star.ra_rad), rad_to_deg(star.dec_rad), p->xi * kArcsecPerRadian,
                      p->eta * kArcsecPerRadian, star.v_mag, std::clamp(star.b_minus_v.value_or(0.65), -0.4, 2.2),
                      StarOrigin::kCatalogue});
  }
  [[nodiscard]] std::vector<FieldStar> take() {
    sort_by_brightness(stars_);
    return std::move(stars_);
  }

 private:
  sky::TangentPlane plane_;
  std::vector<FieldStar> stars_;
};

}  // namespace

std::vector<FieldStar> draw_star_field(const Scenario& s, const SkyBox& box, const catalog::StarFile* catalogue) {
  Field field(s);
  if (catalogue != nullptr) {
    const double reach = std::hypot(std::max(std::fabs(box.xi0), std::fabs(box.xi1)),
                                    std::max(std::fabs(box.eta0), std::fabs(box.eta1)));
    for (const auto& star : catalogue->cone(deg_to_rad(s.target.ra_deg), deg_to_rad(s.target.dec_deg),
                                            std::atan(reach / kArcsecPerRadian), 30))
      field.add_catalogued(star);
  }

  const double brightest = catalogue != nullptr ? s.target.catalogue_reach_v_mag : 6;
  const double log_bright = log_counts(brightest), log_faint = log_counts(s.target.faintest_v_mag);
  const double area_deg2 = (box.xi1 - box.xi0) * (box.eta1 - box.eta0) / (3600.0 * 3600.0);
  const double bright_share = std::pow(10.0, log_bright - log_faint);
  const double mean =
      std::max(0.0, s.target.field_stars_per_deg2 * std::pow(10.0, log_faint) * (1 - bright_share) * area_deg2);
  math::Random random(s.seed, stream(Stream::kField));
  const std::int64_t count = random.poisson(mean);
  for (std::int64_t i = 0; i < count; ++i) {
    const double xi = box.xi0 + (box.xi1 - box.xi0) * random.uniform();
    const double eta = box.eta0 + (box.eta1 - box.eta0) * random.uniform();
    const double share = bright_share + (1 - bright_share) * random.uniform();
    const double colour = std::clamp(0.85 + 0.33 * random.normal(), -0.15, 1.9);
    field.add_drawn(xi, eta, magnitude_of(log_faint + std::log10(share)), colour, StarOrigin::kField);
  }

  math::Random cluster(s.seed, stream(Stream::kCluster));
  constexpr double kCoreArcsec = 240, kHaloArcsec = 900;
  for (int i = 0; i < s.target.cluster_stars; ++i) {
    // N(<r) of the density above is r^2 / (r^2 + c^2): inverted, cut at the halo.
    const double most = 1 / (1 + std::pow(kCoreArcsec / kHaloArcsec, 2));
    const double share = most * cluster.uniform();
    const double r = kCoreArcsec * std::sqrt(share / (1 - share));
    const double angle = 2 * kPi * cluster.uniform();
    const double v = 8.2 + 6.8 * std::sqrt(cluster.uniform());
    const double colour = std::clamp(0.12 + 0.035 * (v - 8) + 0.08 * cluster.normal(), -0.2, 1.0);
    field.add_drawn(r * std::cos(angle), r * std::sin(angle), v, colour, StarOrigin::kCluster);
  }
  return field.take();
}

void redden_behind_dust(const NebulaMaps& nebula, std::vector<FieldStar>& stars) {
  const View<const float> dust = nebula.dust.plane();
  for (FieldStar& star : stars) {
    if (star.origin != StarOrigin::kField || star.v_mag < 12) continue;
    const auto i = std::lround((star.xi_arcsec - nebula.xi0_arcsec) / nebula.step_arcsec);
    const auto j = std::lround((star.eta_arcsec - nebula.eta0_arcsec) / nebula.step_arcsec);
    if (i < 0 || j < 0 || i >= dust.width || j >= dust.height) continue;
    const double dimming = 1.22 * 1.086 * dust(static_cast<int>(i), static_cast<int>(j));
    star.v_mag += dimming;
    star.b_minus_v = std::min(2.2, star.b_minus_v + dimming / 3.1);
  }
  sort_by_brightness(stars);
}

}  // namespace ng::simulate

#include "bench/solve_sky.h"

#include <algorithm>
#include <cmath>

#include "math/random.h"

namespace ng::bench {
namespace {

constexpr double kMas = 1e-3 / kArcsecPerRadian;

// Galactic pole and centre of the J2000 system (IAU 1958, as given in the Hipparcos catalogue, ESA 1997, vol.
// 1, 1.5.3).
const math::Vec3 kGalacticPole = math::from_angles(deg_to_rad(192.85948), deg_to_rad(27.12825));

double relative_density(double sin_b) {
  const double s = std::fabs(sin_b);
  return s < 0.5 ? std::pow(1.0 / 3, s / 0.5) : std::pow(0.5, (s - 0.5) / 0.5) / 3;
}

constexpr double kSlope = 0.47;  // log10 of counts by magnitude
constexpr double kComplete = 11.0, kEnd = 12.5;

// Brightness of a star of the sky, of those brighter than `limit`.
double sky_magnitude(math::Random& random, double limit) {
  return limit + std::log10(std::max(random.uniform(), 1e-6)) / kSlope;
}
// Does the catalogue hold it?
double catalogued_share(double magnitude) {
  if (magnitude < kComplete) return 0.97;
  return 0.97 * std::max(0.0, 1 - (magnitude - kComplete) / (kEnd - kComplete));
}

math::Vec3 anywhere(math::Random& random) {
  return math::from_angles(2 * kPi * random.uniform(), std::asin(2 * random.uniform() - 1));
}

math::Mat3 any_attitude(math::Random& random) {
  const math::Vec3 outward = anywhere(random);
  const math::Vec3 pole = std::fabs(outward[2]) < 0.9 ? math::Vec3{0, 0, 1} : math::Vec3{1, 0, 0};
  const math::Vec3 a = math::unit(math::cross(pole, outward)), b = math::cross(outward, a);
  const double turn = 2 * kPi * random.uniform(), c = std::cos(turn), s = std::sin(turn);
  math::Mat3 axes{};
  for (std::size_t k = 0; k < 3; ++k) axes[0][k] = c * a[k] + s * b[k], axes[1][k] = -s * a[k] + c * b[k];
  axes[2] = outward;
  return axes;
}

struct Detection {
  astrometry::SeenStar star;
  bool catalogued = false;
};

}  // namespace

std::vector<catalog::SkyEntry> invented_sky(std::size_t stars, std::uint64_t seed) {
  math::Random random(seed, 0);
  std::vector<catalog::SkyEntry> entries;
  entries.reserve(stars);
  while (entries.size() < stars) {
    const math::Vec3 d = anywhere(random);
    if (random.uniform() > relative_density(math::dot(d, kGalacticPole))) continue;
    const double mag = sky_magnitude(random, kEnd);
    if (random.uniform() > catalogued_share(mag)) continue;
    const math::Angles at = math::to_angles(d);
    catalog::SkyEntry e;
    e.ra_rad = at.longitude_rad;
    e.dec_rad = at.latitude_rad;
    e.magnitude = mag;
    e.position_error_rad = 60 * kMas;
    entries.push_back(e);
  }
  return entries;
}

InventedFrame invented_frame(const catalog::SkyFile& sky, const FrameWishes& wishes, std::uint64_t seed,
                             std::uint64_t number) {
  for (std::uint64_t attempt = 0;; ++attempt) {
    math::Random random(seed, number * 1000 + attempt + 1);
    InventedFrame f;
    f.width_deg = wishes.low_width_deg * std::pow(wishes.high_width_deg / wishes.low_width_deg, random.uniform());
    f.field.width = 1500 + static_cast<int>(4500 * random.uniform());
    f.field.height = f.field.width * 2 / 3;
    f.truth.axes = any_attitude(random);
    f.truth.middle = f.field.middle();
    f.truth.parity = random.uniform() < 0.5 ? 1 : -1;
    f.truth.scale_rad = 2 * std::tan(deg_to_rad(f.width_deg) / 2) / f.field.width;
    f.distortion = 0.01 * (random.uniform() - 0.5);
    const double half = f.field.diagonal_px() / 2;
    const double centroid = 0.1 + 0.4 * random.uniform();
    // A cloud beyond a line through the middle, at any angle: 1.5 mag.
    const bool cloudy = random.uniform() < 0.33;
    const double cloud_angle = 2 * kPi * random.uniform();
    const auto dimming = [&](math::Point p) {
      const double side =
          (p.x - f.truth.middle.x) * std::cos(cloud_angle) + (p.y - f.truth.middle.y) * std::sin(cloud_angle);
      return cloudy && side > 0 ? 1.5 : 0.0;
    };
    const double radius = std::atan(half * f.truth.scale_rad);
    const auto stars = sky.brightest(f.truth.axes[2], radius, 1500, sky.facts().epoch_year);
    if (stars.empty()) continue;
    // What the exposure reaches: the k-th brightest star of the circle around the frame, or beyond the catalogue.
    const double k = 20 * std::pow(3000.0 / 20, random.uniform());
    const double limit = k < static_cast<double>(stars.size())
                             ? stars[static_cast<std::size_t>(k)].magnitude
                             : kComplete + std::log10(k / static_cast<double>(stars.size())) / kSlope + 0.5;
    std::vector<Detection> seen;
    const auto detect = [&](math::Point p, double mag, bool catalogued) {
      const double apparent = mag + 0.3 * random.normal() + dimming(p);
      if (apparent > limit || random.uniform() < 0.04) return;
      const double dx = p.x - f.truth.middle.x, dy = p.y - f.truth.middle.y;
      const double stretch = 1 + f.distortion * (dx * dx + dy * dy) / (half * half);
      const math::Point q{f.truth.middle.x + dx * stretch + centroid * random.normal(),
                          f.truth.middle.y + dy * stretch + centroid * random.normal()};
      if (!f.field.holds(q)) return;
      seen.push_back({{q.x, q.y, centroid, std::pow(10, -0.4 * apparent)}, catalogued});
    };
    for (const catalog::SkyStar& s : stars)
      if (const auto p = f.truth.pixel(s.direction)) detect(*p, s.magnitude, true);
    // The stars of the sky that the catalogue lacks, from the number of those that it has where it is complete.
    const double bright = static_cast<double>(std::count_if(
        stars.begin(), stars.end(), [](const catalog::SkyStar& star) { return star.magnitude < kComplete; }));
    const double faint = limit + 1;
    const auto all = static_cast<std::size_t>(std::min(
        20000.0, bright / 0.97 * std::pow(10, kSlope * (faint - std::min(kComplete, stars.back().magnitude)))));
    for (std::size_t i = 0; i < all; ++i) {
      const double mag = sky_magnitude(random, faint);
      const math::Point p{f.truth.middle.x + half * (2 * random.uniform() - 1),
                          f.truth.middle.y + half * (2 * random.uniform() - 1)};
      if (random.uniform() < catalogued_share(mag) || !f.field.holds(p)) continue;
      detect(p, mag, false);
    }
    const auto count = static_cast<std::size_t>(
        std::count_if(seen.begin(), seen.end(), [](const Detection& d) { return d.catalogued; }));
    if (count < wishes.fewest_catalogue_stars || count > wishes.most_catalogue_stars) continue;
    f.catalogue_stars = count;
    const auto bright_flux = [&] { return std::pow(10, -0.4 * (limit - 4 * random.uniform())); };
    const int hot = static_cast<int>(12 * random.uniform());
    for (int i = 0; i < hot; ++i)
      seen.push_back(
          {{f.field.width * random.uniform(), f.field.height * random.uniform(), centroid, bright_flux()}, false});
    const int pieces = random.uniform() < 0.3 ? static_cast<int>(8 * random.uniform()) : 0;
    const math::Point a{f.field.width * random.uniform(), 0}, b{f.field.width * random.uniform(), 1.0 * f.field.height};
    for (int i = 0; i < pieces; ++i) {
      const double t = random.uniform();
      seen.push_back({{a.x + t * (b.x - a.x), a.y + t * (b.y - a.y), centroid, bright_flux()}, false});
    }
    std::sort(seen.begin(), seen.end(),
              [](const Detection& x, const Detection& y) { return x.star.flux > y.star.flux; });
    for (const Detection& d : seen) f.field.stars.push_back(d.star);
    return f;
  }
}

InventedFrame random_points(std::uint64_t seed, std::uint64_t number) {
  math::Random random(seed, number);
  InventedFrame f;
  f.field.width = 1500 + static_cast<int>(4500 * random.uniform());
  f.field.height = f.field.width * 2 / 3;
  const int count = 5 + static_cast<int>(295 * random.uniform());
  for (int i = 0; i < count; ++i)
    f.field.stars.push_back({f.field.width * random.uniform(), f.field.height * random.uniform(), 0.3, 1.0 / (i + 1)});
  return f;
}

}  // namespace ng::bench

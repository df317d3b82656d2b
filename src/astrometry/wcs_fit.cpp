#include "astrometry/wcs_fit.h"

#include <algorithm>
#include <cmath>

#include "astrometry/plane_fit.h"
#include "math/robust.h"

namespace ng::astrometry {
namespace {

constexpr int kRounds = 8;
constexpr int kParts = 10;        // of the cross-validation
constexpr double kBetter = 0.98;  // what a higher degree must reach
constexpr double kPerTerm = 3;

Wcs wcs_of(const Pose& pose) {
  Wcs wcs;
  wcs.reference_x = pose.middle.x;
  wcs.reference_y = pose.middle.y;
  const math::Angles at = math::to_angles(pose.axes[2]);
  wcs.ra_rad = at.longitude_rad;
  wcs.dec_rad = at.latitude_rad;
  const math::Vec3 east{-std::sin(wcs.ra_rad), std::cos(wcs.ra_rad), 0};
  const math::Vec3 north = math::cross(pose.axes[2], east);
  const double sx = pose.scale_rad, sy = pose.scale_rad * pose.parity;
  wcs.cd_rad = {sx * math::dot(pose.axes[0], east), sy * math::dot(pose.axes[1], east),
                sx * math::dot(pose.axes[0], north), sy * math::dot(pose.axes[1], north)};
  return wcs;
}

math::Vec3 direction_of(const Wcs& wcs, math::Point p) {
  const SkyPlace at = wcs.sky_of(p);
  return math::from_angles(at.ra_rad, at.dec_rad);
}

class Fitter {
 public:
  Fitter(const Field& field, const catalog::SkyFile& sky, double year, const WcsFitOptions& options)
      : field_(field), options_(options), index_(places(field.stars)), sky_(sky), year_(year) {}

  Result<WcsFit> run(const Pose& pose) {
    WcsFit fit;
    fit.wcs = wcs_of(pose);
    double tolerance = std::max(4.0, 0.004 * field_.diagonal_px());
    for (int round = 0; round < kRounds; ++round) {
      match(fit, tolerance);
      if (fit.matched.size() < 3)
        return Error(Code::kTooFew, "fewer than 3 of the frame's stars could be matched with the catalogue");
      // The first rounds bring the corners nearer; the degree is weighed when they have come.
      fit.degree = round < 2 ? 1 : best_degree(fit);
      refine(fit);
      tolerance = std::clamp(5 * std::max(fit.rms_px, fit.expected_rms_px), 1.0, tolerance);
    }
    return fit;
  }

 private:
  // Catalogue stars on the frame and the nearest star seen, where each is the other's nearest.
  void match(WcsFit& fit, double tolerance) const {
    const math::Point middle = field_.middle();
    const math::Vec3 centre = direction_of(fit.wcs, middle);
    double radius = 0;
    for (const math::Point corner :
         {math::Point{0, 0}, math::Point{field_.width - 1.0, 0}, math::Point{0, field_.height - 1.0},
          math::Point{field_.width - 1.0, field_.height - 1.0}})
      radius = std::max(radius, math::separation(centre, direction_of(fit.wcs, corner)));
    // Much fainter than the frame shows, a catalogue offers only chance coincidences.
    const std::size_t most = std::min(options_.most_stars, 3 * field_.stars.size() + 50);
    std::vector<catalog::SkyStar> stars;
    std::vector<math::Point> expected;
    for (const catalog::SkyStar& star : sky_.brightest(centre, std::min(radius * 1.02, kPi / 2), 2 * most, year_)) {
      const math::Angles at = math::to_angles(star.direction);
      const auto p = fit.wcs.pixel_of({at.longitude_rad, at.latitude_rad});
      if (!p || !field_.holds(*p)) continue;
      stars.push_back(star);
      expected.push_back(*p);
      if (stars.size() == most) break;
    }
    const math::PointIndex expected_index(expected);
    fit.matched.clear();
    for (std::size_t i = 0; i < stars.size(); ++i) {
      const auto [seen, squared] = index_.nearest(expected[i]);
      if (seen < 0 || squared > tolerance * tolerance) continue;
      const SeenStar& s = field_.stars[static_cast<std::size_t>(seen)];
      if (expected_index.nearest({s.x, s.y}).first != static_cast<int>(i)) continue;
      MatchedStar m;
      m.seen = seen;
      m.star = stars[i];
      m.error_px =
          std::hypot(std::max(s.error_px, options_.centroid_floor_px), stars[i].error_rad / fit.wcs.scale_rad());
      fit.matched.push_back(m);
    }
  }

  // Offsets of the stars from the middle, and their plane coordinates in units of a pixel.
  [[nodiscard]] std::vector<PlanePair> pairs_of(const WcsFit& fit) const {
    const double scale = fit.wcs.scale_rad();
    const double ra = fit.wcs.ra_rad, dec = fit.wcs.dec_rad;
    const math::Vec3 outward = math::from_angles(ra, dec), east{-std::sin(ra), std::cos(ra), 0};
    const math::Vec3 north = math::cross(outward, east);
    std::vector<PlanePair> pairs;
    for (const MatchedStar& m : fit.matched) {
      const SeenStar& s = field_.stars[static_cast<std::size_t>(m.seen)];
      const double along = math::dot(m.star.direction, outward) * scale;
      pairs.push_back({s.x - fit.wcs.reference_x, s.y - fit.wcs.reference_y, math::dot(m.star.direction, east) / along,
                       math::dot(m.star.direction, north) / along, 1 / (m.error_px * m.error_px)});
    }
    return pairs;
  }

  [[nodiscard]] int best_degree(const WcsFit& fit) const {
    const std::vector<PlanePair> pairs = pairs_of(fit);
    int best = 1;
    double best_loss = loss(pairs, 1);
    for (int degree = 2; degree <= options_.highest_degree; ++degree) {
      if (static_cast<double>(pairs.size()) < kPerTerm * static_cast<double>(PlanePolynomial::count(degree))) break;
      const double l = loss(pairs, degree);
      if (l > kBetter * best_loss) continue;
      best = degree;
      best_loss = l;
    }
    return best;
  }

  // Mean over the stars of the squared residual, in units of its expected error, of each star predicted without it; the
  // worst tenth, among it the false matches, is left out.
  [[nodiscard]] double loss(const std::vector<PlanePair>& pairs, int degree) const {
    std::vector<double> squares;
    for (int part = 0; part < kParts; ++part) {
      std::vector<PlanePair> rest;
      for (std::size_t i = 0; i < pairs.size(); ++i)
        if (static_cast<int>(i % kParts) != part) rest.push_back(pairs[i]);
      if (rest.size() < PlanePolynomial::count(degree)) return 1e300;
      const PlaneFit f = fit_plane(rest, degree, field_.diagonal_px() / 2);
      for (std::size_t i = static_cast<std::size_t>(part); i < pairs.size(); i += kParts) {
        const PlanePair& p = pairs[i];
        squares.push_back(p.weight * (std::pow(p.x - f.x.at(p.u, p.v), 2) + std::pow(p.y - f.y.at(p.u, p.v), 2)));
      }
    }
    std::sort(squares.begin(), squares.end());
    squares.resize((squares.size() * 9 + 9) / 10);
    double sum = 0;
    for (const double s : squares) sum += s;
    return sum / static_cast<double>(squares.size());
  }

  void refine(WcsFit& fit) const {
    PlaneFit f;
    for (int i = 0; i < 4; ++i) {
      f = fit_plane(pairs_of(fit), fit.degree, field_.diagonal_px() / 2);
      take_over(fit.wcs, f);
    }
    measure(fit, f);
  }

  // The polynomial becomes the solution: its constant moves the point of contact, its linear part is CD, the rest SIP.
  static void take_over(Wcs& wcs, const PlaneFit& f) {
    const double s = wcs.scale_rad();
    const auto& x = f.x.coefficients;
    const auto& y = f.y.coefficients;
    const double ra = wcs.ra_rad, dec = wcs.dec_rad;
    const math::Vec3 outward = math::from_angles(ra, dec), east{-std::sin(ra), std::cos(ra), 0};
    const math::Vec3 north = math::cross(outward, east);
    math::Vec3 d{};
    for (std::size_t k = 0; k < 3; ++k) d[k] = outward[k] + s * (x[0] * east[k] + y[0] * north[k]);
    const math::Angles at = math::to_angles(d);
    wcs.ra_rad = at.longitude_rad;
    wcs.dec_rad = at.latitude_rad;
    wcs.cd_rad = {s * x[1], s * x[2], s * y[1], s * y[2]};
    wcs.a = wcs.b = {};
    if (f.x.order < 2) return;
    const double det = x[1] * y[2] - x[2] * y[1];
    wcs.a.order = wcs.b.order = f.x.order;
    wcs.a.coefficients.assign(x.size(), 0);
    wcs.b.coefficients.assign(x.size(), 0);
    for (std::size_t k = PlanePolynomial::count(1); k < x.size(); ++k) {
      wcs.a.coefficients[k] = (y[2] * x[k] - x[2] * y[k]) / det;
      wcs.b.coefficients[k] = (x[1] * y[k] - y[1] * x[k]) / det;
    }
  }

  void measure(WcsFit& fit, const PlaneFit& f) const {
    double sum = 0, expected = 0, chi2 = 0;
    int n = 0;
    for (std::size_t i = 0; i < fit.matched.size(); ++i) {
      MatchedStar& m = fit.matched[i];
      const SeenStar& s = field_.stars[static_cast<std::size_t>(m.seen)];
      const math::Angles at = math::to_angles(m.star.direction);
      const auto p = fit.wcs.pixel_of({at.longitude_rad, at.latitude_rad});
      m.outlier = !p || f.robust[i] == 0;
      if (p) {
        m.dx_px = s.x - p->x;
        m.dy_px = s.y - p->y;
      }
      if (m.outlier) continue;
      const double square = m.dx_px * m.dx_px + m.dy_px * m.dy_px;
      sum += square;
      expected += 2 * m.error_px * m.error_px;
      chi2 += square / (m.error_px * m.error_px);
      ++n;
    }
    const double terms = static_cast<double>(PlanePolynomial::count(fit.degree));
    const double freedom = std::max(1.0, n - terms);
    fit.rms_px = std::sqrt(sum / (2.0 * std::max(1, n)));
    fit.expected_rms_px = std::sqrt(expected / (2.0 * std::max(1, n)));
    // The errors are scaled up where the residuals are larger than expected, never down.
    const double scatter = std::sqrt(std::max(1.0, chi2 / (2 * freedom)));
    fit.centre_error_rad = scatter * std::sqrt(f.covariance(0, 0)) * fit.wcs.scale_rad();
    fit.scale_error = scatter * 0.5 * std::sqrt(f.covariance(1, 1) + f.covariance(2, 2));
    fit.rotation_error_rad = fit.scale_error;  // by symmetry: both are halves of sums of two linear coefficients
  }

  const Field& field_;
  const WcsFitOptions& options_;
  math::PointIndex index_;
  const catalog::SkyFile& sky_;
  double year_;
};

// AP and BP: the way back, fitted over the frame.
void fit_inverse(Wcs& wcs, const Field& field) {
  if (!wcs.distorted()) return;
  std::vector<PlanePair> pairs;
  constexpr int kGrid = 24;
  for (int j = 0; j <= kGrid; ++j)
    for (int i = 0; i <= kGrid; ++i) {
      const double u = (field.width - 1.0) * i / kGrid - wcs.reference_x;
      const double v = (field.height - 1.0) * j / kGrid - wcs.reference_y;
      const double du = wcs.a.at(u, v), dv = wcs.b.at(u, v);
      pairs.push_back({u + du, v + dv, -du, -dv, 1});
    }
  const PlaneFit f = fit_plane(pairs, std::min(wcs.a.order + 1, 6), field.diagonal_px() / 2);
  wcs.ap = f.x;
  wcs.bp = f.y;
}

}  // namespace

Result<WcsFit> fit_wcs(const Field& field, const catalog::SkyFile& sky, double year, const Pose& pose,
                       const WcsFitOptions& options) {
  NG_TRY(WcsFit fit, Fitter(field, sky, year, options).run(pose));
  fit_inverse(fit.wcs, field);
  return fit;
}

}  // namespace ng::astrometry

#include "measure/field_profile.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <vector>

#include "math/robust.h"

namespace ng::measure {
namespace {

// Shapes of single stars differ by about this much more than their fits say: sampling, faint neighbours.
constexpr double kShapeScatter = 0.02;

struct Sample {
  double u, v;
  std::array<double, 3> s;  // xx, xy, yy
  double weight;
};

std::vector<Sample> samples_of(const StarList& list, double beta, double x0, double y0, double size) {
  std::vector<Sample> samples;
  const double k = 2 * std::sqrt(std::exp2(1 / beta) - 1);
  for (const Star& star : list.stars) {
    if (star.flags != 0 || star.snr() < 20 || !(star.fwhm_px > 0) || !(star.fwhm_error_px > 0)) continue;
    const double axes = std::sqrt(1 - star.eccentricity * star.eccentricity);  // minor over major
    const double mean2 = std::pow(star.fwhm_px / k, 2);
    const double major2 = mean2 / axes, minor2 = mean2 * axes;
    const double co = std::cos(star.angle_rad), si = std::sin(star.angle_rad);
    const double error = mean2 * (2 * star.fwhm_error_px / star.fwhm_px + kShapeScatter);
    samples.push_back(
        {(star.x - x0) / size,
         (star.y - y0) / size,
         {major2 * co * co + minor2 * si * si, (major2 - minor2) * co * si, major2 * si * si + minor2 * co * co},
         1 / (error * error)});
  }
  return samples;
}

std::array<double, 6> terms(const Sample& s) {
  return {1, s.u, s.v, s.u * s.u, s.u * s.v, s.v * s.v};
}

FieldProfile::Surface fit(const std::vector<Sample>& samples, std::size_t element) {
  const int n = samples.size() < 15 ? 1 : samples.size() < 60 ? 3 : 6;
  Eigen::MatrixXd a = Eigen::MatrixXd::Zero(n, n);
  Eigen::VectorXd b = Eigen::VectorXd::Zero(n);
  for (const Sample& s : samples) {
    const auto t = terms(s);
    const Eigen::Map<const Eigen::VectorXd> row(t.data(), n);
    a += s.weight * row * row.transpose();
    b += s.weight * s.s[element] * row;
  }
  const Eigen::VectorXd solved = a.ldlt().solve(b);
  FieldProfile::Surface surface{};
  if (solved.allFinite()) std::copy_n(solved.data(), n, surface.begin());
  return surface;
}

double at(const FieldProfile::Surface& surface, const Sample& s) {
  const auto t = terms(s);
  double sum = 0;
  for (std::size_t i = 0; i < t.size(); ++i) sum += surface[i] * t[i];
  return sum;
}

// Drops those further than 4 robust sigma from the surfaces, in any element. True when some fell.
bool drop_wild(std::vector<Sample>& samples, const std::array<FieldProfile::Surface, 3>& surfaces) {
  std::array<double, 3> limit{};
  for (std::size_t e = 0; e < 3; ++e) {
    std::vector<double> off;
    for (const Sample& s : samples) off.push_back(s.s[e] - at(surfaces[e], s));
    limit[e] = 4 * math::mad_sigma(std::span<double>(off), 0.0);
  }
  return std::erase_if(samples, [&](const Sample& s) {
           for (std::size_t e = 0; e < 3; ++e)
             if (std::fabs(s.s[e] - at(surfaces[e], s)) > limit[e]) return true;
           return false;
         }) > 0;
}

}  // namespace

FieldProfile field_profile(const StarList& list, const Profile& typical) {
  FieldProfile result = FieldProfile::uniform(typical);
  result.x0 = list.width / 2.0;
  result.y0 = list.height / 2.0;
  result.size = std::max(1, std::max(list.width, list.height)) / 2.0;
  std::vector<Sample> samples = samples_of(list, typical.beta, result.x0, result.y0, result.size);
  std::array<FieldProfile::Surface, 3> surfaces;
  for (int round = 0; round < 5; ++round) {
    if (samples.size() < 3) return result;
    for (std::size_t e = 0; e < 3; ++e) surfaces[e] = fit(samples, e);
    // The first fit is what wild ones pulled it to: begin with the medians.
    if (round == 0)
      for (std::size_t e = 0; e < 3; ++e) {
        std::vector<double> values;
        for (const Sample& s : samples) values.push_back(s.s[e] - at(surfaces[e], s) + surfaces[e][0]);
        surfaces[e][0] = math::median(std::span<double>(values));
      }
    if (!drop_wild(samples, surfaces) && round > 0) break;
  }
  if (samples.size() < 3) return result;
  result.sxx = surfaces[0];
  result.sxy = surfaces[1];
  result.syy = surfaces[2];
  return result;
}

}  // namespace ng::measure

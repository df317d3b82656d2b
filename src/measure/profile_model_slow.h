// measure/profile_model_slow.h - the model of a star's pixel as frame/profile.h writes it. For tests only.
#pragma once

#include "frame/profile.h"
#include "measure/profile_model.h"

namespace ng::measure::slow {

inline double model(const ProfileVector& p, double dx, double dy) {
  const Profile profile{p[4], p[5], p[6], 1 / p[7]};
  return p[3] + p[2] * profile.over_pixel(dx - p[0], dy - p[1]);
}

// Derivative by one parameter: central difference, refined once (Richardson).
inline double slope(const ProfileVector& p, std::size_t k, double dx, double dy) {
  const auto difference = [&](double h) {
    ProfileVector up = p, down = p;
    up[k] += h;
    down[k] -= h;
    return (model(up, dx, dy) - model(down, dx, dy)) / (2 * h);
  };
  const double h = 1e-3 * std::max(0.05, std::fabs(p[k]));
  return (4 * difference(h / 2) - difference(h)) / 3;
}

}  // namespace ng::measure::slow

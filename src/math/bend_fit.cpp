#include "math/bend_fit.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <vector>

namespace ng::math {

std::optional<Bend> fit_bend(std::span<const BentPlace> places, Point centre, double size) {
  constexpr int kTerms = Bend::kTerms;
  Eigen::Matrix<double, kTerms, kTerms> a = Eigen::Matrix<double, kTerms, kTerms>::Zero();
  Eigen::Matrix<double, kTerms, 2> b = Eigen::Matrix<double, kTerms, 2>::Zero();
  for (const BentPlace& place : places) {
    if (place.weight <= 0) continue;
    const Bend::Terms t = Bend::terms_at((place.flat.x - centre.x) / size, (place.flat.y - centre.y) / size);
    const Eigen::Map<const Eigen::Matrix<double, kTerms, 1>> row(t.data());
    a.selfadjointView<Eigen::Lower>().rankUpdate(row, place.weight);
    b += place.weight * row *
         Eigen::RowVector2d((place.seen.x - place.flat.x) / size, (place.seen.y - place.flat.y) / size);
  }
  const Eigen::LDLT<Eigen::Matrix<double, kTerms, kTerms>> ldlt(a.selfadjointView<Eigen::Lower>());
  if (ldlt.info() != Eigen::Success ||
      !(ldlt.vectorD().array().abs().minCoeff() > 1e-12 * ldlt.vectorD().array().abs().maxCoeff()))
    return std::nullopt;
  const Eigen::Matrix<double, kTerms, 2> solved = ldlt.solve(b);
  Bend::Terms x{}, y{};
  for (int k = 0; k < kTerms; ++k) {
    x[static_cast<std::size_t>(k)] = solved(k, 0);
    y[static_cast<std::size_t>(k)] = solved(k, 1);
  }
  return Bend(centre, size, x, y);
}

PlaneMap composed(const PlaneMap& outer, const PlaneMap& inner, int width, int height) {
  const bool flat_between = !outer.from() && !inner.to();
  const bool bent_alike = outer.from() && inner.to() && *outer.from() == *inner.to();
  if (!outer.to() && (flat_between || bent_alike)) return outer.after(inner);
  constexpr int kSteps = 12;
  const Homography flat = outer.plane().after(inner.plane()), back = flat.inverse();
  std::vector<BentPlace> places;
  for (int j = 0; j <= kSteps; ++j) {
    for (int i = 0; i <= kSteps; ++i) {
      const Point p{(width - 1.0) * i / kSteps, (height - 1.0) * j / kSteps};
      places.push_back({back.apply(outer.apply(inner.apply(p))), p});
    }
  }
  const auto bend = fit_bend(places, {(width - 1) / 2.0, (height - 1) / 2.0}, (width + height) / 4.0);
  if (!bend) return flat;
  return {std::make_shared<const Bend>(*bend), flat, nullptr};
}

}  // namespace ng::math

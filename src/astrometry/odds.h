// astrometry/odds.h - is a proposed pose the truth, or chance? A Bayesian odds test with a stated bound.
//
// Two hypotheses about where the catalogue's stars appear in the frame (after Lang, Hogg, Mierle, Blanton & Roweis
// 2010, AJ 139, 1782, section 2.4):
//   foreground: the pose is right. A catalogue star stands at its predicted place (a Gaussian around one of the frame's
//     stars of like rank in brightness), or, with probability `distractor`, it has no counterpart there and anything
//     goes;
//   background: the pose is wrong. Catalogue stars fall anywhere on the frame with equal chance.
// Catalogue stars are taken one by one, nearest to the proposing pattern first; each is predicted with the covariance
// of the pose learnt so far, weighed, and only then learnt from (departure from the paper, which keeps the pose fixed
// and lets a tolerance grow). So no star is used twice, and under the background the running product of likelihood
// ratios is a martingale that begins at 1: the chance that it ever exceeds K is at most 1/K (Ville's inequality). Of M
// proposals a false one passes with a probability of at most M / K. That is the bound: accept when
// log_odds >= log(M) + log(1 / false_alarm). Stars that made the proposal do not count.
#pragma once

#include <cstdint>
#include <span>
#include <utility>
#include <vector>

#include "astrometry/field.h"
#include "astrometry/pose.h"
#include "catalog/sky_file.h"

namespace ng::astrometry {

struct OddsOptions {
  double distractor = 0.3;    // share of catalogue stars without a counterpart: clouds, blends, variables, gaps
  double centroid_px = 0.25;  // added to the stated error of a place: undersampled, trailed or double stars
  double model = 0.002;       // error of the camera without distortion, as a share of the distance from the pattern
  double give_up = -6;        // log odds at which a proposal is dropped
  int first_stars = 16;       // brightest catalogue stars on the frame that are weighed first ...
  int more_stars = 48;        // ... and when those leave it open
};

struct Verdict {
  double log_odds = 0;  // natural; the highest reached
  int matched = 0;      // catalogue stars with a counterpart, those of the pattern included
  Pose pose;            // learnt from all matched stars
};

// What is the same for all proposals about one frame.
class OddsTest {
 public:
  OddsTest(const Field& field, const OddsOptions& options);
  // Many proposals about one part of the sky: its stars, brightest first, are read once. Each frame that is proposed
  // must find its OddsOptions::more_stars among them, or all that the catalogue has there.
  void keep(std::vector<catalog::SkyStar> around) { around_ = std::move(around); }
  // `pattern`: indices (into the catalogue) of the stars that made the proposal, `used`: of the frame's stars that did.
  [[nodiscard]] Verdict weigh(const catalog::SkyFile& sky, double year, const PoseTracker& proposal,
                              math::Point pattern_at, std::span<const std::uint32_t> pattern, std::span<const int> used,
                              double wanted) const;

 private:
  [[nodiscard]] Verdict weigh_brightest(const catalog::SkyFile& sky, double year, PoseTracker pose,
                                        math::Point pattern_at, std::span<const std::uint32_t> pattern,
                                        std::span<const int> used, std::size_t count) const;
  [[nodiscard]] std::vector<catalog::SkyStar> brightest(const catalog::SkyFile& sky, double year,
                                                        const math::Vec3& centre, double radius_rad,
                                                        std::size_t count) const;
  const Field& field_;
  OddsOptions options_;
  math::PointIndex index_;
  std::vector<catalog::SkyStar> around_;
};

}  // namespace ng::astrometry

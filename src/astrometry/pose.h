// astrometry/pose.h - how a camera looks at the sky: attitude, scale, parity; and how well that is known.
//
// A camera without distortion: the picture is the tangent plane at the direction of its middle, turned and scaled.
#pragma once

#include <Eigen/Core>
#include <optional>

#include "math/transform.h"
#include "math/vec3.h"

namespace ng::astrometry {

struct Pose {
  math::Mat3 axes{};     // rows: the camera's x, y and outward axis in equatorial axes; a rotation
  double scale_rad = 0;  // of a pixel in the middle
  int parity = 1;        // +1: y runs along the camera's y axis; -1: against it
  math::Point middle{};  // of the frame, 0-based pixels

  [[nodiscard]] math::Vec3 direction(math::Point pixel) const;  // unit vector
  // Nothing for directions more than 85 degrees from where the camera looks.
  [[nodiscard]] std::optional<math::Point> pixel(const math::Vec3& direction) const;
};

// A pose with the covariance of (three small turns about the camera's axes, relative scale), made from two stars and
// bettered star by star (a Kalman filter: each star is first predicted, with an uncertainty, and then learnt from).
class PoseTracker {
 public:
  // From two stars seen at p and q, each with an error of sigma_px on each axis. Nothing when they coincide or cannot
  // be seen so.
  [[nodiscard]] static std::optional<PoseTracker> from_pair(math::Point middle, int parity, math::Point p,
                                                            const math::Vec3& at_p, math::Point q,
                                                            const math::Vec3& at_q, double sigma_px);
  struct Prediction {
    math::Point at;
    Eigen::Matrix2d covariance;  // of the pose's own uncertainty, px^2
    Eigen::Matrix<double, 2, 4> slope;
  };
  [[nodiscard]] std::optional<Prediction> predict(const math::Vec3& direction) const;
  // noise_px2: variance of one axis of (measured - predicted) beyond that of the pose.
  void learn(const Prediction& prediction, math::Point measured, double noise_px2);
  [[nodiscard]] const Pose& pose() const { return pose_; }

 private:
  Pose pose_;
  Eigen::Matrix4d covariance_;
};

}  // namespace ng::astrometry

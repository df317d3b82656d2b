#include "app/reduce_tolerances.h"

#include "app/calibration_wish.h"
#include "app/workspace.h"

namespace ng::app {

Result<ReduceRequest> with_wished_tolerances(ReduceRequest request) {
  if (request.target.empty()) return request;
  NG_TRY(const Workspace workspace, open_workspace(request.workspace));
  NG_TRY(const CalibrationWish wish, read_calibration_wish(workspace.folder));
  const ReduceRequest usual;
  const auto take = [](double& value, double unchanged, double wished) {
    if (value == unchanged) value = wished;
  };
  take(request.exposure_tolerance, usual.exposure_tolerance, wish.tolerance.exposure_share);
  take(request.temperature_tolerance_c, usual.temperature_tolerance_c, wish.tolerance.temperature_c);
  take(request.rotation_tolerance_deg, usual.rotation_tolerance_deg, wish.tolerance.rotation_deg);
  return request;
}

}  // namespace ng::app

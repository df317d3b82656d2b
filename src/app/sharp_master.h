// app/sharp_master.h - the properly coadded master (reduce/stack/proper.h), beside the ordinary one that it starts
// from.
//
// OUT/sharp/NAME.fits: the image, with the extensions VARIANCE (of white noise: pixels are independent of each other),
// COVERAGE and REJECTED (values that were replaced), and a recipe. Its profile stands in the header: PROFFWHM,
// PROFAREA.
#pragma once

#include "app/master_file.h"

namespace ng::app {

[[nodiscard]] std::filesystem::path sharp_path(const std::filesystem::path& master);

// `ordinary` is what write_master() said of the master at input.path. Errors as there.
[[nodiscard]] Result<SharpMaster> write_sharp_master(const MasterInput& input, const ReduceMaster& ordinary,
                                                     const ReduceRequest& request, io::Overwrite overwrite,
                                                     const Context& ctx);

}  // namespace ng::app

// Pixel size, focal length, aperture, plate scale, rotation.
#include <fmt/format.h>

#include "io/facts_reader.h"

namespace ng::io {

void read_optics(FactsReader& reader) {
  FrameFacts& facts = reader.facts();
  if (const auto after = reader.number_within({"XPIXSZ"}, 0.1, 1000)) {
    facts.pixel_size_um = after->value;
  } else if (const auto before = reader.number_within({"PIXSIZE1", "PIXSIZE", "PIXSZ"}, 0.1, 1000)) {
    facts.pixel_size_um = before->value * facts.binning_x;
  } else if (const auto metres = reader.number_within({"CCDXPIXE"}, 1e-7, 1e-3)) {
    facts.pixel_size_um = metres->value * 1e6 * facts.binning_x;
  }
  // Zero is the common way of saying "not known".
  const auto positive = [&](FactsReader::Names names) -> std::optional<double> {
    const auto found = reader.number(names);
    return found && found->value > 0 ? std::optional(found->value) : std::nullopt;
  };
  facts.focal_length_mm = positive({"FOCALLEN"});
  facts.aperture_mm = positive({"APTDIA"});
  if (facts.focal_length_mm && facts.aperture_mm) {
    const double ratio = *facts.focal_length_mm / *facts.aperture_mm;
    if (ratio < 0.8 || ratio > 40)
      reader.warn(fmt::format("FOCALLEN {} mm with APTDIA {} mm is f/{:.3g}: one of them is doubtful",
                              *facts.focal_length_mm, *facts.aperture_mm, ratio));
  }
  facts.plate_scale_arcsec_px = positive({"PIXSCALE", "SECPIX", "SCALE", "IM_SCALE"});
  if (const auto angle = reader.number_within({"ROTATANG", "ROTATOR", "ROTANGLE"}, -360, 360))
    facts.rotation_deg = angle->value;
}

}  // namespace ng::io

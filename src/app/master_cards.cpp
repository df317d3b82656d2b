#include "app/master_cards.h"

#include <fmt/format.h>

#include "app/stack_input.h"
#include "app/wcs_cards.h"

namespace ng::app {

std::vector<io::FitsCard> master_cards(const MasterInput& input, double pixel_scale) {
  const bool electrons = gain_known(input);
  double exposure_s = 0;
  for (const Light* light : input.lights) exposure_s += light->input->source->facts().exposure_s.value_or(0);
  const FrameFacts& facts = input.scale_references.front()->input->facts();
  std::vector<io::FitsCard> cards;
  const auto text = [&](const char* name, const std::string& value, const char* comment) {
    if (!value.empty()) cards.push_back({name, value, comment});
  };
  const auto number = [&](const char* name, const std::optional<double>& value, const char* comment) {
    if (value) cards.push_back({name, *value, comment});
  };
  text("IMAGETYP", "MASTER LIGHT", "weighted mean of registered lights");
  text("OBJECT", facts.object, "");
  text("FILTER", input.scale_references.front()->filter, "");
  text("BUNIT", electrons ? "electron" : "adu", "per pixel and reference sub-exposure");
  cards.push_back({"EXPTIME", exposure_s, "s, sum over the frames used"});
  number("SUBEXP", facts.exposure_s, "s, of the reference frame: the unit of the values");
  cards.push_back({"NCOMBINE", static_cast<std::int64_t>(input.lights.size()), "frames used"});
  if (electrons) cards.push_back({"EGAIN", 1.0, "e-/ADU: the values are electrons"});
  number("DATAMAX", saturation_of(input), "some frame was full where a pixel exceeds this");
  if (facts.start) text("DATE-OBS", facts.start->iso(), "UTC, start of the reference frame");
  text("INSTRUME", facts.camera, "");
  text("TELESCOP", facts.telescope, "");
  std::optional<double> pixel_um = facts.pixel_size_um;
  if (pixel_um) *pixel_um *= pixel_scale;
  number("XPIXSZ", pixel_um, "um");
  number("YPIXSZ", pixel_um, "um");
  number("FOCALLEN", facts.focal_length_mm, "mm");
  number("RA", facts.ra_deg, "deg, pointing of the mount");
  number("DEC", facts.dec_deg, "deg, pointing of the mount");
  if (input.place.wcs)
    for (io::FitsCard& card : wcs_cards(*input.place.wcs)) cards.push_back(std::move(card));
  text("HISTORY",
       fmt::format("nightglass: {} frames, reference {}", input.lights.size(),
                   input.scale_references.front()->input->path.filename().string()),
       "");
  return cards;
}

}  // namespace ng::app

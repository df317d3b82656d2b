// io/fits_facts.h - header cards to frame facts, by the keywords in common use.
//
// The FITS standard reserves few of these names (DATE-OBS, MJD-OBS, OBJECT, TELESCOP, INSTRUME, BUNIT, DATAMAX, RA, DEC
// by convention); the others are common practice, and their meanings differ between the programs that write them. Where
// two readings are possible the reading taken is written here, and the frame carries a warning:
//   kind         IMAGETYP, FRAME, FRAMETYP, OBSTYPE, IMGTYPE; else words of the file name (with a warning); else
//   unknown gain         EGAIN, E-GAIN: electrons per ADU. GAIN: the same when its comment or unit speaks of electrons,
//   else the
//                camera's own setting (doubtful below 10). ISO: a setting
//   temperature  CCD-TEMP and its like; kelvin when the unit says so or the number is above 150; set point as last
//   resort Bayer order  BAYERPAT is taken as the pattern of the first *stored* row, moved by XBAYROFF, YBAYROFF. Only
//   with
//                ROWORDER = 'BOTTOM-UP' it describes the picture upside down to the storage: the pattern belongs to the
//                top of the picture, the first stored row is its bottom, so the pattern is flipped
//   pixel size   XPIXSZ is after binning; PIXSIZE1 and its like are the sensor's own and are multiplied by the binning
//   PEDESTAL     number to add to bring black to zero: a negative one means that black stands at -PEDESTAL
//   longitude    east positive. A west-positive one is recognised by its unit, a 'W', the zone of a local DATE-OBS or
//   the
//                sidereal time in the same header, and turned round
//   RA           a plain number is degrees unless its unit says hours; a sexagesimal text is hours
#pragma once

#include <filesystem>

#include "frame/facts.h"
#include "io/fits_layout.h"

namespace ng::io {

// `path` serves for the hints in the file name only; nothing is opened.
[[nodiscard]] FrameFacts fits_facts(const FitsLayout& layout, const std::filesystem::path& path);

}  // namespace ng::io

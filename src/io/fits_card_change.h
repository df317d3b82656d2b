// io/fits_card_change.h - a FITS file with other cards in the header of its image, and not one other byte changed.
#pragma once

#include <filesystem>
#include <functional>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "io/fits_writer.h"
#include "io/overwrite.h"

namespace ng::io {

// Copies `from` to `to`: cards of the image's header for whose name `drop` is true go, `add` comes behind the others; a
// CHECKSUM is brought up to date by the DATASUM beside it, or goes where there is none. The copy is written under
// another name and renamed when it is whole, so `to` may be `from` itself (with kReplace): it is then never
// half-written. A file inside gzip is written without it, and cannot be changed in place. Errors: kNotFound, kCorrupt,
// kUnsupported (no FITS, in place inside gzip), kExists, kIo.
[[nodiscard]] Result<void> change_fits_cards(const std::filesystem::path& from, const std::filesystem::path& to,
                                             const std::function<bool(std::string_view)>& drop,
                                             const std::vector<FitsCard>& add, Overwrite overwrite);

}  // namespace ng::io

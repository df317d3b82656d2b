// app/wcs_cards.h - a solution as the cards of a FITS header, and cards as a solution.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "frame/wcs.h"
#include "io/fits_card.h"
#include "io/fits_writer.h"

namespace ng::app {

// Paper I and II (Greisen & Calabretta 2002; Calabretta & Greisen 2002) for the linear part, SIP (Shupe et al. 2005)
// for the distortion. Pixels count from 1 there.
[[nodiscard]] std::vector<io::FitsCard> wcs_cards(const Wcs& wcs);
// Is this the name of a card that says where the pixels lie? Those are replaced when a solution is written. Alternative
// descriptions (names that end in a letter, like CRVAL1A) are left.
[[nodiscard]] bool is_wcs_card(std::string_view name);

// The solution that a header carries; nothing where there is none, or one in another
// projection than TAN. Distortion is read where it is SIP.
[[nodiscard]] std::optional<Wcs> wcs_of_cards(const io::FitsCards& cards);

}  // namespace ng::app

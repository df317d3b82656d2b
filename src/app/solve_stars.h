// app/solve_stars.h - a list of stars and what is known beside it, put to the catalogues: the middle of `solve`.
#pragma once

#include "app/sky_catalogues.h"
#include "app/solve.h"
#include "app/solve_field.h"

namespace ng::app {

// `request`: hints, and what the reply should list; its files are not looked at. Not solved is an answer, with the
// reason. Errors: kCancelled.
[[nodiscard]] Result<SolveReply> solve_stars(const SolveField& field, const SolveRequest& request,
                                             const SkyCatalogues& skies, const Context& ctx);

}  // namespace ng::app

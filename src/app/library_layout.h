// app/library_layout.h - where a frame lies in the library: folders and names that a person can read without us.
#pragma once

#include <string>

#include "base/result.h"
#include "store/library_index.h"

namespace ng::app {

inline constexpr const char* kDefaultLayout = "{target}/{filter}/{night}/{kind}/{name}";

// Valid UTF-8 for people: bytes that are no UTF-8, and control characters, as %XX.
[[nodiscard]] std::string readable(const std::string& bytes);

// The path below frames/ of a frame whose file was called `name`. A layout is text with {target}, {filter}, {night},
// {kind}, {name}, {camera}, {exposure_s}, {gain}, between slashes; {name} is asked for. Darks, flats and the like have
// the target "calibration"; what a header does not say is "none". No part begins with a dot, none is longer than 255
// bytes. Errors: kInvalidInput (unknown word in braces, no {name} in the last part, a part that is empty or "..").
[[nodiscard]] Result<std::string> library_path(const std::string& layout, const store::LibraryFrame& frame,
                                               const std::string& name);
// The same path for the n-th frame of that name (n > 1): "a.fits" becomes "a-2.fits".
[[nodiscard]] std::string numbered(const std::string& path, int n);

}  // namespace ng::app

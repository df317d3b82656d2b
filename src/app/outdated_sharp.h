// app/outdated_sharp.h - the sharp master of an earlier reduction beside a newer ordinary one.
//
// A reduction without --sharp leaves a sharp master where it lies: nothing of the user's is lost. But it then holds
// other frames than the master whose name it bears, and whoever finishes it should know.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

namespace ng::app {

struct OutdatedSharp {
  std::filesystem::path path;  // of the sharp master
  std::string why;             // "holds the 4 lights of an earlier reduction, NAME.fits holds 7; ..."
};

// Where the recipes of the ordinary master and of the sharp one beside it name other lights, or the latter's cannot be
// read. Nothing where there is no sharp master, or where the ordinary one has no recipe to compare it with.
[[nodiscard]] std::optional<OutdatedSharp> outdated_sharp(const std::filesystem::path& master);

}  // namespace ng::app

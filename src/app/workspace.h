// app/workspace.h - the person's own folder: site.toml, rig.toml, frames/, masters/, pictures/.
//
// A folder is a workspace when it holds site.toml and rig.toml. Commands take the one that --workspace names, else the
// nearest from the current folder upwards.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "rig/observing_site.h"
#include "rig/rig.h"

namespace ng::app {

struct Workspace {
  std::filesystem::path folder;
  rig::ObservingSite site;
  rig::Rig rig;
  std::vector<std::string> notes;  // what is doubtful in the files, and what was assumed
};

// Errors: kNotFound, saying what to do: nothing there, only one of the two files, no such folder.
[[nodiscard]] Result<std::filesystem::path> find_workspace(const std::optional<std::filesystem::path>& named,
                                                           const std::filesystem::path& start);
// Finds (from the current folder) and reads. Errors: those of find_workspace() and read_workspace().
[[nodiscard]] Result<Workspace> open_workspace(const std::optional<std::filesystem::path>& named);
// Errors: kNotFound, kIo, and kInvalidInput "FILE:LINE: KEY: what" for a key, unit, type or value that is wrong.
[[nodiscard]] Result<Workspace> read_workspace(const std::filesystem::path& folder);

// The same from texts; `name` stands in messages. A horizon file is looked for in `folder`.
[[nodiscard]] Result<rig::ObservingSite> parse_site(const std::string& text, const std::string& name,
                                                    const std::filesystem::path& folder);
[[nodiscard]] Result<rig::Rig> parse_rig(const std::string& text, const std::string& name);
// A text of two columns, azimuth and altitude in degrees, parted by blanks, tabs, commas or semicolons; lines that do
// not begin with a number are passed over. Sorted by azimuth. Errors: kInvalidInput "NAME:LINE: ...".
[[nodiscard]] Result<rig::Horizon> parse_horizon(const std::string& text, const std::string& name);

}  // namespace ng::app

// cli/library_parts.h - what the commands below `library` share.
#pragma once

#include <fmt/format.h>

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "cli/session.h"

namespace ng::cli {

inline void add_workspace(CLI::App* command, std::optional<std::filesystem::path>& workspace) {
  command->add_option("--workspace", workspace, "Folder with site.toml and rig.toml; default: the nearest upwards");
}

inline std::string lines(const char* what, const std::vector<std::string>& list) {
  std::string text;
  for (const std::string& line : list) text += fmt::format("{:<10} {}\n", what, line);
  return text;
}

template <typename Reply>
void answer(const Session& session, const Reply& reply, const std::string& text) {
  if (session.json())
    session.print(app::to_json(reply));
  else
    session.print(text);
}

void add_library_calibration(CLI::App& parent, Session& session);
void add_library_export(CLI::App& parent, Session& session);
void add_library_import(CLI::App& parent, Session& session);
void add_library_free(CLI::App& parent, Session& session);

}  // namespace ng::cli

#include "app/export_list.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

#include "app/library_layout.h"
#include "app/message.h"
#include "app/text_file.h"
#include "io/system_error.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

constexpr int kVersion = 2;  // 2: sensor results
constexpr const char* kList = "export.json";
constexpr std::array kParts = {"frames", "masters", "pictures", "catalogues", "sensors"};

// Of an export that comes from anywhere: a path must stay in it, and be one that we would give.
bool harmless(const std::string& path) {
  const fs::path p(path);
  if (p.is_absolute() || readable(path) != path || p.lexically_normal().string() != path || !p.has_filename())
    return false;
  for (const fs::path& part : p)
    if (part.string().starts_with('.')) return false;
  const std::string first = p.begin()->string();
  return std::find(kParts.begin(), kParts.end(), first) != kParts.end() && std::next(p.begin()) != p.end();
}

bool is_hash(const std::string& text) {
  return text.size() == 32 && text.find_first_not_of("0123456789abcdef") == std::string::npos;
}

}  // namespace

ExportCounts ExportList::counts() const {
  ExportCounts n;
  for (const ExportEntry& f : files) {
    n.frames += f.path.starts_with("frames/");
    n.masters += f.path.starts_with("masters/");
    n.pictures += f.path.starts_with("pictures/");
    n.sensors += f.path.starts_with("sensors/");
    n.catalogues += f.path.starts_with("catalogues/");
  }
  return n;
}

Result<ExportList> read_export(const fs::path& folder) {
  const fs::path path = folder / kList;
  const auto text = read_text(path);
  if (!text.ok() && text.error().code() == Code::kNotFound)
    return Error(Code::kNotFound, fmt::format("{}: no export, or one that did not get done: there is no {} in it; run "
                                              "`nightglass library export` to its end",
                                              io::quoted(folder), kList));
  if (!text.ok()) return text.error();
  const auto wrong = [&](const std::string& what) {
    return Error(Code::kCorrupt, fmt::format("{}: {}: export it again", path.string(), what));
  };
  const auto json = nlohmann::json::parse(*text, nullptr, false);
  if (!json.is_object() || !json.contains("version") || !json["version"].is_number_integer())
    return wrong("is not what an export writes");
  if (json["version"] > kVersion)
    return Error(Code::kUnsupported, fmt::format("{}: written by a newer nightglass: use that one", path.string()));
  try {
    ExportList list{json.at("target").get<std::string>(), {}};
    for (const auto& entry : json.at("files")) {
      ExportEntry f{entry.at("path"), entry.at("xxh3_128"), entry.at("bytes")};
      if (!harmless(f.path) || !is_hash(f.hash) || f.bytes < 0)
        return wrong(fmt::format("the entry '{}' is not one of an export", readable(f.path)));
      list.files.push_back(std::move(f));
    }
    return list;
  } catch (const nlohmann::json::exception&) {
    return wrong("an entry is incomplete");
  }
}

Result<void> write_export(const fs::path& folder, const ExportList& list) {
  Json json{{"program", "nightglass"}, {"version", kVersion}, {"target", list.target}, {"files", Json::array()}};
  std::string sums;
  for (const ExportEntry& f : list.files) {
    json["files"].push_back({{"path", f.path}, {"xxh3_128", f.hash}, {"bytes", f.bytes}});
    sums += f.hash + "  " + f.path + "\n";
  }
  NG_CHECK(write_text(folder / "checksums.txt", sums, io::Overwrite::kReplace));
  return write_text(folder / kList, json.dump(1) + "\n", io::Overwrite::kReplace);
}

}  // namespace ng::app

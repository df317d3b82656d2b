#include "app/master_paths.h"

#include <fmt/format.h>

#include <map>

#include "app/master_file.h"
#include "app/sharp_master.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

std::string object_of(const std::vector<Light>& lights) {
  std::map<std::string, int> counts;
  for (const Light& light : lights) ++counts[light.input->facts().object];
  std::string best;
  int most = 0;
  for (const auto& [name, n] : counts)
    if (n > most && !name.empty()) best = name, most = n;
  return best;
}

}  // namespace

fs::path master_path(const fs::path& folder, const std::vector<Light>& lights, const GroupKey& group) {
  return folder / (master_name(object_of(lights), group.first, group.second) + ".fits");
}

fs::path measures_path(fs::path master) {
  return master.replace_extension(".measures.cbor");
}

fs::path frames_sheet_path(fs::path master) {
  return master.replace_extension(".frames.png");
}

io::Overwrite overwrite_of(const ReduceRequest& request) {
  return request.add ? io::Overwrite::kReplace : request.overwrite;
}

Result<void> refuse_frames_folder(const ReduceRequest& request) {
  std::error_code error;
  if (fs::exists(request.out, error) && fs::equivalent(request.out, request.folder, error))
    return Error(Code::kInvalidInput,
                 fmt::format("{}: the masters must go into another folder than the frames", request.out.string()));
  return {};
}

Result<void> prepare_folder(const ReduceRequest& request, const std::vector<fs::path>& masters) {
  std::error_code error;
  for (const fs::path& master : masters) {
    std::vector<fs::path> paths{master, frames_sheet_path(master), measures_path(master)};
    if (request.sharp) paths.push_back(sharp_path(master));
    for (const fs::path& path : paths)
      if (overwrite_of(request) == io::Overwrite::kRefuse && fs::exists(path, error))
        return Error(
            Code::kExists,
            fmt::format("{} exists already; choose another --out, or allow replacing with --overwrite", path.string()));
  }
  fs::create_directories(request.out, error);
  if (error)
    return Error(Code::kIo, fmt::format("{}: the folder cannot be made ({})", request.out.string(), error.message()));
  return {};
}

}  // namespace ng::app

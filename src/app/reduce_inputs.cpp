#include "app/reduce_inputs.h"

#include <fmt/format.h>

#include <map>
#include <set>

#include "app/earlier_frames.h"
#include "app/library_target.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;

Result<void> collect(const ReduceRequest& request, ReduceInputs& inputs, const Context& ctx) {
  if (request.target.empty()) {
    NG_TRY(inputs.frames, collect_frames(request.folder, request.out, ctx));
    return {};
  }
  NG_TRY(const TargetFiles target, target_files(request.workspace, request.target));
  for (const fs::path& measures : target.measures) inputs.measures.add_file(measures);
  return add_frames(target.frames, inputs.frames, ctx);
}

// The frames of the masters that are there, and what was measured of them.
Result<void> take_earlier(const fs::path& masters, ReduceInputs& inputs, const Context& ctx) {
  NG_TRY(const std::vector<EarlierFrame> earlier, earlier_frames(masters));
  std::set<std::string> here;
  for (const InputFrame& f : inputs.frames) here.insert(f.hash);
  std::vector<fs::path> paths;
  std::map<std::string, const EarlierFrame*> expected;
  for (const EarlierFrame& f : earlier) {
    if (here.contains(f.hash)) continue;
    paths.push_back(f.path);
    expected[f.path.string()] = &f;
  }
  NG_CHECK(add_frames(paths, inputs.frames, ctx));
  for (const InputFrame& f : inputs.frames) {
    const auto found = expected.find(f.path.string());
    if (found != expected.end() && found->second->hash != f.hash)
      return Error(Code::kInvalidInput,
                   fmt::format("{}: is not what it was when {} was written; reduce all frames anew", f.path.string(),
                               found->second->master));
  }
  inputs.measures.add_folder(masters);
  return {};
}

}  // namespace

Result<ReduceInputs> reduce_inputs(const ReduceRequest& request, const Context& ctx) {
  ReduceInputs inputs;
  NG_CHECK(collect(request, inputs, ctx));
  if (request.add) NG_CHECK(take_earlier(request.out, inputs, ctx));
  return inputs;
}

}  // namespace ng::app

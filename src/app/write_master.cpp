#include "app/write_master.h"

#include <filesystem>
#include <future>
#include <utility>

#include "app/frames_sheet.h"
#include "app/master_paths.h"
#include "app/measure_store.h"
#include "app/text_file.h"

namespace ng::app {

Result<ReduceMaster> write_master(const MasterInput& input, std::span<const Light* const> meant,
                                  const ReduceRequest& request, io::Overwrite overwrite,
                                  std::vector<std::string>& notes, const Context& ctx) {
  NG_TRY(StackedMaster master, stack_master(input, request, overwrite, notes, ctx));
  // The disk takes its time, and the sheet one hand: the master is measured meanwhile.
  const std::filesystem::path sheet_path = frames_sheet_path(input.path);
  auto committed = std::async(std::launch::async, [&] { return master.file.commit(); });
  auto drawn =
      std::async(std::launch::async, [&] { return draw_frames_sheet(sheet_path, meant, master.told, overwrite); });
  auto measured = measure::measure_frame(master.picture.plane(), master.measuring, ctx);
  auto sheet = drawn.get();
  NG_CHECK(committed.get());
  NG_TRY(const measure::FrameMeasure m, std::move(measured));

  ReduceMaster told = std::move(master.told);
  told.fwhm_px = m.quality.fwhm_px;
  told.background_e = m.quality.background;
  if (!master.noise_told) told.noise_e = m.quality.noise;
  Json recipe = input.recipe;
  recipe["master"] = to_json(told);
  NG_CHECK(write_text(master_recipe_path(input.path), recipe.dump(2) + "\n", overwrite));
  if (!sheet.ok()) return std::move(sheet).error();
  NG_CHECK(sheet->commit());
  told.frames_sheet = sheet_path.string();
  NG_CHECK(save_measures(measures_path(input.path), meant, overwrite));
  return told;
}

}  // namespace ng::app

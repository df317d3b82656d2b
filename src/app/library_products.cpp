#include "app/library_products.h"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

#include "app/calibration_master.h"
#include "app/library_folder.h"
#include "app/library_layout.h"
#include "app/measure_store.h"
#include "app/recipe.h"
#include "app/sensor_result.h"
#include "app/text_file.h"
#include "app/verified_copy.h"
#include "app/workspace.h"
#include "io/open_frame.h"
#include "store/library_index.h"

namespace ng::app {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::string_view kMasterRecipe = ".recipe.json";
constexpr std::string_view kPictureRecipe = ".recipe.toml";
constexpr const char* kNoRecipe = "its recipe cannot be read";

fs::path sibling(const fs::path& recipe, std::string_view ending, const char* extension) {
  const std::string text = recipe.string();
  return text.substr(0, text.size() - ending.size()) + extension;
}

std::string text_or_empty(const json& object, const char* key) {
  const auto found = object.find(key);
  return found != object.end() && found->is_string() ? found->get<std::string>() : "";
}
std::optional<double> number_or_none(const json& object, const char* key) {
  const auto found = object.find(key);
  return found != object.end() && found->is_number() ? std::optional(found->get<double>()) : std::nullopt;
}

// What the recipe of a master says of its frames.
void take_frames(const json& recipe, const char* part, const char* role, store::MasterRecord& master) {
  const auto list = recipe.find(part);
  if (list == recipe.end() || !list->is_array()) return;
  for (const json& entry : *list) {
    const std::string hash = entry.is_object() ? text_or_empty(entry, "xxh3_128") : "";
    if (hash.empty()) continue;
    if (role != nullptr) master.recipe.inputs.push_back({role, hash});
    if (std::string_view(part) != "calibration")
      master.grades.push_back({hash, role != nullptr, number_or_none(entry, "worth"), text_or_empty(entry, "reason")});
  }
}

class Finder {
 public:
  Finder(const fs::path& workspace, const Context& ctx) : workspace_(workspace), ctx_(ctx.serial()) {}

  Result<void> look_at(const fs::path& recipe) {
    const std::string name = recipe.filename().string();
    if (name.ends_with(kMasterRecipe)) return add_master(recipe);
    if (name.ends_with(kPictureRecipe)) return add_picture(recipe);
    if (name.ends_with(kCalibrationEnding)) return add_calibration_master(recipe);
    if (name.ends_with(kSensorEnding)) return add_sensor(recipe);
    return {};
  }
  FoundProducts result;

 private:
  [[nodiscard]] std::string below(const fs::path& file) const {
    return readable(file.lexically_relative(workspace_).generic_string());
  }

  // Hash and length of a product and its recipe; false, and the reason told, where one cannot be read.
  template <typename Record>
  Result<bool> identify(const fs::path& file, const fs::path& recipe, Record& record) {
    const auto hash = hash_file(file, ctx_);
    const auto recipe_hash = hash.ok() ? hash_file(recipe, ctx_) : hash;
    if (!recipe_hash.ok()) {
      if (recipe_hash.error().code() == Code::kCancelled) return recipe_hash.error();
      result.left_out.push_back(below(file) + ": " + readable(recipe_hash.error().message()));
      return false;
    }
    std::error_code ignored;
    record.path = below(file);
    record.hash = *hash;
    record.bytes = static_cast<std::int64_t>(fs::file_size(file, ignored));
    record.recipe.path = below(recipe);
    record.recipe.hash = *recipe_hash;
    return true;
  }

  Result<void> add_master(const fs::path& recipe_path) {
    const fs::path file = sibling(recipe_path, kMasterRecipe, ".fits");
    std::error_code ignored;
    if (!fs::is_regular_file(file, ignored)) return {};
    const auto text = read_text(recipe_path);
    const json recipe = text.ok() ? json::parse(*text, nullptr, false) : json();
    const auto opened = io::open_frame(file);
    if (!recipe.is_object() || !opened.ok()) {
      result.left_out.push_back(below(file) + ": " + (opened.ok() ? kNoRecipe : readable(opened.error().message())));
      return {};
    }
    store::MasterRecord master;
    NG_TRY(const bool known, identify(file, recipe_path, master));
    if (!known) return {};
    master.target = readable((*opened)->facts().object);
    master.filter = readable((*opened)->facts().filter);
    if (const auto m = recipe.find("master"); m != recipe.end() && m->is_object()) {
      if (const auto frames = number_or_none(*m, "frames_used")) master.frames = static_cast<int>(*frames);
      master.exposure_s = number_or_none(*m, "exposure_s");
      master.fwhm_px = number_or_none(*m, "fwhm_px");
      master.noise_e = number_or_none(*m, "noise_e");
    }
    take_frames(recipe, "lights", "light", master);
    take_frames(recipe, "left_out", nullptr, master);
    take_frames(recipe, "calibration", "calibration", master);
    const fs::path measures = sibling(recipe_path, kMasterRecipe, ".measures.cbor");
    master.measures = read_measure_records(measures);
    if (!master.measures.empty()) master.measures_path = below(measures);
    result.products.masters.push_back(std::move(master));
    return {};
  }

  Result<void> add_calibration_master(const fs::path& description) {
    const fs::path file = sibling(description, kCalibrationEnding, ".fits");
    std::error_code ignored;
    if (!fs::is_regular_file(file, ignored)) return {};
    const auto master = read_calibration_master(description);
    if (!master.ok()) {
      result.left_out.push_back(below(file) + ": " + kNoRecipe);
      return {};
    }
    store::CalibrationMasterRecord record = record_of(*master);
    NG_TRY(const bool known, identify(file, description, record));
    if (known) result.products.calibration.push_back(std::move(record));
    return {};
  }

  Result<void> add_sensor(const fs::path& file) {
    const auto read = read_sensor_result(file);
    if (!read.ok()) {
      result.left_out.push_back(below(file) + ": it is no result of a camera test");
      return {};
    }
    store::SensorRecord record = record_of(*read);
    NG_TRY(const bool known, identify(file, file, record));
    if (known) result.products.sensors.push_back(std::move(record));
    return {};
  }

  Result<void> add_picture(const fs::path& recipe_path) {
    std::error_code ignored;
    for (const char* extension : {".png", ".tif", ".tiff", ".jpg", ".jpeg"}) {
      const fs::path file = sibling(recipe_path, kPictureRecipe, extension);
      if (!fs::is_regular_file(file, ignored)) continue;
      const auto recipe = read_recipe(recipe_path);
      if (!recipe.ok()) {
        result.left_out.push_back(below(file) + ": " + kNoRecipe);
        continue;
      }
      store::PictureRecord picture;
      NG_TRY(const bool known, identify(file, recipe_path, picture));
      if (!known) continue;
      for (const RecipeInput& input : recipe->inputs) picture.recipe.inputs.push_back({"master", input.xxh128});
      result.products.pictures.push_back(std::move(picture));
    }
    return {};
  }

  const fs::path& workspace_;
  const Context ctx_;
};

}  // namespace

Result<FoundProducts> find_products(const fs::path& workspace, const fs::path& part, const Context& ctx) {
  Finder finder(workspace, ctx);
  for (const fs::path& file : files_below(workspace / part)) NG_CHECK(finder.look_at(file));
  return std::move(finder.result);
}

void enter_products(const std::vector<fs::path>& recipes, std::vector<std::string>& notes, const Context& ctx) {
  const auto enter = [&](const fs::path& recipe) -> Result<void> {
    const fs::path file = fs::weakly_canonical(recipe);
    const auto workspace = find_workspace(std::nullopt, file.parent_path());
    std::error_code ignored;
    if (!workspace.ok() || !fs::exists(*workspace / "library.db", ignored)) return {};
    const std::string part = file.lexically_relative(*workspace).begin()->string();
    if (part != "masters" && part != "pictures" && part != kSensorFolder) return {};
    Finder finder(*workspace, ctx);
    NG_CHECK(finder.look_at(file));
    NG_TRY(store::LibraryIndex index, store::LibraryIndex::open(*workspace / "library.db"));
    return index.enter(finder.result.products);
  };
  for (const fs::path& recipe : recipes) {
    const auto entered = enter(recipe);
    if (!entered.ok())
      notes.push_back("the library does not know of it yet, `nightglass library rebuild` finds it: " +
                      readable(recipe.string() + ": " + entered.error().message()));
  }
}

std::vector<fs::path> files_of_product(const fs::path& file) {
  std::vector<fs::path> files;
  const std::string stem = file.stem().string() + ".";
  for (const fs::path& folder : {file.parent_path(), file.parent_path() / "sharp"}) {
    std::error_code error;
    for (fs::directory_iterator it(folder, error), end; !error && it != end; it.increment(error)) {
      std::error_code ignored;
      if (it->path().filename().string().starts_with(stem) && it->is_regular_file(ignored)) files.push_back(it->path());
    }
  }
  std::sort(files.begin(), files.end());
  return files;
}

}  // namespace ng::app

// embed_page FOLDER OUT.cpp   puts the files of a built page into a source file: page_files() of server/page.h. Without
// the folder it becomes one page that says that the page was not built.
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <string>
#include <vector>

namespace {

namespace fs = std::filesystem;

constexpr const char* kNotBuilt =
    "<!doctype html><meta charset=\"utf-8\"><title>nightglass</title><p>This program was built without its page: npm "
    "was "
    "not there, or could not reach its packages. Install npm, run scripts/build.sh again. The services under /api "
    "work.";

std::string type_of(const fs::path& path) {
  static const std::map<std::string, std::string> kTypes{{".html", "text/html; charset=utf-8"},
                                                         {".js", "text/javascript; charset=utf-8"},
                                                         {".css", "text/css; charset=utf-8"},
                                                         {".svg", "image/svg+xml"},
                                                         {".json", "application/json"},
                                                         {".webmanifest", "application/manifest+json"},
                                                         {".woff2", "font/woff2"},
                                                         {".png", "image/png"}};
  const auto found = kTypes.find(path.extension().string());
  return found == kTypes.end() ? "application/octet-stream" : found->second;
}

std::string literal(const std::string& bytes) {
  std::string text;
  for (std::size_t i = 0; i < bytes.size(); i += 64) {
    text += "    \"";
    for (const char c : bytes.substr(i, 64)) text += fmt::format("\\{:03o}", static_cast<unsigned char>(c));
    text += "\"\n";
  }
  return text.empty() ? "    \"\"" : text;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    fmt::print(stderr, "embed_page FOLDER OUT.cpp\n");
    return 2;
  }
  const fs::path folder(argv[1]);
  std::vector<std::pair<std::string, std::string>> files;  // path, bytes
  if (fs::exists(folder / "index.html")) {
    for (const auto& entry : fs::recursive_directory_iterator(folder)) {
      if (!entry.is_regular_file()) continue;
      std::ifstream in(entry.path(), std::ios::binary);
      files.emplace_back("/" + entry.path().lexically_relative(folder).generic_string(),
                         std::string(std::istreambuf_iterator<char>(in), {}));
    }
  } else {
    files.emplace_back("/index.html", kNotBuilt);
  }
  std::sort(files.begin(), files.end());
  std::ofstream out(argv[2], std::ios::binary);
  out << "#include \"server/page.h\"\n\nnamespace ng::server {\nnamespace {\n\nconstexpr PageFile kFiles[] = {\n";
  for (const auto& [path, bytes] : files)
    out << fmt::format("  {{\"{}\", \"{}\", std::string_view(\n{}, {})}},\n", path, type_of(path), literal(bytes),
                       bytes.size());
  out << "};\n\n}  // namespace\n\nstd::span<const PageFile> page_files() {\n  return kFiles;\n}\n\n}  // namespace "
         "ng::server\n";
  return out.good() ? 0 : 1;
}

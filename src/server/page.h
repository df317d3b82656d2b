// server/page.h - the built page, inside of the program (made from web/ by tools/embed_page.cpp).
#pragma once

#include <span>
#include <string_view>

namespace ng::server {

struct PageFile {
  std::string_view path;  // "/index.html"
  std::string_view type;  // "text/html; charset=utf-8"
  std::string_view bytes;
};

[[nodiscard]] std::span<const PageFile> page_files();

}  // namespace ng::server

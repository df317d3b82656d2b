// app/picture_annotation.h - what there is to draw upon an image whose place on the sky is known already.
#pragma once

#include <filesystem>

#include "app/annotation.h"
#include "base/context.h"
#include "base/result.h"

namespace ng::app {

struct AnnotationRequest {
  std::filesystem::path file;  // a solved FITS image, or a finished picture whose masters were solved
  template <typename Self, typename Visitor>
  static void fields(Self& self, Visitor&& visit) {
    visit("file", self.file);
  }
};

// Errors: those of picture_wcs() (header_wcs.h), io::open_frame() and annotate().
[[nodiscard]] Result<FrameAnnotation> annotate_picture(const AnnotationRequest& request, const Context& ctx);

}  // namespace ng::app

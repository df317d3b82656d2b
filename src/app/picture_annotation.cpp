#include "app/picture_annotation.h"

#include "app/header_wcs.h"
#include "io/open_frame.h"

namespace ng::app {

Result<FrameAnnotation> annotate_picture(const AnnotationRequest& request, const Context&) {
  NG_TRY(const auto source, io::open_frame(request.file));
  NG_TRY(const Wcs wcs, picture_wcs(request.file));
  return annotate(wcs, source->facts().width, source->facts().height);
}

}  // namespace ng::app

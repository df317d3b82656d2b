#include "frame/facts.h"

namespace ng {

std::string_view to_string(FrameKind kind) {
  switch (kind) {
    case FrameKind::kLight:
      return "light";
    case FrameKind::kDark:
      return "dark";
    case FrameKind::kFlat:
      return "flat";
    case FrameKind::kBias:
      return "bias";
    case FrameKind::kDarkFlat:
      return "dark-flat";
    case FrameKind::kUnknown:
      break;
  }
  return "unknown";
}

}  // namespace ng

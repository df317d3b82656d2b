// io/jpeg_library.h - libjpeg's header, which wants <cstdio> before it.
#pragma once

#include <cstddef>
#include <cstdio>
// behind the two above
#include <jpeglib.h>

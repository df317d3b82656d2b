#include "io/icc_profile.h"

#include <lcms2.h>

#include <algorithm>
#include <array>
#include <cassert>

namespace ng::io {
namespace {

// Takes the profile over; its bytes with a fixed date (ICC.1:2010, table 17: bytes 24 to 35, six 16-bit numbers).
std::vector<unsigned char> saved(cmsHPROFILE profile) {
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile, nullptr, &size);
  std::vector<unsigned char> bytes(size);
  cmsSaveProfileToMem(profile, bytes.data(), &size);
  cmsCloseProfile(profile);
  assert(bytes.size() > 128);
  constexpr std::array<unsigned char, 12> kFirstOf2000{0x07, 0xD0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0};
  std::copy(kFirstOf2000.begin(), kFirstOf2000.end(), bytes.begin() + 24);
  return bytes;
}

}  // namespace

std::vector<unsigned char> srgb_profile() {
  return saved(cmsCreate_sRGBProfile());
}

std::vector<unsigned char> srgb_grey_profile() {
  // y = ((x + 0.055)/1.055)^2.4 from 0.04045 on, x/12.92 below (IEC 61966-2-1).
  constexpr std::array<cmsFloat64Number, 5> kCurve{2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045};
  cmsToneCurve* curve = cmsBuildParametricToneCurve(nullptr, 4, kCurve.data());
  cmsHPROFILE profile = cmsCreateGrayProfile(cmsD50_xyY(), curve);
  cmsFreeToneCurve(curve);
  return saved(profile);
}

}  // namespace ng::io

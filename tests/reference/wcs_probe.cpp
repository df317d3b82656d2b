// What wcslib makes of a FITS header, for wcs_check.py: neither our reader of cards nor our projection takes part.
//
//   wcs_probe FILE < lines "ra dec" in degrees     prints "x y" for each, pixels from 1; "nan nan" where it finds none
#include <wcslib/wcs.h>
#include <wcslib/wcshdr.h>

#include <cmath>
#include <cstdio>
#include <fstream>
#include <iostream>
#include <string>

int main(int count, char** words) {
  if (count != 2) {
    std::cerr << "usage: wcs_probe FILE < lines of right ascension and declination, degrees\n";
    return 2;
  }
  std::ifstream file(words[1], std::ios::binary);
  std::string header, card(80, ' ');
  while (file.read(card.data(), 80)) {
    header += card;
    if (card.starts_with("END     ")) break;
  }
  int rejected = 0, found = 0;
  wcsprm* wcs = nullptr;
  if (wcspih(header.data(), static_cast<int>(header.size() / 80), WCSHDR_all, 0, &rejected, &found, &wcs) != 0 ||
      found < 1 || wcsset(wcs) != 0) {
    std::cerr << words[1] << ": wcslib finds no place on the sky in its header\n";
    return 1;
  }
  double sky[2], phi, theta, plane[2], pixel[2];
  while (std::cin >> sky[0] >> sky[1]) {
    int status = 0;
    if (wcss2p(wcs, 1, 2, sky, &phi, &theta, plane, pixel, &status) != 0) pixel[0] = pixel[1] = std::nan("");
    std::printf("%.12f %.12f\n", pixel[0], pixel[1]);
  }
  wcsvfree(&found, &wcs);
  return 0;
}

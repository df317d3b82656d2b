// sky/extinction.h - light lost in clear air.
#pragma once

namespace ng::sky {

// Fraction of the light that arrives: 10^(-0.4 k X) (Bouguer's law), k in magnitudes per airmass.
[[nodiscard]] double transmission(double extinction_mag_airmass, double airmass);

// Extinction coefficient of clear air in magnitudes per airmass at a height above the sea and a wavelength.
// Green 1992, International Comet Quarterly 14, 55, for V: 0.1451 exp(-h/7.996 km) by molecules, 0.016 by ozone and
// 0.120 exp(-h/1.5 km) by aerosol. Other wavelengths: the molecular part by lambda^-4, the aerosol part by lambda^-1.3
// from 550 nm on, ozone kept (powers from memory of the same paper). Real nights differ by tens of per cent.
[[nodiscard]] double clear_air_extinction(double height_km, double wavelength_nm);

}  // namespace ng::sky

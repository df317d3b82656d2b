"""Synthetic frames for measure_check.py: stars alone on a jittered grid, whose place, flux and shape are known.

The bound of a centroid is that of Cramer and Rao for a known profile and background: var(x) >= 1 / sum (dm/dx)^2 / v, where
m is the mean of a pixel and v its variance (photons of star, sky and dark, read noise, rounding).
"""
import dataclasses

import numpy as np
import starfield
from scipy.optimize import brentq

WIDTH, HEIGHT, STEP = 1200, 800, 64
SKY_E = 300.0
EXPOSURE_S = 60.0
PIXEL_VARIANCE = SKY_E + starfield.DARK_E_S * EXPOSURE_S + starfield.READ_NOISE_E ** 2 + starfield.GAIN_E_ADU ** 2 / 12


@dataclasses.dataclass
class Shape:
    name: str
    fwhm: float
    beta: float  # None: Gaussian

    def pixels(self, dx, dy):
        if self.beta is None:
            return starfield.gaussian_pixels(dx, dy, self.fwhm / 2.3548200450309493)
        return starfield.moffat_pixels(dx, dy, self.fwhm, self.beta)

    def half_flux_radius(self):
        """Of the pixels' sum within circles around a star in the middle of a pixel; circles by 11 x 11 points per pixel."""
        reach, n = 40, 11
        dy, dx = np.mgrid[-reach:reach + 1, -reach:reach + 1].astype(float)
        share = self.pixels(dx, dy)
        fine = (np.arange(n) - n // 2) / n
        r = np.sqrt((dx[..., None, None] + fine[:, None]) ** 2 + (dy[..., None, None] + fine[None, :]) ** 2)
        return brentq(lambda radius: (share * (r < radius).mean((-2, -1))).sum() - 0.5, 0.3, 3 * self.fwhm, xtol=1e-4)


SHAPES = [Shape("Moffat 2.2 px", 2.2, 3.5), Shape("Moffat 3.2 px", 3.2, 3.0), Shape("Moffat 5.0 px", 5.0, 4.765),
          Shape("Gaussian 3.5 px", 3.5, None)]


def sky_field(rng, shape):
    """Stars on a grid, up to 12 px off its knots; fluxes even in magnitude, the brightest at half of full scale."""
    x, y = (a.ravel().astype(float) for a in np.meshgrid(np.arange(STEP, WIDTH - STEP / 2, STEP),
                                                         np.arange(STEP, HEIGHT - STEP / 2, STEP)))
    x += rng.uniform(-12, 12, x.size)
    y += rng.uniform(-12, 12, y.size)
    peak_share = shape.pixels(np.zeros((1, 1)), np.zeros((1, 1)))[0, 0]
    brightest = 0.5 * starfield.FULL_SCALE * starfield.GAIN_E_ADU / peak_share
    return starfield.Field(x, y, np.exp(rng.uniform(np.log(400), np.log(brightest), x.size)))


def frame(folder, shape, seed):
    """One frame on disk; its path and its stars."""
    rng = np.random.default_rng([20260211, seed])
    field = sky_field(rng, shape)
    electrons = np.full((HEIGHT, WIDTH), SKY_E + starfield.DARK_E_S * EXPOSURE_S)
    for x, y, flux in zip(field.x, field.y, field.flux):
        x0, y0 = int(x) - 60, int(y) - 60
        cut = np.s_[max(y0, 0):y0 + 121, max(x0, 0):x0 + 121]
        yy, xx = np.mgrid[cut[0].start:min(cut[0].stop, HEIGHT), cut[1].start:min(cut[1].stop, WIDTH)]
        electrons[cut] += flux * shape.pixels(xx - x, yy - y)
    path = starfield.write(folder / f"{shape.name.replace(' ', '_')}_{seed}.fits", starfield.to_adu(electrons, rng),
                           starfield.header("light", EXPOSURE_S, FILTER="L"))
    return path, field


def bounds(shape, field):
    """Least possible standard deviation of x and of y, and of the flux, for each star."""
    dy, dx = np.mgrid[-25:26, -25:26].astype(float)
    h = 0.01
    out = []
    for x, y, flux in zip(field.x, field.y, field.flux):
        fx, fy = x - round(x), y - round(y)
        share = shape.pixels(dx - fx, dy - fy)
        slope_x = flux * (shape.pixels(dx - fx + h, dy - fy) - shape.pixels(dx - fx - h, dy - fy)) / (2 * h)
        slope_y = flux * (shape.pixels(dx - fx, dy - fy + h) - shape.pixels(dx - fx, dy - fy - h)) / (2 * h)
        variance = PIXEL_VARIANCE + flux * share
        out.append([(slope ** 2 / variance).sum() ** -0.5 for slope in (slope_x, slope_y, share)])
    return np.array(out)

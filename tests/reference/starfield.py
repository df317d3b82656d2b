"""A small star field as FITS frames, made with numpy and astropy alone: independent of the project's own simulator.

Pixels are 0-based in this module, (0, 0) the centre of the first pixel, as in FITS with 1 taken off. Values are
electrons until they are written; then they are divided by the gain (electrons per ADU), lifted by the offset and rounded.
Stars are integrated over the pixels: Gaussians exactly (error function), Moffat profiles by 5 x 5 samples per pixel near
the core and 1 sample further out, where the profile is flat within a pixel.
"""
import dataclasses
import pathlib

import numpy as np
from astropy.io import fits
from scipy.special import erf

GAIN_E_ADU = 0.8
OFFSET_ADU = 500
READ_NOISE_E = 3.0
DARK_E_S = 0.02
FULL_SCALE = 65535


@dataclasses.dataclass
class Field:
    """Stars of the sky: positions in pixels of the undithered frame, flux in electrons per frame."""
    x: np.ndarray
    y: np.ndarray
    flux: np.ndarray


def random_field(seed, width, height, stars, brightest=60000.0, faintest=1500.0, border=60):
    """Stars spread evenly over the frame and a border around it, fluxes evenly in magnitude."""
    rng = np.random.default_rng(seed)
    x = rng.uniform(-border, width + border, stars)
    y = rng.uniform(-border, height + border, stars)
    flux = np.sort(np.exp(rng.uniform(np.log(faintest), np.log(brightest), stars)))[::-1]
    return Field(x, y, flux)


def gaussian_pixels(dx, dy, sigma):
    """Share of the light in each pixel whose centre lies (dx, dy) from the star."""
    def along(d):
        return 0.5 * (erf((d + 0.5) / (sigma * np.sqrt(2))) - erf((d - 0.5) / (sigma * np.sqrt(2))))
    return along(dx) * along(dy)


def moffat_density(r2, fwhm, beta):
    """Moffat 1969, A&A 3, 455: light per square pixel at a squared distance r2, total 1."""
    alpha2 = (fwhm / 2) ** 2 / (2 ** (1 / beta) - 1)
    return (beta - 1) / (np.pi * alpha2) * (1 + r2 / alpha2) ** -beta


def moffat_pixels(dx, dy, fwhm, beta):
    out = moffat_density(dx ** 2 + dy ** 2, fwhm, beta)
    core = np.hypot(dx, dy) < 3 * fwhm + 1
    steps = (np.arange(5) - 2) / 5
    total = 0
    for sy in steps:
        for sx in steps:
            total = total + moffat_density((dx[core] + sx) ** 2 + (dy[core] + sy) ** 2, fwhm, beta)
    out[core] = total / 25
    return out


def paint(image, x, y, flux, fwhm, beta=None, faintest_e=0.02):
    """Adds stars to an image; beta None means Gaussian."""
    height, width = image.shape
    for sx, sy, f in zip(x, y, flux):
        if beta is None:
            radius = 4.2 * fwhm / 2.3548 + 3
        else:
            alpha = fwhm / 2 / np.sqrt(2 ** (1 / beta) - 1)
            peak = max(f * (beta - 1) / (np.pi * alpha ** 2), faintest_e)
            radius = np.clip(alpha * np.sqrt((peak / faintest_e) ** (1 / beta) - 1), 4, 120) + 1
        x0, x1 = max(int(sx - radius), 0), min(int(sx + radius) + 2, width)
        y0, y1 = max(int(sy - radius), 0), min(int(sy + radius) + 2, height)
        if x0 >= x1 or y0 >= y1:
            continue
        dy, dx = np.mgrid[y0:y1, x0:x1].astype(float)
        dx -= sx
        dy -= sy
        share = gaussian_pixels(dx, dy, fwhm / 2.3548200450309493) if beta is None else moffat_pixels(dx, dy, fwhm, beta)
        image[y0:y1, x0:x1] += f * share


def vignetting(width, height, loss=0.2):
    y, x = np.mgrid[:height, :width]
    r2 = ((x - (width - 1) / 2) ** 2 + (y - (height - 1) / 2) ** 2) / ((width ** 2 + height ** 2) / 4)
    return 1 - loss * r2


def placed(field, dx=0.0, dy=0.0, turn_deg=0.0, width=400, height=300):
    """The field moved by (dx, dy) and turned around the middle of the frame."""
    cx, cy = (width - 1) / 2, (height - 1) / 2
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    u, v = field.x - cx, field.y - cy
    return Field(c * u - s * v + cx + dx, s * u + c * v + cy + dy, field.flux)


KIND_WORDS = {"light": "Light Frame", "dark": "Dark Frame", "flat": "Flat Frame", "bias": "Bias Frame",
              "dark-flat": "Dark Flat"}


def header(kind, exposure_s, **more):
    cards = fits.Header()
    cards["IMAGETYP"] = KIND_WORDS[kind]
    cards["EXPTIME"] = float(exposure_s)
    cards["INSTRUME"] = "test camera"
    cards["GAIN"] = 100
    cards["OFFSET"] = 50
    cards["EGAIN"] = GAIN_E_ADU
    cards["RDNOISE"] = READ_NOISE_E
    cards["CCD-TEMP"] = -10.0
    cards["XBINNING"] = 1
    cards["YBINNING"] = 1
    cards["XPIXSZ"] = 3.8
    cards["YPIXSZ"] = 3.8
    for key, value in more.items():
        cards[key.replace("_", "-")] = value
    return cards


def to_adu(electrons, rng):
    """What the camera writes of the mean electrons: photons, read noise, offset, rounding, full scale."""
    counts = rng.poisson(np.clip(electrons, 0, None)) + rng.normal(0, READ_NOISE_E, electrons.shape)
    return np.clip(np.round(counts / GAIN_E_ADU + OFFSET_ADU), 0, FULL_SCALE).astype(np.uint16)


def write(path, adu, cards):
    path = pathlib.Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    fits.PrimaryHDU(adu, cards).writeto(path)
    return path


def light_electrons(field, width, height, fwhm, beta, sky_e, exposure_s, flat):
    image = np.full((height, width), float(sky_e))
    paint(image, field.x, field.y, field.flux, fwhm, beta)
    return image * flat + DARK_E_S * exposure_s


def write_group(folder, kind, count=4, width=400, height=300, stars=80, field_seed=1, seed=1, fwhm=3.2, beta=3.5,
                sky_e=400.0, exposure_s=120.0, dither=12.0, flip_half=False, light_share=1.0, first=1, cards=None, filter_name="L"):
    """Writes `count` frames of one kind into folder/kind/. Returns their paths.

    light_share: share of the stars' light that arrives (a cloud: 0). flip_half: the second half is turned by 180 degrees.
    """
    rng = np.random.default_rng([seed, sorted(KIND_WORDS).index(kind)])
    flat = vignetting(width, height)
    field = random_field(field_seed, width, height, stars)
    paths = []
    for i in range(count):
        seconds = {"bias": 0.0, "flat": 2.0, "dark-flat": 2.0}.get(kind, exposure_s)
        more = dict(cards or {})
        if kind in ("light", "flat"):
            more.setdefault("FILTER", filter_name)
        if kind == "light":
            turn = 180.0 if flip_half and i >= count / 2 else 0.0
            there = placed(field, *rng.uniform(-dither, dither, 2), turn, width, height)
            there.flux = there.flux * light_share
            mean = light_electrons(there, width, height, fwhm, beta, sky_e, seconds, flat)
            more.setdefault("DATE_OBS", f"2026-02-11T2{i // 30 % 4}:{2 * i % 60:02d}:00")
        elif kind == "flat":
            mean = 25000.0 * flat
        else:
            mean = np.full((height, width), DARK_E_S * seconds)
        name = f"{kind}_{first + i:03d}.fits"
        paths.append(write(pathlib.Path(folder) / kind / name, to_adu(mean, rng), header(kind, seconds, **more)))
    return paths

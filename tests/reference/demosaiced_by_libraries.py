#!/usr/bin/python3
"""A colour master of a rehearsed mosaic night with general libraries alone: every light demosaiced bilinearly, as textbooks do.

  demosaiced_by_libraries.py NIGHT OUT.fits

Bilinear demosaicing: the mean of the nearest pixels of a colour stands where the mosaic (Bayer, US patent 3,971,065) has
another one. It is common practice, without a source of its own. What else could blur is left out, so that demosaicing is
what differs: lights are registered by their true places, and brought to one level of flux by their true transparency.
Masters, clipping and resampling (Lanczos over 8 x 8 pixels) are those of pipeline.py. As in the masters of `reduce`, the
unit is electrons of the reference light, by the green stars of each. VARIANCE is what the scatter of the lights says of
their mean, COVERAGE the number of lights.
"""
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from pipeline import BAND_ROWS, LIGHT_CLIP, frames_of, master  # first: it skips where a library is missing

import cv2
import numpy as np
import sep
from astropy.io import fits

from night_truth import Night, to_pixels

COLOURS = ("red", "green", "blue")
SITES = [(slice(n // 2, None, 2), slice(n % 2, None, 2)) for n in range(4)]
LETTERS = dict(zip(COLOURS, "RGB"))
# Over a plane that holds one colour's pixels and zeros elsewhere, these are the means of its nearest pixels.
KERNEL = {"red": np.array([[1, 2, 1], [2, 4, 2], [1, 2, 1]], np.float32) / 4,
          "green": np.array([[0, 1, 0], [1, 4, 1], [0, 1, 0]], np.float32) / 4}
KERNEL["blue"] = KERNEL["red"]


def sites(pattern, colour):
    """Slices of the mosaic's pixels of a colour; each holds every second pixel of every second row."""
    return [site for site, letter in zip(SITES, pattern) if letter == LETTERS[colour]]


def flat_per_colour(flat, pattern):
    """Of mean 1 in each colour: the lamp's colour is not the sky's."""
    for colour in COLOURS:
        level = np.mean([flat[s].mean() for s in sites(pattern, colour)])
        for s in sites(pattern, colour):
            flat[s] /= level
    return flat


def bad_pixels(dark, flat):
    """Pixels off the median of the 25 nearest of the same site, in dark or flat."""
    bad = np.zeros(dark.shape, dtype=bool)
    for image in (dark, flat):
        for s in SITES:
            plane = np.ascontiguousarray(image[s])
            rest = plane - cv2.medianBlur(plane, 5)
            bad[s] |= np.abs(rest) > 8 * 1.4826 * np.median(np.abs(rest))
    return bad


def bilinear(mosaic, pattern, colour):
    alone = np.zeros_like(mosaic)
    for s in sites(pattern, colour):
        alone[s] = mosaic[s]
    # Mirrored about the outermost pixel, which keeps the order of the colours.
    return cv2.filter2D(alone, -1, KERNEL[colour], borderType=cv2.BORDER_REFLECT_101)


def affine(light, reference, night):
    """Least squares over the true places of the stars that both lights hold; and what it leaves, in pixels."""
    here, there = (np.column_stack(to_pixels(f, night.xi, night.eta)) for f in (light, reference))
    size = (night.camera["width"], night.camera["height"])
    both = np.all((here > 0) & (here < size) & (there > 0) & (there < size), axis=1)
    basis = np.column_stack([here[both], np.ones(np.count_nonzero(both))])
    solution = np.linalg.lstsq(basis, there[both], rcond=None)[0]
    return solution.T, float(np.sqrt(np.mean((basis @ solution - there[both]) ** 2)))


def registered(light, folder, reference, calibration):
    """One light's three planes on the reference's grid without their sky, nan outside, and their weights."""
    dark, flat, bad = calibration
    with fits.open(Path(folder) / light["path"]) as hdus:
        header, mosaic = hdus[0].header, hdus[0].data.astype(np.float32)
    pattern = header["BAYERPAT"].strip()
    mosaic = (mosaic - dark) / flat * np.float32(header["EGAIN"])
    for s in SITES:
        plane = np.ascontiguousarray(mosaic[s])
        mosaic[s] = np.where(bad[s], cv2.medianBlur(plane, 5), plane)
    night = Night(folder, "green")
    matrix, residual = affine(light, reference, night)
    if residual > 0.02:  # stars of 1 px would be wider by 0.1 %
        sys.exit(f"{light['path']}: no affine map lays it on the reference, {residual:.3f} px are left")
    scale = np.float32(night.transparency(reference) / night.transparency(light))
    inside = cv2.warpAffine(np.ones(mosaic.shape, np.uint8), matrix, mosaic.shape[::-1], flags=cv2.INTER_NEAREST)
    outside = cv2.erode(inside, np.ones((9, 9), np.uint8)) == 0
    planes, weights = [], []
    for colour in COLOURS:
        plane = bilinear(mosaic, pattern, colour)
        background = sep.Background(plane, bw=128, bh=128)
        plane = (plane - background.back()) * scale
        warped = cv2.warpAffine(plane, matrix, mosaic.shape[::-1], flags=cv2.INTER_LANCZOS4)
        warped[outside] = np.nan
        planes.append(warped)
        weights.append(1 / (background.globalrms * float(scale)) ** 2)
    return np.stack(planes), weights


def combined(maps, weights):
    """Clipped weighted mean, its variance by the scatter of what was kept, and how many were kept; by bands of rows."""
    out = np.empty((3, *maps[0].shape), dtype=np.float32)
    for y in range(0, maps[0].shape[0], BAND_ROWS):
        band = np.stack([m[y:y + BAND_ROWS] for m in maps])
        kept = LIGHT_CLIP(np.ma.masked_invalid(band, copy=False), axis=0, copy=False)
        weight = np.where(np.ma.getmaskarray(kept), 0, np.array(weights, np.float32)[:, None, None])
        count, band = (weight > 0).sum(axis=0), np.where(weight > 0, band, 0)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = (weight * band).sum(axis=0) / weight.sum(axis=0)
            variance = (weight**2 * (band - mean) ** 2).sum(axis=0) / weight.sum(axis=0) ** 2 * count / (count - 1)
        out[:, y:y + BAND_ROWS] = mean, variance, count
    return out


def reduce_night(folder, out, processes=2):
    """Writes the master and returns what a reply of `reduce` says of reference, frames and master."""
    started = time.monotonic()
    cv2.setNumThreads(1)
    folder, night = Path(folder), Night(folder, "green")
    with fits.open(folder / night.lights[0]["path"]) as hdus:
        pattern = hdus[0].header["BAYERPAT"].strip()
    reference = max(night.lights, key=night.transparency)
    with ProcessPoolExecutor(processes) as pool:
        dark = pool.submit(master, frames_of(folder, "dark"))
        bias = master(frames_of(folder, "dark-flat") or frames_of(folder, "bias"))
        flat = flat_per_colour(master(frames_of(folder, "flat"), bias), pattern)
        calibration = dark.result(), flat, bad_pixels(dark.result(), flat)
        job = partial(registered, folder=folder, reference=reference, calibration=calibration)
        lights = list(pool.map(job, night.lights))
        planes = list(pool.map(combined, [[planes[k] for planes, _ in lights] for k in range(3)],
                               [[weights[k] for _, weights in lights] for k in range(3)]))
    image, variance, coverage = np.stack(planes, axis=1)
    hdus = fits.HDUList([fits.PrimaryHDU(image), fits.ImageHDU(variance, name="VARIANCE"),
                         fits.ImageHDU(coverage, name="COVERAGE")])
    hdus[0].header["HISTORY"] = f"demosaiced bilinearly, reference {Path(reference['path']).name}"
    hdus.writeto(out, overwrite=True)
    return {"reference": reference["path"], "frames": [{"path": f["path"], "kind": "light", "accepted": True} for f in night.lights],
            "masters": [{"path": str(out)}], "notes": [], "seconds": time.monotonic() - started}


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    reply = reduce_night(sys.argv[1], sys.argv[2])
    print(f"{len(reply['frames'])} lights in {reply['seconds']:.1f} s")

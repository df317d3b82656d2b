#!/usr/bin/python3
"""From a night's frames to a master with general libraries alone: the other side of the speed comparison.

  pipeline.py NIGHT OUT.fits [--processes 2] [--json]

NIGHT holds light/ dark/ flat/ bias/ and perhaps dark-flat/ with FITS frames of one mono camera and one filter.
astropy reads and clips, numpy calibrates, sep finds the stars, scipy matches them (register.py), OpenCV resamples
(Lanczos over 8 x 8 pixels), a clipped weighted mean combines, in bands of rows so that memory stays bounded.
Calibrated and resampled frames wait in a temporary folder as float32, mapped into memory.
"""
import argparse
import json
import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

try:
    import cv2
    import numpy as np
    import sep
    from astropy.io import fits
    from astropy.stats import SigmaClip
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

from register import register

BAND_ROWS = 128
MASTER_CLIP = SigmaClip(sigma=4.0, maxiters=3, cenfunc="median", stdfunc="mad_std")
LIGHT_CLIP = SigmaClip(sigma=4.5, maxiters=3, cenfunc="median", stdfunc="mad_std")


def frames_of(night, kind):
    return sorted((Path(night) / kind).glob("*.fit*"))


def read(path):
    return fits.getdata(path).astype(np.float32)


def clipped_mean(stack):
    return np.asarray(np.ma.mean(MASTER_CLIP(stack, axis=0, copy=False), axis=0), dtype=np.float32)


def master(paths, scale_to=None):
    """Clipped mean of frames, band by band; with scale_to (an offset) each is first divided by its own mean."""
    frames = [fits.getdata(p) for p in paths]  # 16-bit, as stored
    scale = np.ones(len(frames), dtype=np.float32)
    if scale_to is not None:
        scale = np.array([np.mean(f, dtype=np.float64) - scale_to.mean() for f in frames], dtype=np.float32)
    out = np.empty(frames[0].shape, dtype=np.float32)
    for y in range(0, out.shape[0], BAND_ROWS):
        band = np.stack([f[y:y + BAND_ROWS] for f in frames]).astype(np.float32)
        if scale_to is not None:
            band = (band - scale_to[y:y + BAND_ROWS]) / scale[:, None, None]
        out[y:y + BAND_ROWS] = clipped_mean(band)
    return out


def calibration(night, pool):
    """Dark, flat (mean 1) and map of bad pixels."""
    bias_job = pool.submit(master, frames_of(night, "dark-flat") or frames_of(night, "bias"))
    dark = pool.submit(master, frames_of(night, "dark")).result()
    flat = pool.submit(master, frames_of(night, "flat"), bias_job.result()).result()
    flat /= flat.mean()
    smooth_dark, smooth_flat = cv2.medianBlur(dark, 5), cv2.medianBlur(flat, 5)
    bad = np.zeros(dark.shape, dtype=bool)
    for image, smooth in ((dark, smooth_dark), (flat, smooth_flat)):
        rest = image - smooth
        bad |= np.abs(rest) > 8 * 1.4826 * np.median(np.abs(rest))
    return dark, flat, bad


def calibrated(path, shared):
    dark, flat, bad = (np.load(shared / f"{name}.npy", mmap_mode="r") for name in ("dark", "flat", "bad"))
    with fits.open(path) as hdus:
        header, data = hdus[0].header, hdus[0].data.astype(np.float32)
    light = (data - dark) / flat * np.float32(header.get("EGAIN", 1.0))
    light[bad] = cv2.medianBlur(light, 5)[bad]
    return light


def find_stars(path, shared):
    """Calibrates one light, stores it less its background, and lists its stars, brightest first."""
    sep.set_extract_pixstack(2_000_000)
    light = calibrated(path, shared)
    background = sep.Background(light, bw=128, bh=128)
    light -= background.back()
    found = sep.extract(light, 8 * background.globalrms, minarea=5, deblend_cont=0.01)
    found = found[(found["flag"] & (sep.OBJ_TRUNC | sep.OBJ_SINGU) == 0) & (found["npix"] < 2000) & (found["peak"] < 35000)]
    found = found[np.argsort(-found["flux"])][:1500]
    x, y, flag = sep.winpos(light, found["x"], found["y"], np.full(len(found), 1.2))
    flux, _, _ = sep.sum_circle(light, x, y, 6.0, bkgann=(10, 15), subpix=5)
    light += np.float32(background.globalback)
    stored = shared / (Path(path).stem + ".npy")
    # The nebula must live: only the frame's own level goes, as one number for the whole frame.
    light += background.back() - np.float32(background.globalback)
    np.save(stored, light)
    return {"path": str(path), "stored": stored, "xy": np.column_stack([x, y]), "flux": flux,
            "noise": float(background.globalrms), "level": float(np.median(light[::4, ::4]))}


def warp(frame, reference, shared):
    """Resamples one frame onto the reference's grid, on the reference's scale of flux and at level zero."""
    fit = register(frame["xy"], reference["xy"])
    if fit is None:
        return None
    matrix, residual, matched = fit
    here, there = match(frame, reference, matrix)
    scale = float(np.median(reference["flux"][there] / frame["flux"][here]))
    light = (np.load(frame["stored"]) - np.float32(frame["level"])) * np.float32(scale)
    size = light.shape[::-1]
    warped = cv2.warpAffine(light, matrix, size, flags=cv2.INTER_LANCZOS4, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    inside = cv2.warpAffine(np.ones(light.shape, np.uint8), matrix, size, flags=cv2.INTER_NEAREST)
    warped[cv2.erode(inside, np.ones((9, 9), np.uint8)) == 0] = np.nan
    np.save(frame["stored"], warped)
    return {"matrix": matrix.tolist(), "residual_px": residual, "matched": matched, "scale": scale,
            "weight": 1 / (frame["noise"] * scale) ** 2}


def match(frame, reference, matrix):
    from scipy.spatial import cKDTree
    xy = frame["xy"] @ matrix[:, :2].T + matrix[:, 2]
    d, partner = cKDTree(reference["xy"]).query(xy, distance_upper_bound=1.0)
    here = np.flatnonzero(np.isfinite(d))[:400]
    return here, partner[here]


def match_levels(maps, reference):
    """One number a frame: the median of what it differs from the reference by, where both are."""
    there = maps[reference][::8, ::8]
    return [float(np.nanmedian(m[::8, ::8] - there)) for m in maps]


def combine_rows(rows, stored, weights, levels):
    """The clipped weighted mean of a range of rows."""
    maps = [np.load(p, mmap_mode="r") for p in stored]
    parts, counts = [], []
    for y in range(rows[0], rows[1], BAND_ROWS):
        band = np.stack([m[y:min(y + BAND_ROWS, rows[1])] - np.float32(level) for m, level in zip(maps, levels)])
        kept = LIGHT_CLIP(np.ma.masked_invalid(band, copy=False), axis=0, copy=False)
        weight = np.where(np.ma.getmaskarray(kept), 0, np.array(weights, np.float32)[:, None, None])
        total = weight.sum(axis=0)
        with np.errstate(invalid="ignore", divide="ignore"):
            parts.append((weight * np.where(weight > 0, band, 0)).sum(axis=0) / total)
        counts.append((weight > 0).sum(axis=0).astype(np.float32))
    return np.concatenate(parts), np.concatenate(counts)


def run(night, out, processes):
    lights = frames_of(night, "light")
    with tempfile.TemporaryDirectory(dir=Path(out).parent) as folder, ProcessPoolExecutor(processes) as pool:
        shared = Path(folder)
        for name, image in zip(("dark", "flat", "bad"), calibration(night, pool)):
            np.save(shared / f"{name}.npy", image)
        frames = list(pool.map(partial(find_stars, shared=shared), lights))
        reference = min(range(len(frames)), key=lambda i: frames[i]["noise"] / np.median(frames[i]["flux"][:300]))
        fits_of = list(pool.map(partial(warp, reference=frames[reference], shared=shared), frames))
        used = [i for i, fit in enumerate(fits_of) if fit is not None]
        stored = [frames[i]["stored"] for i in used]
        levels = match_levels([np.load(p, mmap_mode="r") for p in stored], used.index(reference))
        weights = [fits_of[i]["weight"] for i in used]
        height = np.load(stored[0], mmap_mode="r").shape[0]
        cuts = np.linspace(0, height, processes + 1).astype(int)
        halves = list(pool.map(partial(combine_rows, stored=stored, weights=weights, levels=levels), zip(cuts, cuts[1:])))
        image = np.concatenate([h[0] for h in halves])
        coverage = np.concatenate([h[1] for h in halves])
    fits.HDUList([fits.PrimaryHDU(image), fits.ImageHDU(coverage, name="COVERAGE")]).writeto(out, overwrite=True)
    return {"reference": frames[reference]["path"], "frames": [
        {"path": f["path"], **({"accepted": False} if fit is None else {"accepted": True, **fit})}
        for f, fit in zip(frames, fits_of)]}


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("night")
    parser.add_argument("out")
    parser.add_argument("--processes", type=int, default=min(2, os.cpu_count() or 1))
    parser.add_argument("--json", action="store_true")
    o = parser.parse_args()
    started = time.monotonic()
    cv2.setNumThreads(1)
    result = run(o.night, o.out, o.processes)
    result["seconds"] = round(time.monotonic() - started, 2)
    print(json.dumps(result, indent=1) if o.json else
          f"{sum(f['accepted'] for f in result['frames'])} of {len(result['frames'])} lights in {result['seconds']} s")


if __name__ == "__main__":
    main()

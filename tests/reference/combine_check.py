#!/usr/bin/python3
"""The combination beside one by astropy and numpy, on the same calibrated frames.

  combine_check.py NIGHTGLASS [NIGHT]

Without NIGHT a small one is rehearsed. The frames are calibrated with general libraries (pipeline.py), resampled by
scipy's cubic splines through the transforms that `reduce` found, brought to scale as its recipe says, clipped by astropy
around the median and averaged by numpy with the recipe's weights. Only the combination and the resampling differ, so the
two masters must differ by less than the noise, and nowhere systematically. One factor between the two is free: a flat may
be normalised by its mean or otherwise.
"""
import json
import subprocess
import sys
import tempfile
import warnings
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

try:
    import cv2  # noqa: F401  pipeline.py needs it
    import numpy as np
    from astropy.io import fits
    from astropy.stats import SigmaClip, mad_std
    from scipy import ndimage
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

import pipeline

RIM = 12  # pixels


def on_master(path, shared, entry, shape):
    """One light on the master's grid and scale; NaN where it does not reach."""
    frame = pipeline.calibrated(path, shared)
    m = np.linalg.inv(np.append(entry["to_master"], 1.0).reshape(3, 3))
    y, x = np.mgrid[0:shape[0], 0:shape[1]].astype(float)
    w = m[2, 0] * x + m[2, 1] * y + m[2, 2]
    u, v = (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / w, (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / w
    value = ndimage.map_coordinates(frame, [v, u], order=3, mode="nearest")
    value[(u < 4) | (v < 4) | (u > frame.shape[1] - 5) | (v > frame.shape[0] - 5)] = np.nan
    plane = entry["planes"][0]
    s = plane["sky"]
    a, b = (x - s["x0"]) / s["size"], (y - s["y0"]) / s["size"]
    c = s["c"]
    return value / plane["scale"] - (c[0] + c[1] * a + c[2] * b + c[3] * a * a + c[4] * a * b + c[5] * b * b)


def general_master(night, recipe, shape, work):
    with ThreadPoolExecutor(2) as pool:
        for name, image in zip(("dark", "flat", "bad"), pipeline.calibration(night, pool)):
            np.save(work / f"{name}.npy", image)
    frames = np.ma.masked_invalid([on_master(entry["path"], work, entry, shape) for entry in recipe["lights"]])
    clip = SigmaClip(sigma=4.5, maxiters=1, cenfunc="median", stdfunc="mad_std")
    weights = np.array([e["planes"][0]["weight"] for e in recipe["lights"]])
    return np.ma.average(clip(frames, axis=0), axis=0, weights=weights)


def compare(ours, theirs, noise):
    inside = np.zeros(ours.shape, dtype=bool)
    inside[RIM:-RIM, RIM:-RIM] = True
    theirs = theirs.filled(np.nan)
    inside &= np.isfinite(ours) & np.isfinite(theirs)
    factor = np.median(ours[inside] / theirs[inside])
    difference = np.where(inside, ours - factor * theirs, np.nan)
    warnings.simplefilter("ignore")  # blocks without a value are left out below
    blocks = [np.nanmean(np.where(inside, image, np.nan)[:h, :w].reshape(h // 8, 8, w // 8, 8), axis=(1, 3))
              for image in (ours, difference) for h, w in [(ours.shape[0] // 8 * 8, ours.shape[1] // 8 * 8)]]
    good = np.isfinite(blocks[0]) & np.isfinite(blocks[1])
    level, rest = blocks[0][good], blocks[1][good]
    # Stars left out: on their flanks two kernels differ by more than noise.
    quiet = level < np.median(level) + 12 * noise
    slope = np.polyfit(level[quiet], rest[quiet], 1)[0]
    sky = inside & (ours < np.median(ours[inside]) + 6 * noise)
    return {"rms_over_noise": float(mad_std(difference[sky]) / noise),
            "slope": float(slope),
            "beyond_5_noise_per_mpix": float(np.mean(np.abs(difference[sky]) > 5 * noise) * 1e6)}


def main():
    program = Path(sys.argv[1]).resolve()
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        night = Path(sys.argv[2]) if len(sys.argv) > 2 else work / "night"
        if not night.exists():
            subprocess.run([program, "rehearse", "--out", night, "--night", "large", "--size", "700x500", "--quiet"],
                           check=True, stdout=subprocess.DEVNULL)
        done = subprocess.run([program, "reduce", night, "--out", work / "m", "--json", "--quiet"], check=True,
                              capture_output=True, text=True)
        master = json.loads(done.stdout)["masters"][0]
        recipe = json.loads(Path(master["path"]).with_suffix(".recipe.json").read_text())
        ours = fits.getdata(master["path"]).astype(float)
        result = compare(ours, general_master(night, recipe, ours.shape, work), master["noise_e"])
    # Limits. Rms: the two kernels pass high spatial frequencies differently, some tenths of a pixel's noise at most. Slope: two
    # per mille would be light lost. Outliers: none but what a clipping by the scatter of sixteen
    # values leaves.
    limits = {"rms_over_noise": 0.2, "slope": 0.002, "beyond_5_noise_per_mpix": 20}
    failed = False
    for name, value in result.items():
        verdict = "" if abs(value) <= limits[name] else f"   MISSED, limit {limits[name]}"
        failed = failed or bool(verdict)
        print(f"{name:26} {value:.5f}{verdict}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

#!/usr/bin/python3
"""Stars of one light, measured by this program and by the sep library in turn, one core each, on the same pixels in memory.

  measure_stars.py MEASURE_STARS --night FOLDER [--light N] [--rounds 5]

MEASURE_STARS: the target measure_stars. The light is calibrated with general libraries (tests/reference/pipeline.py).
sep: background in boxes of 64, a filter of the width of the stars (which it is told; the program finds it itself), threshold
5 sigma of the filtered noise, default separation, windowed positions, a sum over a circle, the half-flux radius.
Of the program the second go of each process counts: sep's process is warm as well. Processor time, medians of the rounds;
beside it the quality against the truth of the night. Limit: 6 times.
"""
import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import sep
from scipy.spatial import cKDTree

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests" / "reference"))
import pipeline  # noqa: E402
from night_truth import Night, to_pixels  # noqa: E402

THRESHOLD = 5.0
SATURATION_E = 42000.0  # of the rehearsed camera, below the shallowest well that its flat leaves
LIMIT = 6.0


def calibrated(night, number):
    """One light in electrons, as the general pipeline makes it."""
    dark = pipeline.master(pipeline.frames_of(night, "dark"))
    bias = pipeline.master(pipeline.frames_of(night, "dark-flat") or pipeline.frames_of(night, "bias"))
    flat = pipeline.master(pipeline.frames_of(night, "flat"), bias)
    with tempfile.TemporaryDirectory() as work:
        work = Path(work)
        np.save(work / "dark.npy", dark)
        np.save(work / "flat.npy", flat / flat.mean())
        smooth = pipeline.cv2.medianBlur(dark, 5)
        rest = dark - smooth
        np.save(work / "bad.npy", np.abs(rest) > 8 * 1.4826 * np.median(np.abs(rest)))
        return pipeline.calibrated(pipeline.frames_of(night, "light")[number], work)


def measured_by_sep(image, fwhm):
    """x, y, flux, FWHM, SNR of every star that sep finds, and the processor time."""
    started = time.process_time()
    background = sep.Background(image, bw=64, bh=64)
    clean = image - background.back()
    sigma = fwhm / 2.3548
    reach = np.arange(-int(np.ceil(3 * sigma)), int(np.ceil(3 * sigma)) + 1)
    line = np.exp(-0.5 * (reach / sigma) ** 2)
    kernel = np.outer(line, line)
    pixel_sigmas = THRESHOLD * np.sqrt(np.sum(kernel ** 2)) / np.sum(kernel)  # sep counts in noise before the filter
    sep.set_extract_pixstack(4_000_000)
    found = sep.extract(clean, pixel_sigmas, err=background.rms(), filter_kernel=kernel, filter_type="conv", minarea=1)
    x, y, _ = sep.winpos(clean, found["x"], found["y"], np.full(len(found), sigma))
    flux, error, _ = sep.sum_circle(clean, x, y, 1.5 * fwhm, err=background.globalrms, gain=1.0)
    radius, _ = sep.flux_radius(clean, x, y, np.full(len(found), 3 * fwhm), 0.5, normflux=flux)
    seconds = time.process_time() - started
    return np.column_stack([x, y, flux, 2 * radius, flux / error]), seconds


def quality(stars, night, light):
    """Depth, purity, and precision of the list."""
    x, y = to_pixels(light, night.xi, night.eta)
    inside = (x > 10) & (y > 10) & (x < night.camera["width"] - 11) & (y < night.camera["height"] - 11)
    true_xy, true_flux = np.column_stack([x, y])[inside], (night.flux * night.transparency(light))[inside]
    tree = cKDTree(stars[:, :2])
    distance, nearest = tree.query(true_xy)
    sky = np.sqrt(light["channels"][night.channel]["sky_e"])
    snr = true_flux / np.sqrt(true_flux + 3.1 * light["fwhm_px"] ** 2 * sky**2)  # roughly, to choose by: King (1983)
    found = distance < 0.6 * light["fwhm_px"]
    real, _ = cKDTree(np.column_stack([x, y])).query(stars[:, :2])
    clear = (snr > 30) & (true_flux < 3e5) & found
    offsets = stars[nearest[clear], :2] - true_xy[clear]
    near = np.hypot(*(offsets - np.median(offsets, axis=0)).T)
    return {"stars": len(stars), "no star within 1.5 px": int(np.sum(real > 1.5)),
            "found, SNR 10 to 20": float(np.mean(found[(snr > 10) & (snr < 20)])),
            "found, SNR 6 to 10": float(np.mean(found[(snr > 6) & (snr < 10)])),
            "position, median (px)": float(np.median(near))}


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("measure_stars")
    parser.add_argument("--night", required=True)
    parser.add_argument("--light", type=int, default=0)
    parser.add_argument("--rounds", type=int, default=5)
    args = parser.parse_args()
    night = Night(args.night)
    light = night.lights[args.light]
    image = np.ascontiguousarray(calibrated(args.night, args.light))
    with tempfile.TemporaryDirectory() as work:
        pixels, list_ = Path(work) / "pixels", Path(work) / "stars"
        image.tofile(pixels)
        ours, theirs = [], []
        for _ in range(args.rounds):
            run = subprocess.run([args.measure_stars, str(image.shape[1]), str(image.shape[0]), str(pixels), "2",
                                  str(THRESHOLD), str(SATURATION_E), str(list_)], stdout=subprocess.PIPE, check=True, text=True)
            ours.append(json.loads(run.stdout)["processor_seconds"][1])
            stars_of_sep, seconds = measured_by_sep(image, light["fwhm_px"])
            theirs.append(seconds)
        stars = np.fromfile(list_).reshape(-1, 5)
    ratios = np.array(theirs) / np.array(ours)
    print(f"{image.shape[1]} x {image.shape[0]} pixels, one core each, {args.rounds} rounds in turn")
    for name, seconds, listed in (("this program", ours, stars), ("sep", theirs, stars_of_sep)):
        told = ", ".join(f"{k} {v:.3g}" if isinstance(v, float) else f"{k} {v}" for k, v in
                         quality(listed, night, light).items())
        print(f"  {name:13} {np.median(seconds):6.3f} s of processor; {told}")
    ratio = float(np.median(ratios))
    print(f"  {ratio:.2f} times as fast (from {ratios.min():.2f} to {ratios.max():.2f}; limit {LIMIT:g})")
    return 0 if ratio >= LIMIT else 1


if __name__ == "__main__":
    sys.exit(main())

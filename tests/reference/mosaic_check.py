#!/usr/bin/python3
"""A mosaic of panels, reduced to one picture, beside the truth of its rehearsal.

    tests/reference/mosaic_check.py [build/release/bin/nightglass] [--lens SHARE] [--keep DIR]     some 15 s; exit code 1 beyond
    a limit. --lens: through a lens that draws the corners outwards by that share; the master is then flat.

Two by two panels that share an eighth of their sides, taken one after the other through moving air: a cloud passes, the sky's
gradient turns, the mount flips. Without a nebula, so that all that is left beside the stars is sky, which must show no seam.
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from astropy.io import fits
from scipy.spatial import cKDTree

from night_truth import Night, to_pixels

SCENARIO = """seed = 11
[target]
panels_across = 2
panels_down = 2
panel_overlap = 0.12
nebula_rayleighs = 0
cluster_stars = 0
field_stars_per_deg2 = 150
faintest_v_mag = 18
[sensor]
width = 1800
height = 1200
[exposures]
light_s = 180
[camera]
distortion = {lens}
"""
# What is measured, and how large it may be.
LIMITS = {
    "seam_over_noise": 1.0,          # of the background noise of a pixel: what an eye would find
    "panel_offset_px": 0.3,          # of a whole panel: 30 stars of 0.03 px in a strip, seen from its far side
    "position_rms_px": 0.1,          # of single stars above SNR 80 within a panel: crowding included
    "fwhm_in_overlap": 1.02,         # over that beside it: doubled stars would be wide
    "flux_between_panels": 0.01,     # of the medians: 1 %
    "predicted_noise": 0.03,         # of bare sky over VARIANCE
}


def run(*command):
    done = subprocess.run(list(map(str, command)), stdout=subprocess.PIPE, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(map(str, command))} ended with {done.returncode}")
    return done.stdout


def without_stars(image, x, y, radius):
    """What lies within `radius` pixels of a star becomes NaN."""
    image = image.copy()
    for i, j in np.ndindex(2 * radius + 1, 2 * radius + 1):
        if (i - radius)**2 + (j - radius)**2 > radius**2:
            continue
        columns, rows = np.rint(x).astype(int) + i - radius, np.rint(y).astype(int) + j - radius
        inside = (columns >= 0) & (rows >= 0) & (columns < image.shape[1]) & (rows < image.shape[0])
        image[rows[inside], columns[inside]] = np.nan
    return image


def in_boxes(image, box):
    rows, columns = image.shape[0] // box, image.shape[1] // box
    return image[:rows * box, :columns * box].reshape(rows, box, columns, box).swapaxes(1, 2).reshape(rows, columns, -1)


def seam_over_noise(image, variance, box=32):
    """Largest second difference of the bare sky, box by box, over the noise of a pixel there: a step shows in full, a slope not
    at all. At the rim, where the dither leaves fewer frames, the noise is larger, and so may the level be."""
    boxes, of_noise = in_boxes(image, box), in_boxes(variance, box)
    enough = np.isfinite(boxes).mean(axis=2) > 0.5
    level = np.where(enough, np.nanmedian(np.where(enough[..., None], boxes, 0), axis=2), np.nan)
    noise = np.sqrt(np.nanmedian(np.where(enough[..., None], of_noise, 1), axis=2))
    second = [(level[:, :-4] - 2 * level[:, 2:-2] + level[:, 4:]) / noise[:, 2:-2],
              (level[:-4] - 2 * level[2:-2] + level[4:]) / noise[2:-2]]
    values = np.abs(np.concatenate([s[np.isfinite(s)] for s in second]))
    return values.max(), np.sqrt((values**2).mean())


def check(program, work, lens):
    (work / "mosaic.toml").write_text(SCENARIO.format(lens=lens), encoding="utf-8")
    run(program, "rehearse", "--scenario", work / "mosaic.toml", "--filters", "L", "--lights", 5, "--darks", 12, "--flats", 12,
        "--dark-flats", 12, "--bias", 0, "--out", work / "night", "--quiet")
    reply = json.loads(run(program, "reduce", work / "night", "--out", work / "masters", "--json", "--quiet"))
    print(next(n for n in reply["notes"] if "panels" in n))
    master = Path(reply["masters"][0]["path"])
    night = Night(work / "night")
    with fits.open(master) as file:
        image, variance = file[0].data.astype(float), file["VARIANCE"].data.astype(float)

    reference = night.light_named(reply["reference"])
    line = next(f for f in reply["frames"] if Path(f["path"]).name == Path(reply["reference"]).name)
    shift_x, shift_y = line["transform"][2], line["transform"][5]
    x, y = to_pixels({"from_sky": reference["from_sky"]}, night.xi, night.eta)  # flat: without the lens
    x, y = x + shift_x, y + shift_y
    # How many panels see each star, and which.
    width, height = night.camera["width"], night.camera["height"]
    seen = np.zeros((4, len(x)), bool)
    for light in night.lights:
        px, py = to_pixels(light, night.xi, night.eta)
        seen[light["panel"]] |= (px > 20) & (py > 20) & (px < width - 21) & (py < height - 21)

    stars = json.loads(run(program, "measure", master, "--json", "--quiet"))["stars"]
    column = {k: np.array([s[k] for s in stars]) for k in ("x", "y", "flux", "flux_error", "fwhm_px", "saturated")}
    bright = np.flatnonzero(night.flux > np.sort(night.flux)[-min(8000, len(night.flux))])
    tree = cKDTree(np.c_[x[bright], y[bright]])
    distance, nearest = tree.query(np.c_[column["x"], column["y"]])
    alone = tree.query(np.c_[x[bright], y[bright]], k=2)[0][:, 1] > 12
    good = (distance < 1.5) & alone[nearest] & ~column["saturated"] & (column["flux"] > 80 * column["flux_error"])
    star = bright[nearest]
    dx, dy = column["x"] - x[star], column["y"] - y[star]
    ratio = column["flux"] / night.flux[star]
    alone_in = [good & seen[p][star] & (seen[:, star].sum(axis=0) == 1) for p in range(4)]
    shared = good & (seen[:, star].sum(axis=0) > 1)
    for p, s in enumerate(alone_in):
        print(f"panel {p}: {s.sum()} stars, offset {np.median(dx[s]):+.3f} {np.median(dy[s]):+.3f} px, rms {dx[s].std():.3f} "
              f"{dy[s].std():.3f} px, flux {np.median(ratio[s]):.4f}")
    own = [alone_in[p] for p in range(4)]
    offsets = [np.hypot(np.median(dx[s]), np.median(dy[s])) for s in own]
    rms = [max(dx[s].std(), dy[s].std()) for s in own]
    fluxes = [np.median(ratio[s]) for s in own]
    bare = np.isfinite(image) & np.isfinite(variance)
    noise = np.sqrt(np.median(variance[bare]))
    # Down to stars whose peak is a fifth of the noise; the wings of the brightest reach far.
    faint, wide = night.flux > 2 * noise, night.flux > 1e7
    bare_sky = without_stars(without_stars(image, x[faint], y[faint], 12), x[wide], y[wide], 100)
    seam, usual = seam_over_noise(bare_sky, variance)
    print(f"second differences of the sky: {usual:.3f} of the noise rms, {seam:.3f} the largest")
    m = reply["masters"][0]
    return {
        "seam_over_noise": seam,
        "panel_offset_px": max(offsets),
        "position_rms_px": max(rms),
        "fwhm_in_overlap": np.median(column["fwhm_px"][shared]) / np.median(column["fwhm_px"][np.any(own, axis=0)]),
        "flux_between_panels": max(fluxes) / min(fluxes) - 1,
        "predicted_noise": abs(m["noise_e"] / m["predicted_noise_e"] - 1),
    }


def main():
    arguments = sys.argv[1:]
    keep = Path(arguments[arguments.index("--keep") + 1]) if "--keep" in arguments else None
    program = Path(arguments[0] if arguments and not arguments[0].startswith("--") else "build/release/bin/nightglass").resolve()
    lens = float(arguments[arguments.index("--lens") + 1]) if "--lens" in arguments else 0.0
    with tempfile.TemporaryDirectory() as temporary:
        work = keep or Path(temporary)
        work.mkdir(parents=True, exist_ok=True)
        measured = check(program, work, lens)
    failed = False
    for name, value in measured.items():
        missed = not value <= LIMITS[name]
        failed |= missed
        print(f"{name:<22} {value:9.4f}   {'MISSED, ' if missed else ''}limit {LIMITS[name]:g}")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()

#!/usr/bin/python3
"""`nightglass measure` beside sep and beside truth, on the lights of a small rehearsed night less their dark.

  measure_check.py PROGRAM [FRAME.fits ...]

Without frames a night of 1200 x 800 pixels is rehearsed and the truth is looked at too. Bright, isolated, unsaturated
stars only. Limits: positions within 0.05 px of sep's windowed centroid (median distance), fluxes within 1 % of an
aperture of sep holding nearly all light, whose lost wings are the same share for all stars: the ratio's scatter is held
to 1 %, and where truth is known its median too. Versions that the limits were tried with: sep 1.2.1, astropy 5.2.1.
Exit 0 all agree, 1 a difference, 77 libraries missing or no frame with enough stars.
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

try:
    import cv2
    import numpy as np
    import sep
    from astropy.io import fits
    from scipy.spatial import cKDTree
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

from night_truth import Night, to_pixels

APERTURE_PX = 9.0
FEWEST = 12


def measure(program, path):
    done = subprocess.run([program, "measure", str(path), "--json", "--quiet"], capture_output=True, text=True)
    if done.returncode != 0:
        raise SystemExit(f"measure {path} ended with {done.returncode}: {done.stderr.strip()}")
    return json.loads(done.stdout)


def spread(values):
    return 1.4826 * np.median(np.abs(values - np.median(values)))


def isolated(stars, noise, shape):
    """Of the program's list: bright, unsaturated, away from the rim and from anything with 1 % of their light."""
    x, y, flux = (np.array([s[key] for s in stars]) for key in ("x", "y", "flux"))
    tree, kept = cKDTree(np.column_stack([x, y])), []
    for i, s in enumerate(stars):
        if s["saturated"] or s.get("blended") or s.get("doubtful") or flux[i] < 400 * noise:
            continue
        if not (25 < x[i] < shape[1] - 26 and 25 < y[i] < shape[0] - 26):
            continue
        near = [j for j in tree.query_ball_point([x[i], y[i]], 2.2 * APERTURE_PX) if j != i]
        if flux[near].sum() < 0.01 * flux[i]:
            kept.append(i)
    return np.array(kept, dtype=int), x, y, flux


def compare(program, path):
    """Rows of (what, value, limit) of one frame, and the chosen stars; None where it has too few."""
    image = np.ascontiguousarray(fits.getdata(path), dtype=np.float32)
    reply = measure(program, path)
    index, x, y, flux = isolated(reply["stars"], reply["noise"], image.shape)
    if len(index) < FEWEST:
        return None, len(index)
    background = sep.Background(image, bw=64, bh=64)
    flat = image - background.back()
    fwhm = np.median([reply["stars"][i]["fwhm_px"] for i in index])
    xs, ys, flag = sep.winpos(flat, x[index], y[index], np.full(len(index), fwhm / 2.3548))
    ok = flag & ~sep.OBJ_TRUNC == 0
    theirs, _, _ = sep.sum_circle(flat, xs, ys, APERTURE_PX, bkgann=(12.0, 17.0), subpix=0)
    distance = np.hypot(xs - x[index], ys - y[index])[ok]
    ratio = (flux[index] / theirs)[ok]
    rows = [("median distance to sep, px", float(np.median(distance)), 0.05),
            ("scatter of flux over sep's", float(spread(ratio / np.median(ratio))), 0.01)]
    return rows, (x[index], y[index], flux[index])


def against_truth(night, light, x, y, flux):
    tx, ty = to_pixels(light, night.xi, night.eta)
    d, star = cKDTree(np.column_stack([tx, ty])).query(np.column_stack([x, y]), distance_upper_bound=1.0)
    ok = np.isfinite(d)
    star = star[ok]
    dx, dy = x[ok] - tx[star], y[ok] - ty[star]
    # The raw frame holds the star times transparency and vignetting, in ADU or electrons: pixel scatter of 1 % averages.
    expected = night.flux[star] * night.transparency(light) * night.responses(x[ok], y[ok])
    ratio = flux[ok] / expected
    return [("stars without a true one", float(np.count_nonzero(~ok)), 0.0),
            ("mean offset in x from truth, px", abs(float(np.median(dx))), 0.02),
            ("mean offset in y from truth, px", abs(float(np.median(dy))), 0.02),
            ("scatter in x about truth, px", float(spread(dx)), 0.05),
            ("scatter in y about truth, px", float(spread(dy)), 0.05)], float(np.median(ratio))


def without_dark(night, path):
    """A light less the mean dark, hot pixels filled in, in ADU: on a raw light the brightest things are hot pixels."""
    dark = np.mean([fits.getdata(p).astype(np.float32) for p in sorted((night / "dark").glob("*.fits"))], axis=0)
    with fits.open(path) as hdus:
        header, light = hdus[0].header, hdus[0].data.astype(np.float32) - dark
    hot = dark - cv2.medianBlur(dark, 5)
    hot = np.abs(hot) > 8 * spread(hot)
    light[hot] = cv2.medianBlur(light, 5)[hot]
    fits.writeto(night / path.name, light, header)
    return night / path.name


def report(name, rows):
    failed = 0
    for what, value, limit in rows:
        verdict = "ok" if value <= limit else "DIFFERS"
        failed += verdict != "ok"
        print(f"{name}: {what} {value:.4f} (limit {limit}) {verdict}")
    return failed


def main():
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    program, failed, seen = sys.argv[1], 0, 0
    with tempfile.TemporaryDirectory() as folder:
        night, frames = None, [Path(p) for p in sys.argv[2:]]
        if not frames:
            out = Path(folder) / "night"
            subprocess.run([program, "rehearse", "--night", "large", "--size", "1200x800", "--lights", "2", "--darks", "3",
                            "--flats", "1", "--bias", "1", "--catalogue", "none", "--out", str(out), "--quiet"],
                           check=True, stdout=sys.stderr)
            night = Night(out)
            frames = [without_dark(out, out / light["path"]) for light in night.lights]
        for path in frames:
            rows, found = compare(program, path)
            if rows is None:
                print(f"{path.name}: only {found} bright isolated stars, not compared")
                continue
            seen += 1
            failed += report(path.name, rows)
            if night:
                truth_rows, ratio = against_truth(night, night.light_named(path), *found)
                failed += report(path.name, truth_rows)
                print(f"{path.name}: flux over true electrons {ratio:.4f}")
    if not seen:
        print("SKIP: no frame with enough bright isolated stars")
        return 77
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

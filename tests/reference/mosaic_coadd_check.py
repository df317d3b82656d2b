#!/usr/bin/python3
"""Panels joined by every way of coadding, mono and from a colour sensor, beside the truth of their rehearsal.

    tests/reference/mosaic_coadd_check.py PROGRAM [--sensor mono mosaic] [--lights N] [--keep DIR]     exit code 1 beyond a limit

Two by two panels that share a quarter of their sides, of different seeing, without a nebula: what is left beside the stars is sky,
which must show no seam. Drizzled, drizzled finer, and coadded properly. Of each colour of each master, lengths in pixels of a frame, in places that one panel sees, that several
see, and where panels end:
  seam      largest second difference of the bare sky's level over boxes of 32 pixels, over the noise of a pixel there
  flux      stars in apertures over the truth: the medians of the places, largest over smallest
  offset    of stars from the truth: largest of the medians of the places
  noise     scatter of bare sky, less its level nearby, over what VARIANCE states
  white     sharp only: scatter of means over 4 x 4 pixels over that, times 4: neighbours must know nothing of each other
"""
import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path

try:
    import numpy as np
    import sep
    from astropy.io import fits
    from scipy import ndimage
    from scipy.spatial import cKDTree
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

from mosaic_check import seam_over_noise
from night_truth import Night, star_image, to_pixels

SCENARIO = """seed = 11
[target]
panels_across = 2
panels_down = 2
panel_overlap = 0.25
nebula_rayleighs = 0
cluster_stars = 0
field_stars_per_deg2 = 250
faintest_v_mag = 17
[air]
fwhm_scatter = 0.2
[sensor]
width = 900
height = 700
[exposures]
light_s = 180
"""
ROUTES = {"drizzled": ["--drizzle", "yes"], "fine": ["--scale", "0.5"],
          "sharp": ["--drizzle", "no", "--sharp"]}
BORDER = 8  # pixels on either side of where a frame ends
APERTURE = 7.0


def run(*command):
    done = subprocess.run(list(map(str, command)), stdout=subprocess.PIPE, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(map(str, command))} ended with {done.returncode}")
    return done.stdout


def spread(values):
    return 1.4826 * np.median(np.abs(values - np.median(values)))


class Truth:
    """Where the lights that were used lie on the master's grid, and the stars."""

    def __init__(self, folder, channel, reply, scale):
        self.night = Night(folder, channel)
        reference = self.night.light_named(reply["reference"])
        line = next(f for f in reply["frames"] if Path(f["path"]).name == Path(reply["reference"]).name)
        self.shift = (np.array([line["transform"][2], line["transform"][5]]) + 0.5) * scale - 0.5  # told in the master's pixels
        self.lights = self.night.used(reply)
        x, y = to_pixels(reference, self.night.xi, self.night.eta)
        self.x, self.y = x + self.shift[0], y + self.shift[1]
        m = np.array(reference["from_sky"] + [1.0]).reshape(3, 3)
        self.to_sky = np.linalg.inv(np.array([[1, 0, self.shift[0]], [0, 1, self.shift[1]], [0, 0, 1]]) @ m)

    def places(self, shape, scale):
        """Of every pixel of a master: by how many panels it is seen by all their frames, and whether a border is near."""
        height, width = shape
        step = int(round(8 / scale))
        gy, gx = np.mgrid[0:height:step, 0:width:step]
        gx, gy = (gx + 0.5) * scale - 0.5, (gy + 0.5) * scale - 0.5
        h = np.stack([gx.ravel(), gy.ravel(), np.ones(gx.size)])
        sky = self.to_sky @ h
        xi, eta = sky[0] / sky[2], sky[1] / sky[2]
        w, hgt = self.night.camera["width"], self.night.camera["height"]
        panels = sorted({light["panel"] for light in self.lights})
        wholly, near = np.zeros(xi.shape, int), np.zeros(xi.shape, bool)
        for p in panels:
            least, most = np.full(xi.shape, np.inf), np.full(xi.shape, -np.inf)
            for light in self.lights:
                if light["panel"] != p:
                    continue
                x, y = to_pixels(light, xi, eta)
                inside = np.min([x, y, w - 1 - x, hgt - 1 - y], axis=0)
                least, most = np.minimum(least, inside), np.maximum(most, inside)
            wholly += least > 4
            near |= (most > -BORDER) & (least < BORDER)
        large = [np.kron(a.reshape(gx.shape), np.ones((step, step), int))[:height, :width] for a in (wholly, near)]
        return large[0], large[1].astype(bool)


def level_nearby(image, keep, radius):
    weight = ndimage.uniform_filter(keep.astype(float), 2 * radius + 1)
    return ndimage.uniform_filter(np.where(keep, image, 0.0), 2 * radius + 1) / np.maximum(weight, 1e-9), weight


def judge(truth, image, variance, scale, white):
    image, variance = image.astype(float), variance.astype(float)
    finite = np.isfinite(image) & np.isfinite(variance) & (variance > 0)
    wholly, near = truth.places(image.shape, scale)
    x, y = (truth.x + 0.5) / scale - 0.5, (truth.y + 0.5) / scale - 0.5
    fwhm = float(np.mean([f["fwhm_px"] for f in truth.lights])) / scale
    noise = float(np.sqrt(np.median(variance[finite])))
    stars = star_image(image.shape, x, y, truth.night.flux, 1.15 * fwhm, truth.lights[0]["moffat_beta"], 0.02)
    dark = finite & ~ndimage.binary_dilation(stars > 0.15 * noise, iterations=2)
    for i in np.flatnonzero(truth.night.flux > 3e6):  # what is saturated has wings of its own
        gy, gx = np.ogrid[:image.shape[0], :image.shape[1]]
        dark &= np.hypot(gx - x[i], gy - y[i]) > 80 / scale
    seam, usual = seam_over_noise(np.where(dark, image, np.nan), np.where(finite, variance, np.nan), int(round(32 / scale)))

    level, weight = level_nearby(image, dark, int(round(16 / scale)))
    rest = (image - level) / np.sqrt(np.where(finite, variance, 1))
    good = dark & (weight > 0.4)
    zones = {"one": (wholly == 1) & ~near, "several": (wholly > 1) & ~near, "border": near & (wholly > 0)}
    result = {"seam": seam, "usual": usual, "holes": int((np.isfinite(variance) & ~np.isfinite(image)).sum()), "noise": {}, "white": {}, "flux": {}, "offset": {}}
    for name, zone in zones.items():
        chosen = good & zone
        result["noise"][name] = spread(rest[chosen])
        if white:
            h, w = (n // 4 * 4 for n in image.shape)
            cells = [np.where(chosen, a, 0)[:h, :w].reshape(h // 4, 4, w // 4, 4).sum(axis=(1, 3)) for a in (rest, chosen)]
            full = cells[1] > 12
            result["white"][name] = spread(cells[0][full] / np.sqrt(cells[1][full]))

    flat = np.where(finite, image - np.median(image[dark]), 0)
    tree = cKDTree(np.c_[truth.x, truth.y])
    flux = truth.night.flux
    candidates = np.flatnonzero((flux > 60 * noise / scale**2) & (flux < 3e5))
    lonely = []
    for i in candidates:
        others = [j for j in tree.query_ball_point((truth.x[i], truth.y[i]), 14) if j != i]
        if flux[others].sum() < 0.02 * flux[i]:
            lonely.append(i)
    lonely = np.array(lonely)
    inside = (x[lonely] > 20 / scale) & (y[lonely] > 20 / scale)
    inside &= (x[lonely] < image.shape[1] - 20 / scale) & (y[lonely] < image.shape[0] - 20 / scale)
    lonely = lonely[inside]
    lonely = lonely[ndimage.minimum_filter(finite, int(30 / scale))[np.rint(y[lonely]).astype(int), np.rint(x[lonely]).astype(int)]]
    data = np.ascontiguousarray(flat)
    r = APERTURE / scale
    total, _, _ = sep.sum_circle(data, x[lonely], y[lonely], r, bkgann=(10 / scale, 15 / scale))
    cx, cy, _ = sep.winpos(data, x[lonely], y[lonely], np.full(len(lonely), fwhm / 2.355))
    ratio = total / flux[lonely]
    at = (np.rint(y[lonely]).astype(int), np.rint(x[lonely]).astype(int))
    result["stars"] = {}
    for name, zone in zones.items():
        own = zone[at]
        result["stars"][name] = int(own.sum())
        result["flux"][name] = float(np.median(ratio[own])), 1.25 * spread(ratio[own]) / np.sqrt(own.sum())
        dx, dy = (cx - x[lonely])[own] * scale, (cy - y[lonely])[own] * scale
        result["offset"][name] = float(np.hypot(np.median(dx), np.median(dy))), float(np.hypot(spread(dx), spread(dy)))
    return result


def show(label, r):
    zones = ("one", "several", "border")
    row = [f"seam {r['seam']:.2f} ({r['usual']:.2f})", "noise " + " ".join(f"{r['noise'][z]:.3f}" for z in zones)]
    if r["white"]:
        row.append("white " + " ".join(f"{r['white'][z]:.3f}" for z in zones))
    row.append("flux " + " ".join(f"{r['flux'][z][0]:.4f}+-{r['flux'][z][1]:.4f}" for z in zones))
    row.append("offset " + " ".join(f"{r['offset'][z][0]:.3f}/{r['offset'][z][1]:.3f}" for z in zones))
    row.append("stars " + " ".join(str(r["stars"][z]) for z in zones))
    print(f"{label:26} " + "  ".join(row), flush=True)


def failures_of(label, r, coloured):
    missed = []

    def limit(what, value, bound):
        if not value <= bound:
            missed.append(f"{label}: {what} {value:.4f}, limit {bound:.4f}")

    limit("pixels with a variance but no value", r["holes"], 0)
    limit("seam", r["seam"], 1.0)  # of the noise of a pixel: what an eye would find
    for zone, value in r["noise"].items():
        # The mean of the sky nearby takes a per cent off, faint stars add one; --sharp is only nearly white at borders.
        # Interpolated colours are not white, so that a filter for white noise leaves their pixels some 4 % less of it.
        limit(f"noise over VARIANCE, {zone}", abs(value - 1), 0.06 if coloured or zone == "border" else 0.03)
    for zone, value in r["white"].items():
        limit(f"noise of 4 x 4 over VARIANCE, {zone}", abs(value - 1), 0.05 if zone != "border" else 0.08)
    fluxes = r["flux"]
    for zone in ("several", "border"):
        error = np.hypot(fluxes[zone][1], fluxes["one"][1])
        limit(f"flux, {zone}", abs(fluxes[zone][0] / fluxes["one"][0] - 1), 0.01 + 3 * error)
    for zone in r["offset"]:
        # The register's own limit is 0.1 px; drops of few dithers are coarse: a star's scatter over the root of its number.
        limit(f"offset, {zone}", r["offset"][zone][0], 0.1 + 3 * r["offset"][zone][1] / np.sqrt(r["stars"][zone]))
    return missed


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program", type=Path)
    parser.add_argument("--sensor", nargs="+", default=["mono", "mosaic"])
    parser.add_argument("--lights", type=int)
    parser.add_argument("--routes", nargs="+", default=list(ROUTES))
    parser.add_argument("--keep", type=Path)
    o = parser.parse_args()
    failures = []
    with tempfile.TemporaryDirectory() as temporary:
        work = o.keep or Path(temporary)
        work.mkdir(parents=True, exist_ok=True)
        (work / "mosaic.toml").write_text(SCENARIO, encoding="utf-8")
        for sensor in o.sensor:
            night = work / sensor
            if not (night / "truth.json").exists():
                run(o.program, "rehearse", "--scenario", work / "mosaic.toml", "--sensor", sensor, "--lights",
                    o.lights or (5 if sensor == "mono" else 10), "--darks", 8, "--flats", 8, "--dark-flats", 8, "--bias", 0,
                    "--out", night, "--quiet", *(["--filters", "L"] if sensor == "mono" else []))
            for route in o.routes:
                out = work / f"{sensor}-{route}"
                reply = json.loads(run(o.program, "reduce", night, "--out", out, "--json", "--quiet", "--overwrite", *ROUTES[route]))
                master = reply["masters"][0]
                path = master["sharp"]["path"] if route == "sharp" else master["path"]
                scale = (master.get("scale") or 1.0) if route != "sharp" else 1.0
                channels = ("L",) if sensor == "mono" else ("red", "green", "blue")
                with fits.open(path) as file:
                    for p, channel in enumerate(channels):
                        if route == "fine" and channel in ("red", "blue"):
                            continue  # four times the pixels: green stands for all, within a minute
                        planes = [file[k].data if sensor == "mono" else file[k].data[p] for k in (0, "VARIANCE")]
                        label = f"{sensor} {route} {channel}"
                        r = judge(Truth(night, channel, reply, scale), *planes, scale, route == "sharp" and sensor == "mono")
                        show(label, r)
                        failures += failures_of(label, r, sensor == "mosaic" and route == "sharp")
    for line in failures:
        print("MISSED " + line)
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()

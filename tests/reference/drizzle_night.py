#!/usr/bin/python3
"""Masters drizzled from the mosaic beside demosaiced ones, on rehearsed nights without a nebula, whose truth is known.

  drizzle_night.py PROGRAM [WORK] [--seeing 2.0 2.9 4.5] [--lights 24] [--size 1500x1000] [--accept]
                   [--routes "demosaiced=--drizzle no" "drizzled=" ...] [--no-libraries]

For every seeing (arcsec at the zenith; the pixels are 1.9 arcsec) and route, per colour, lengths in pixels of a frame:
  fwhm       of bright, lonely stars: median of Moffat profiles fitted to the master's pixels as they are; and over the
             bound: the same of the mean of the true profiles, integrated over the pixels of the sensor. Nothing that only
             adds pixels up can be narrower
  colour     noise of bare sky of red less green and of blue less green, in means over squares of 4 x 4 frame pixels and of
             very wide ones, over that of the ideal weighted means of the pixels that have those colours. Demosaicing
             smooths colours over some pixels, which takes noise from squares in proportion to their rim: of squares of
             8 and 16 pixels follows what is left where the rim no longer counts
  noise      the same of the plane itself; and of single pixels over what VARIANCE states
  flux       mean of measured over true flux within 8 px, over all stars of some brightness (the mean of the flats, which
             the truth does not know, is in it); and the slope of that ratio per magnitude, with its error: bright and
             faint stars must agree; the scatter is that of the 40 brightest
  left       pixels further than 6 sigma from their surroundings where no true star is, per million
  resolved   colour noise at one resolution: every plane smoothed by what its own kernel lacks of a Gaussian of 5 px
A further route is the yardstick: bilinear, the textbook's demosaicing by general libraries (demosaiced_by_libraries.py).
With --accept 1 where the drizzled route misses a limit beside bilinear, which sees the same photons and is measured in the same
way: FWHM no more than 0.95 in every colour, unless the bound itself is more than that; colour noise at one resolution and equal
flux no more than 1.02 (weights may scatter by a fifth, and about a third of its square is left of the variance: 0.7 % of the noise; the
rest for what that is known to, and what else the routes differ in);
flux beside green's within 1 % or three errors, its change with magnitude the same within three errors; left-over outliers no more
than its, or 1 per million pixels. And VARIANCE within 4 % of the truth. Over our own demosaicing all is told, as the FWHM there
depends on the seeing, and nobody knows its kernel.
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
    from scipy.optimize import least_squares
    from scipy.spatial import cKDTree
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

from demosaiced_by_libraries import reduce_night
from night_truth import Night, moffat_enclosed, star_image, to_pixels

COLOURS = ("red", "green", "blue")
DENSITY = {"red": 0.25, "green": 0.5, "blue": 0.25}
BOX = 72  # frame pixels
APERTURE = 8.0
SCENARIO = """[target]
nebula_rayleighs = 0
[air]
fwhm_arcsec = {seeing}
"""


def run(*command):
    done = subprocess.run([str(word) for word in command], stdout=subprocess.PIPE, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(map(str, command))} ended with {done.returncode}")
    return done.stdout


def rehearse(program, night, seeing, lights, size):
    if (night / "truth.json").exists():
        return
    scenario = night.with_suffix(".toml")
    scenario.write_text(SCENARIO.format(seeing=seeing), encoding="utf-8")
    run(program, "rehearse", "--out", night, "--sensor", "mosaic", "--lights", lights, "--size", size, "--darks", 12,
        "--flats", 12, "--bias", 12, "--scenario", scenario, "--catalogue", "none", "--quiet")


def spread(values):
    return 1.4826 * np.median(np.abs(values - np.median(values)))


def moffat_width(cut, u, v, guess, beta):
    """FWHM of a round Moffat profile fitted to the values `cut` at (u, v); `guess` holds x, y and a width."""
    def off(p):
        return (p[3] * (1 + ((u - p[0]) ** 2 + (v - p[1]) ** 2) / p[2] ** 2) ** -p[5] + p[4] - cut).ravel()

    p = least_squares(off, [*guess, cut.max(), 0, beta],
                      bounds=([-np.inf, -np.inf, 0.1, 0, -np.inf, 1.2], [np.inf] * 5 + [30])).x
    return 2 * p[2] * np.sqrt(2 ** (1 / p[5]) - 1)


class Colour:
    """One plane of a master, with the true stars on its grid. Places of the truth are in pixels of the reference."""

    def __init__(self, folder, name, hdus, plane, reply, scale):
        self.night, self.scale = Night(folder, name), scale
        self.lights = self.night.used(reply)
        self.image = np.ascontiguousarray(hdus[0].data[plane], dtype=np.float32)
        self.variance = hdus["VARIANCE"].data[plane]
        coverage = hdus["COVERAGE"].data[plane]
        # The rim that not all frames see; stars whose cores lost values to the rejection stay.
        self.bad = ~np.isfinite(self.image) | (ndimage.uniform_filter(coverage, 61) < 0.9 * np.median(coverage))
        self.image[~np.isfinite(self.image)] = np.median(self.image[np.isfinite(self.image)])
        # The unit of the master: electrons of one frame, scaled by the green stars of each.
        green = Night(folder, "green")
        unit = next(str(line) for line in hdus[0].header["HISTORY"] if "reference " in line).split("reference ")[1].split()[0]
        share = np.mean([self.night.transparency(f) / green.transparency(f) for f in self.lights])
        self.k = green.transparency(green.light_named(unit)) * float(share)
        light = self.night.light_named(reply["reference"])
        self.x, self.y = to_pixels(light, self.night.xi, self.night.eta)
        self.fwhm = float(np.mean([f["fwhm_px"] for f in self.lights]))
        self.beta = self.lights[0]["moffat_beta"]
        # What the best mean of the same pixels of this colour would have per pixel of a frame.
        zero = np.zeros(1)
        self.ideal = self.k * float(self.night.ideal_noise(self.lights, zero, zero, zero)[0]) / np.sqrt(DENSITY[name])
        self.stars = star_image(self.image.shape, *self.place(self.x, self.y), self.k * self.night.flux,
                                self.fwhm / scale, self.beta, 0.02)
        self.peak = self.night.flux * (self.beta - 1) / np.pi * 4 * (2 ** (1 / self.beta) - 1) / self.fwhm**2
        background = sep.Background(self.image, mask=self.bad | (self.stars > 3), bw=int(64 / scale), bh=int(64 / scale))
        self.flat = self.image - background.back()

    def place(self, x, y):
        return (x + 0.5) / self.scale - 0.5, (y + 0.5) / self.scale - 0.5

    def lonely(self, low, high, alone_px, share):
        """Stars of so many electrons, whose neighbours within a radius have no more than a share of their light."""
        h, w = np.array(self.image.shape) * self.scale
        saturated = 0.6 * self.night.camera["saturation_e"]
        tree = cKDTree(np.column_stack([self.x, self.y]))
        chosen = []
        for i in np.flatnonzero((self.night.flux > low) & (self.night.flux < high) & (self.peak < saturated)):
            x, y = self.x[i], self.y[i]
            near = tree.query_ball_point([x, y], alone_px)
            if not (30 < x < w - 31 and 30 < y < h - 31) or np.sum(self.night.flux[near]) > (1 + share) * self.night.flux[i]:
                continue
            mx, my = self.place(x, y)
            reach = int(12 / self.scale)
            if not self.bad[int(my) - reach:int(my) + reach + 1, int(mx) - reach:int(mx) + reach + 1].any():
                chosen.append(i)
        return np.array(chosen, dtype=int)

    def bound(self):
        reach = int(round(2.5 * self.fwhm)) + 1
        places = (np.arange((2 * reach + 1) * 15) + 0.5) / 15 - 0.5 - reach
        r2, profile = places[:, None] ** 2 + places[None, :] ** 2, 0
        for light in self.lights:
            core2 = (light["fwhm_px"] / 2) ** 2 / (2 ** (1 / self.beta) - 1)
            profile = profile + (1 + r2 / core2) ** -self.beta / core2
        side = 2 * reach + 1
        v, u = np.mgrid[-reach:reach + 1, -reach:reach + 1]
        return moffat_width(profile.reshape(side, 15, side, 15).mean((1, 3)), u, v, [0, 0, self.fwhm], self.beta)

    def widths(self):
        reach, widths = int(round(2.5 * self.fwhm / self.scale)) + 1, []
        for i in self.lonely(8000, 120000, 10, 0.03)[:250]:
            mx, my = self.place(self.x[i], self.y[i])
            x0, y0 = int(round(mx)), int(round(my))
            cut = self.flat[y0 - reach:y0 + reach + 1, x0 - reach:x0 + reach + 1].astype(float)
            v, u = np.mgrid[y0 - reach:y0 + reach + 1, x0 - reach:x0 + reach + 1]
            widths.append(moffat_width(cut, u, v, [mx, my, self.fwhm / self.scale], self.beta) * self.scale)
        return float(np.median(widths)), float(1.2533 * spread(np.array(widths)) / np.sqrt(len(widths))), len(widths)

    def fluxes(self):
        """Stars and their neighbours are subtracted as true, so that an aperture holds what is wrong of one alone."""
        chosen = self.lonely(4000, 400000, 14, 0.05)
        r = APERTURE / self.scale
        mx, my = self.place(self.x[chosen], self.y[chosen])
        ring = (12 / self.scale, 18 / self.scale)
        total, _, _ = sep.sum_circle(self.flat, mx, my, r, bkgann=ring, subpix=0)
        neighbours, _, _ = sep.sum_circle(self.stars, mx, my, r, bkgann=ring, subpix=0)
        flux = self.night.flux[chosen]
        # Less what other stars add by the painted truth: the aperture's light of the painting beyond the star's own.
        own = self.k * flux * moffat_enclosed(APERTURE, self.fwhm, self.beta)
        sky_noise = self.ideal * np.sqrt(np.pi) * APERTURE * 1.3
        ratio = (total - (neighbours - own)) / own
        error = np.hypot(np.sqrt(own / len(self.lights) / DENSITY[self.night.channel]), sky_noise) / own
        keep = np.abs(ratio - np.median(ratio)) < 6 * np.maximum(error, spread(ratio))
        ratio, error, magnitude = ratio[keep], error[keep], -2.5 * np.log10(flux[keep])
        weight = 1 / np.hypot(error, 0.004)
        basis = np.column_stack([np.ones_like(magnitude), magnitude - np.median(magnitude)])
        covariance = np.linalg.inv((basis * weight[:, None] ** 2).T @ basis)
        fit = covariance @ (basis * weight[:, None] ** 2).T @ ratio
        worse = max(1.0, float(np.sqrt(np.mean(((ratio - basis @ fit) * weight) ** 2))))
        scatter = float(spread(ratio[np.argsort(magnitude)][:40]))
        return float(np.mean(ratio)), float(fit[1]), float(np.sqrt(covariance[1, 1])) * worse, len(ratio), scatter

    def left_over(self):
        rest = self.flat - self.stars
        sigma = np.sqrt(np.maximum(self.variance, 0), where=np.isfinite(self.variance), out=np.ones_like(rest))
        near = ndimage.binary_dilation(self.stars > 0.3 * np.median(sigma), iterations=int(np.ceil(2 / self.scale)))
        free = ~near & ~self.bad
        local = sep.Background(np.ascontiguousarray(rest), mask=~free, bw=32, bh=32)
        far = (np.abs(rest - local.back()) > 6 * np.maximum(sigma, local.rms())) & free
        return float(np.count_nonzero(far) / (np.count_nonzero(free) / 1e6)), int(np.count_nonzero(far))


def with_stars(colours):
    return np.any([c.bad | (c.stars > 0.3 * c.ideal * c.scale**2) for c in colours], axis=0)


def boxes(colours):
    """Squares of sky without stars worth the name, in all three planes; as slices of the master."""
    scale = colours[0].scale
    side = int(round(BOX / scale))
    starry, found = with_stars(colours), []
    for y in range(side, starry.shape[0] - side, side):
        for x in range(side, starry.shape[1] - side, side):
            if np.mean(starry[y:y + side, x:x + side]) < 0.5:
                found.append(((slice(y, y + side), slice(x, x + side)), ~starry[y:y + side, x:x + side]))
    return found


def without_plane(values, keep):
    v, u = np.mgrid[-1:1:values.shape[0] * 1j, -1:1:values.shape[1] * 1j]
    basis = np.stack([np.ones_like(u), u, v], axis=-1)
    return values - basis @ np.linalg.lstsq(basis[keep], values[keep], rcond=None)[0]


def noise_of(image, found, scale, side, variance=None):
    """Noise of means over squares of frame pixels, per frame pixel, its error, and that of single pixels over the stated."""
    n, wide, pulls = int(round(side / scale)), [], []
    for window, keep in found:
        rest = without_plane(image[window].astype(float), keep)
        if variance is not None:
            pulls.append(rest[keep] / np.sqrt(variance[window][keep]))
        m = rest.shape[0] // n
        cells = np.where(keep, rest, 0)[:m * n, :m * n].reshape(m, n, m, n).sum(axis=(1, 3))
        count = keep[:m * n, :m * n].reshape(m, n, m, n).sum(axis=(1, 3))
        full = count > 0.6 * n * n
        wide.append(cells[full] / np.sqrt(count[full]) / scale)
    wide = np.concatenate(wide)
    freedom = np.sqrt(1 - 3 / (BOX / side) ** 2)
    return spread(wide) / freedom, 1.17 / np.sqrt(len(wide)), spread(np.concatenate(pulls)) if pulls else None


def wide_noise(image, found, scale):
    """Of squares of side L the variance lacks a share c / L, as their rim looks outside: two sides tell it without."""
    (eight, _, _), (sixteen, error, _) = (noise_of(image, found, scale, side) for side in (8, 16))
    return np.sqrt(max(0, 2 * sixteen**2 - eight**2)), 2 * error


def kernel_variance(master, plane):
    """Of what spread a pixel's value over the plane, in frame pixels squared per axis. Drizzle: a square drop and the square
    of an output pixel. Bilinear: a triangle four pixels wide for red and blue; for green, half of the pixels are its own and
    half the means of four neighbours. Our own demosaicing is taken for bilinear."""
    if master.get("pixfrac") is None:
        return 0.25 if plane == 1 else 2 / 3
    return (master["pixfrac"]**2 + master["scale"]**2) / 12


def resolved_noise(planes, variances, keep, scale):
    """Noise per frame pixel of the difference of two planes, smoothed until each has been spread by a Gaussian of 5 frame
    pixels in all: demosaicing smooths too, and has less noise by that alone where it has less resolution. A Gaussian of 16
    takes out what is no noise of pixels: sky and how it was subtracted, flats, wings of stars; and a tenth of the noise."""
    rest = 0
    for sign, image, variance in zip((1, -1), planes, variances):
        sigma = np.sqrt(25 - variance) / scale
        weight = ndimage.gaussian_filter(keep.astype(np.float64), sigma)
        mean = ndimage.gaussian_filter(np.where(keep, image, 0).astype(np.float64), sigma)
        wide = np.maximum(ndimage.gaussian_filter(weight, 16 / scale), 1e-9)
        rest = rest + sign * (mean - weight * ndimage.gaussian_filter(mean, 16 / scale) / wide)
    # The squares of a Gaussian's weights are a Gaussian narrower by sqrt(2).
    squares = ndimage.gaussian_filter(keep.astype(np.float64), 5 / scale / np.sqrt(2)) / (4 * np.pi * 25 / scale**2)
    usable = weight > 0.6
    return spread(rest[usable] / np.sqrt(squares[usable])) / scale


def reduced(program, night, out, options):
    # Judged anew at every run.
    return json.loads(run(program, "reduce", night, "--out", out, "--json", "--quiet", "--overwrite", *options.split()))


def measured(night, reply):
    master = reply["masters"][0]
    scale = master.get("scale") or 1.0
    result = {"seconds": reply["seconds"], "pixfrac": master.get("pixfrac"), "scale": scale, "notes": reply["notes"]}
    with fits.open(master["path"]) as hdus:
        colours = [Colour(night, name, hdus, p, reply, scale) for p, name in enumerate(COLOURS)]
    found = boxes(colours)
    for c, name in zip(colours, COLOURS):
        noise, error, pull = noise_of(c.flat, found, scale, 4, c.variance)
        wide, _ = wide_noise(c.flat, found, scale)
        result[name] = {"fwhm": c.widths(), "bound": c.bound(), "noise": (noise / c.ideal, wide / c.ideal), "pull": pull,
                        "flux": c.fluxes(), "left": c.left_over()}
    for k, name in ((0, "red"), (2, "blue")):
        difference = colours[k].flat - colours[1].flat
        told = [noise_of(difference, found, scale, 4)[:2], wide_noise(difference, found, scale)]
        result[name]["colour"] = [noise / np.hypot(colours[k].ideal, colours[1].ideal) for noise, _ in told]
        result[name]["colour_error"] = told[1][1]
        pair = [kernel_variance(master, p) for p in (k, 1)]
        resolved = resolved_noise((colours[k].flat, colours[1].flat), pair, ~with_stars(colours), scale)
        result[name]["resolved"] = resolved / np.hypot(colours[k].ideal, colours[1].ideal)
    return result


def colour_noise_ratio(a, b, name, square):
    """Of b over a, at equal flux of the green stars: the unit of each is that of the flux it measured in its reference."""
    flux = b["green"]["flux"][0] / a["green"]["flux"][0]
    of = (lambda r: r[name]["colour"][0]) if square else (lambda r: r[name]["resolved"])
    return of(b) / of(a) / flux


def missed(bilinear, drizzled):
    failures = []

    def limit(what, value, bound):
        if not value <= bound:
            failures.append(f"{what}: {value:.4f}, limit {bound:.4f}")

    def beside_green(r, name):
        return r[name]["flux"][0] / r["green"]["flux"][0]

    for name in COLOURS:
        a, b = bilinear[name], drizzled[name]
        if b["bound"] <= 0.95 * a["fwhm"][0]:
            limit(f"FWHM of {name}", b["fwhm"][0] / a["fwhm"][0], 0.95)
        if name != "green":
            limit(f"colour noise of {name}", colour_noise_ratio(bilinear, drizzled, name, False), 1.02)
            mean_error = 1.25 * np.hypot(*(r["flux"][4] / np.sqrt(r["flux"][3]) for r in (a, b)))
            limit(f"flux of {name}", abs(beside_green(drizzled, name) / beside_green(bilinear, name) - 1), max(0.01, 3 * mean_error))
        limit(f"flux of {name} with magnitude", abs(b["flux"][1] - a["flux"][1]), 3 * np.hypot(a["flux"][2], b["flux"][2]))
        limit(f"left in {name}", b["left"][0], max(a["left"][0], 1.0))
        limit(f"VARIANCE of {name}", abs(b["pull"] - 1), 0.04)
    return failures


def show_ratios(results, name, other):
    a, b = results[other], results[name]
    widths = "  ".join(f"{c} {b[c]['fwhm'][0] / a[c]['fwhm'][0]:.3f}" for c in COLOURS)
    noises = "  ".join(f"{c} {colour_noise_ratio(a, b, c, True):.3f} {colour_noise_ratio(a, b, c, False):.3f}" for c in ("red", "blue"))
    print(f"  {name} over {other}, FWHM: {widths}; colour noise in 4 x 4 squares and at one resolution: {noises}", flush=True)


def show(seeing, route, r):
    print(f"seeing {seeing} arcsec, {route}: pixfrac {r['pixfrac']}, scale {r['scale']}, {r['seconds']:.1f} s; {r['notes']}")
    for name in COLOURS:
        c = r[name]
        colour = f"{c['colour'][0]:.3f} {c['colour'][1]:.3f} +- {c['colour_error']:.3f}" if "colour" in c else "-".center(20)
        width = f"{c['fwhm'][0]:.3f} +- {c['fwhm'][1]:.3f} ({c['fwhm'][2]}), {c['fwhm'][0] / c['bound']:.3f} of the bound"
        print(f"  {name:5}  fwhm {width}  colour {colour}  noise {c['noise'][0]:.3f} {c['noise'][1]:.3f}  stated {c['pull']:.3f}  flux {c['flux'][0]:.4f} slope {c['flux'][1]:+.4f} +- "
              f"{c['flux'][2]:.4f} ({c['flux'][3]}), scatter {c['flux'][4]:.4f}  left {c['left'][0]:.2f} ({c['left'][1]})", flush=True)


def run_all(o):
    failures = []
    for seeing in o.seeing:
        night = o.work / f"night{seeing}-{o.lights}"
        rehearse(o.program, night, seeing, o.lights, o.size)
        results = {}
        for route in o.routes:
            name, options = route.split("=", 1)
            results[name] = measured(night, reduced(o.program, night, o.work / f"{night.name}-{name}", options))
            show(seeing, name, results[name])
        if not o.no_libraries:
            results["bilinear"] = measured(night, reduce_night(night, o.work / f"{night.name}-bilinear.fits"))
            show(seeing, "bilinear", results["bilinear"])
        for other in ("demosaiced", "bilinear"):
            for name in results:
                if other in results and name not in ("demosaiced", "bilinear"):
                    show_ratios(results, name, other)
        if "drizzled" in results and "bilinear" in results:
            failures += [f"seeing {seeing}: {line}" for line in missed(results["bilinear"], results["drizzled"])]
    for line in failures:
        print("MISSED " + line)
    return 1 if failures and o.accept else 0


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("work", type=Path, nargs="?", help="a folder to keep; otherwise all goes")
    parser.add_argument("--seeing", nargs="+", type=float, default=[2.0, 2.9, 4.5])
    parser.add_argument("--lights", type=int, default=24)
    parser.add_argument("--size", default="1500x1000")
    parser.add_argument("--routes", nargs="+", default=["demosaiced=--drizzle no", "drizzled=", "fine=--scale 0.5"])
    parser.add_argument("--no-libraries", action="store_true")
    parser.add_argument("--accept", action="store_true")
    o = parser.parse_args()
    if o.accept and (o.no_libraries or not any(route.startswith("drizzled=") for route in o.routes)):
        parser.error("--accept holds the route `drizzled` against bilinear: name it, and leave --no-libraries out")
    if o.work is not None:
        o.work.mkdir(parents=True, exist_ok=True)
        return run_all(o)
    with tempfile.TemporaryDirectory() as folder:
        o.work = Path(folder)
        return run_all(o)


if __name__ == "__main__":
    sys.exit(main())

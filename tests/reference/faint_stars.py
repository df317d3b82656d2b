#!/usr/bin/python3
"""How faint a star two masters of one rehearsed night find: the ordinary mean, and the properly coadded one.

  faint_stars.py PROGRAM WORK [--size 2000x1500] [--seeds 2 3] [--accept]

PROGRAM is nightglass. In the folder WORK nights are rehearsed whose seeing runs from 2 to 5 px and whose air comes and goes, over
a field without nebula and with few stars, so that what remains between them is noise; they are reduced with `--sharp` and both kinds
of weights. Each master is then filtered with its own profile, stacked from its bright stars at their true places:

snr       flux of faint stars at their true places (slope on the true flux) over the scatter of the same filter where no star is,
          relative to the theoretical optimum sqrt(sum_j T_j^2 / sigma_j^2 integral P_j^2) (Zackay & Ofek 2017, ApJ 836, 187), which
          takes transparency, sky, profile and read noise from the truth of the night
gain      of the coadded master over the better of the two means, beside the gain that theory allows
white     power of the noise at fine over that at coarse scale: 1 for white noise
one       FWHM of faint stars (up to 5000 electrons) over that of bright ones: 1 where rejection does not follow the signal

With --accept: exit 1 where less than 95 % of the theoretical gain is reached, or `one` is off by more than 2 % and twice its error.
"""
import argparse
import json
import pathlib
import subprocess
import sys

try:
    import numpy as np
    import sep
    from astropy.io import fits
    from scipy.ndimage import map_coordinates, shift
    from scipy.spatial import cKDTree
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

from night_truth import Night, to_pixels

SCENARIO = """[target]
nebula_rayleighs = 0
cluster_stars = 0
field_stars_per_deg2 = 90
faintest_v_mag = 20
[camera]
dust_shadows = 0
[air]
fwhm_arcsec = 3.8
fwhm_scatter = 0.42
transparency_scatter = 0.12
"""
HALF = 20  # of a stamp; holds all that matters of a star of FWHM 5 px


def run(command):
    done = subprocess.run([str(c) for c in command], stdout=subprocess.PIPE, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(map(str, command))} ended with {done.returncode}")
    return done.stdout


def make(program, work, seed, size):
    night, out = work / f"night_{seed}", work / f"masters_{seed}"
    if not (night / "truth.json").exists():
        (work / "vary.toml").write_text(SCENARIO)
        run([program, "rehearse", "--out", night, "--night", "large", "--filters", "L", "--lights", 16, "--size", size, "--seed", seed,
             "--dark-flats", 0, "--scenario", work / "vary.toml", "--quiet"])
    replies = {}
    for aim in ("extended", "point"):
        command = [program, "reduce", night, "--out", out / aim, "--weights-for", aim, "--overwrite", "--json", "--quiet"]
        replies[aim] = json.loads(run(command + (["--sharp"] if aim == "extended" else [])))
    return night, replies


def moffat_square(light):
    """Integral of the squared profile, averaged over each pixel, as seen by a star in the middle of one."""
    k = 2 * np.sqrt(2 ** (1 / light["moffat_beta"]) - 1)
    a, b, turn = light["fwhm_major_px"] / k, light["fwhm_minor_px"] / k, np.radians(light["major_axis_deg"])
    n, fine = 30, 5
    at = (np.arange((2 * n + 1) * fine) - fine // 2) / fine - n
    x, y = np.meshgrid(at, at)
    p, q = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    picture = (1 + (p / a) ** 2 + (q / b) ** 2) ** -light["moffat_beta"] * (light["moffat_beta"] - 1) / (np.pi * a * b) / fine**2
    return np.sum(picture.reshape(2 * n + 1, fine, 2 * n + 1, fine).sum((1, 3)) ** 2)


class Master:
    def __init__(self, path, x, y, flux, alone, empty):
        image = np.ascontiguousarray(fits.getdata(path), dtype=np.float64)
        image -= sep.Background(image, mask=~np.isfinite(image), bw=128, bh=128).back()
        image = np.nan_to_num(image)
        self.variance = fits.getdata(path, "VARIANCE")
        self.image, self.x, self.y, self.flux = image, x, y, flux
        bright = alone[(flux[alone] > 1e4) & (flux[alone] < 1.2e5)]
        self.stamp, _ = self.stack(bright)
        self.response = 1.0
        faint = alone[(flux[alone] > 300) & (flux[alone] < 5000)]
        values = np.array([self.filtered(x[i], y[i]) for i in faint])
        blank = np.array([self.filtered(*p) for p in empty])
        self.scatter = np.std(blank[np.abs(blank - np.median(blank)) < 5 * 1.4826 * np.median(np.abs(blank - np.median(blank)))])
        centre = np.median(blank)
        self.response = np.sum((values - centre) * flux[faint]) / np.sum(flux[faint] ** 2)
        self.response_error = self.scatter / np.sqrt(np.sum(flux[faint] ** 2))
        self.snr = self.response / self.scatter
        self.stated = np.sqrt(np.mean([self.variance[int(py), int(px)] for px, py in empty]) / np.sum(self.stamp**2))
        self.one, self.one_error = self.compare_widths(faint, alone[(flux[alone] > 2.5e4) & (flux[alone] < 2e5)])
        self.fwhm = self.width(self.stamp)

    def cut(self, x, y):
        """Stamp with the star's centre in its middle pixel; the sky taken off."""
        ix, iy = int(round(x)), int(round(y))
        wide = self.image[iy - HALF - 6:iy + HALF + 7, ix - HALF - 6:ix + HALF + 7]
        moved = shift(wide, (iy - y, ix - x), order=5, mode="nearest")[6:-6, 6:-6]
        return moved - np.median(np.concatenate([moved[:3].ravel(), moved[-3:].ravel(), moved[:, :3].ravel(), moved[:, -3:].ravel()]))

    def stack(self, stars):
        """Mean of stars by their true flux, weighted for sky noise; unit flux."""
        total = sum(self.cut(self.x[i], self.y[i]) * self.flux[i] for i in stars) / np.sum(self.flux[stars] ** 2)
        return total / total.sum(), len(stars)

    def compare_widths(self, faint, bright):
        """FWHM of the faint over that of the bright, from how much light lies within narrow and wide Gaussian windows; its error by
        drawing the stars anew. How that light changes with the width is seen on the stacked stamp, made wider and narrower."""
        y, x = np.mgrid[-HALF:HALF + 1, -HALF:HALF + 1]
        windows = [np.exp(-(x**2 + y**2) / (2 * s**2)) for s in (1.3, 3.2)]

        def sums(stars):
            cuts = [self.cut(self.x[i], self.y[i]) for i in stars]
            return np.array([[np.sum(w * c) for w in windows] for c in cuts]) * self.flux[stars][:, None]

        def concentration(rows):
            narrow, wide = rows.sum(0)
            return np.log(narrow / wide)

        def zoomed(by):
            stamp = map_coordinates(self.stamp, [HALF + y / by, HALF + x / by], order=3)
            return concentration(np.array([[np.sum(w * stamp) for w in windows]]))

        slope = (zoomed(1.05) - zoomed(0.95)) / 0.1
        rows, reference = sums(faint), concentration(sums(bright))
        rng = np.random.default_rng(3)
        drawn = [concentration(rows[rng.integers(0, len(rows), len(rows))]) for _ in range(300)]
        return 1 + (concentration(rows) - reference) / slope, np.std(drawn) / abs(slope)

    @staticmethod
    def width(stamp):
        """FWHM by rings around the middle."""
        radii = np.linspace(0, 8, 161)
        angles = np.linspace(0, 2 * np.pi, 48, endpoint=False)
        rings = [map_coordinates(stamp, [HALF + r * np.sin(angles), HALF + r * np.cos(angles)], order=3).mean() for r in radii]
        return 2 * np.interp(-rings[0] / 2, -np.array(rings), radii)

    def filtered(self, x, y):
        """Flux of a star at a place by the image's own profile."""
        ix, iy = int(round(x)), int(round(y))
        local = shift(self.stamp, (y - iy, x - ix), order=3)
        return np.sum(local * self.image[iy - HALF:iy + HALF + 1, ix - HALF:ix + HALF + 1]) / np.sum(self.stamp**2)

    def whiteness(self, blanks):
        """Power at wave lengths below 3 px over that above 8 px, from pieces of bare sky."""
        power = 0
        for px, py in blanks:
            piece = self.image[int(py) - 16:int(py) + 16, int(px) - 16:int(px) + 16]
            power = power + np.abs(np.fft.fft2((piece - piece.mean()) * np.outer(np.hanning(32), np.hanning(32)))) ** 2
        k = np.hypot(*np.meshgrid(np.fft.fftfreq(32), np.fft.fftfreq(32)))
        return [power[(k > 1 / 3) & (k < 0.5)].mean() / power[(k > 0.07) & (k < 1 / 8)].mean(),
                power[(k > 0.2) & (k < 1 / 3)].mean() / power[(k > 0.07) & (k < 1 / 8)].mean()]


def judge(folder, replies):
    night = Night(folder)
    light = night.light_named(replies["extended"]["reference"])
    lights = night.used(replies["extended"])
    x, y = to_pixels(light, night.xi, night.eta)
    with fits.open(replies["extended"]["masters"][0]["path"]) as file:
        coverage = file["COVERAGE"].data
        shape = coverage.shape
    inside = (x > 60) & (y > 60) & (x < shape[1] - 61) & (y < shape[0] - 61)
    tree = cKDTree(np.column_stack([x, y]))
    near = tree.query_ball_point(np.column_stack([x, y]), 45)
    alone = np.array([i for i in np.flatnonzero(inside)
                      if not any(j != i and night.flux[j] > 0.02 * night.flux[i] * max(1, (np.hypot(x[i] - x[j], y[i] - y[j]) / 20) ** 4)
                                 for j in near[i])])
    rng = np.random.default_rng(5)
    empty = rng.uniform([60, 60], [shape[1] - 61, shape[0] - 61], (120000, 2))
    reach = 26 + 14 * np.log10(np.maximum(night.flux / 1e3, 1)) ** 1.5  # stars leave the wings of a Moffat profile far out
    free = np.ones(len(empty), bool)
    for i, places in enumerate(cKDTree(empty).query_ball_point(np.column_stack([x, y]), reach)):
        free[places] = False
    full = coverage[empty[:, 1].astype(int), empty[:, 0].astype(int)] > 0.97 * coverage.max()
    empty = empty[free & full][:14000]
    m = np.linalg.inv(np.array(light["from_sky"] + [1.0]).reshape(3, 3))
    w = m[2, 0] * empty[:, 0] + m[2, 1] * empty[:, 1] + m[2, 2]
    xi = (m[0, 0] * empty[:, 0] + m[0, 1] * empty[:, 1] + m[0, 2]) / w
    eta = (m[1, 0] * empty[:, 0] + m[1, 1] * empty[:, 1] + m[1, 2]) / w
    # normalised_variance: of a pixel on the scale of clear air. A frame's information on a star: integral P^2 / that.
    information = sum(moffat_square(f) / night.normalised_variance(f, xi, eta, 0.0) for f in lights)
    ideal = 1 / np.sqrt(np.mean(1 / information))
    result = {"stars": len(alone), "empty": len(empty), "lights": len(lights),
              "fwhm_px": [round(f["fwhm_px"], 2) for f in lights]}
    paths = {"extended": replies["extended"]["masters"][0]["path"], "point": replies["point"]["masters"][0]["path"],
             "sharp": replies["extended"]["masters"][0]["sharp"]["path"]}
    for name, path in paths.items():
        master = Master(path, x, y, night.flux, alone, empty)
        result[name] = {"snr": master.snr / ideal, "snr_error": np.hypot(1 / np.sqrt(2 * len(empty)), master.response_error / master.response),
                        "fwhm_px": master.fwhm, "one": master.one, "one_error": master.one_error, "scatter_over_stated": master.scatter / master.stated,
                        "white": master.whiteness(empty[:1500])}
    best = max(result["extended"]["snr"], result["point"]["snr"])
    result["gain"] = result["sharp"]["snr"] / best
    result["gain_allowed"] = 1 / best
    result["share"] = (result["gain"] - 1) / (result["gain_allowed"] - 1)
    return result


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("work", type=pathlib.Path)
    parser.add_argument("--size", default="2400x1800")
    parser.add_argument("--seeds", type=int, nargs="+", default=[2])
    parser.add_argument("--accept", action="store_true")
    o = parser.parse_args()
    o.work.mkdir(parents=True, exist_ok=True)
    missed = 0
    for seed in o.seeds:
        result = judge(*make(o.program, o.work, seed, o.size))
        print(json.dumps(result, indent=1, default=float))
        missed += result["gain"] < 0.95 * result["gain_allowed"] or abs(result["sharp"]["one"] - 1) > 0.02 + 2 * result["sharp"]["one_error"]
    return 1 if o.accept and missed else 0


if __name__ == "__main__":
    sys.exit(main())

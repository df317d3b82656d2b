#!/usr/bin/python3
"""How faint a star two masters of one rehearsed night find: the ordinary mean, and the properly coadded one.

  faint_stars.py PROGRAM WORK [--size 2400x1800] [--seeds 2 3 4 5] [--accept]

PROGRAM is nightglass. In the folder WORK nights are rehearsed whose seeing runs from 2 to 5 px and whose air comes and goes, over
a field without nebula and with few stars. Each is reduced twice with `--sharp` and both kinds of weights: as it is, and with a lone
faint star put into every patch of PATCH pixels of all its frames. What both share, noise and real stars, falls out of the difference
of the two masters: it shows what became of the faint stars, free of noise. The night as it is shows the noise.

Every master is filtered with the profile P that faint stars have in it over the power N of its noise, the best linear filter. For a
star of flux 1 that yields SNR = response / scatter: the mean of the filtered difference at the true places per unit of flux, over
the standard deviation of the filtered master on bare sky. All masters hold the same noise, so that it hardly matters to their ratios.

Theory, frame by frame from the truth of the night (profile P_j through square pixels, transparency T_j, sky, vignetting, dark, read
noise; v_j = variance of a pixel over (T_j x vignetting)^2), place by place, without interpolation:
  optimal   SNR^2 = sum_j integral P_j^2 / v_j   (Zackay & Ofek 2017, ApJ 836, 187, eq. 9 and 188, eq. 7: from memory)
  mean      SNR^2 = integral (sum_j a_j P_j)^2 / sum_j a_j^2 v_j,   a_j: the weights that the reply of `reduce` gives, sum 1
over the frames that the coadded master used (0 for one that the mean left out); the squared noise is averaged over the bare sky.

of_theory  SNR of a master over what theory allows it
gain       SNR of the coadded master over that of the mean which theory thinks best; gain_allowed: the same by theory
           gain_over_default: over the mean with the usual weights, be it the best or not
share      (gain - 1) / (gain_allowed - 1); it passes 1 where the mean does worse than its theory
kept       response of stars BRIGHTER times as bright, relative to the faint: 1 where nothing of a star is taken for an outlier
white      power of the noise at fine over that at coarse scale: 1 for white noise
one        FWHM of the faint stars over that of bright ones: 1 where rejection does not follow the signal

Errors: blocks of BLOCK pixels drawn anew. With --accept: exit 1 where the share of all nights is below 0.95 by more than twice its
error, that error is above 0.03, or `kept` or `one` of the coadded master is off by more than 2 % and twice its error.
"""
import argparse
import json
import pathlib
import shutil
import subprocess
import sys

try:
    import cv2
    import numpy as np
    from astropy.io import fits
    from scipy import fft
    from scipy.ndimage import gaussian_filter, map_coordinates, shift, spline_filter, uniform_filter
    from scipy.spatial import cKDTree
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

from night_truth import Night, matrix, to_pixels

SCENARIO = """[target]
nebula_rayleighs = 0
cluster_stars = 0
field_stars_per_deg2 = 25
faintest_v_mag = 20
[camera]
dust_shadows = 0
[air]
fwhm_arcsec = 3.8
fwhm_scatter = 0.42
transparency_scatter = 0.12
"""
BLOCK = 100  # pixels: side of the blocks that errors are drawn from
FINE = 5  # samples a pixel of the true profiles
HALF = 20  # of a stamp; holds all that matters of a star of FWHM 5 px
PATCH = 45  # pixels; one star is put into each
FAINT_E, BRIGHTER = 400.0, 10  # electrons in clear air; every fourth star is brighter by that factor
EDGE = 60  # pixels without stars along the border


def run(command):
    done = subprocess.run([str(c) for c in command], stdout=subprocess.PIPE, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(map(str, command))} ended with {done.returncode}")
    return done.stdout


def reduce(program, night, out):
    replies = {}
    for aim in ("extended", "point"):
        command = [program, "reduce", night, "--out", out / aim, "--weights-for", aim, "--overwrite", "--json", "--quiet"]
        replies[aim] = json.loads(run(command + (["--sharp"] if aim == "extended" else [])))
    return replies


def rehearse(program, work, seed, size):
    folder = work / f"night_{seed}"
    if not (folder / "truth.json").exists():
        (work / "vary.toml").write_text(SCENARIO)
        run([program, "rehearse", "--out", folder, "--night", "large", "--filters", "L", "--lights", 16, "--size", size, "--seed", seed,
             "--dark-flats", 0, "--scenario", work / "vary.toml", "--quiet"])
    return folder


class PutIn:
    """The stars put into a night: where on the sky, and how bright."""

    def __init__(self, night, light, seed):
        rng = np.random.default_rng(seed)
        w, h = night.camera["width"], night.camera["height"]
        x, y = np.meshgrid(np.arange(EDGE + PATCH / 2, w - EDGE - PATCH / 2, PATCH), np.arange(EDGE + PATCH / 2, h - EDGE - PATCH / 2, PATCH))
        self.x, self.y = (v.ravel() + rng.uniform(-4, 4, v.size) for v in (x, y))  # pixels of `light`
        self.xi, self.eta = to_sky(light, self.x, self.y)
        real = cKDTree(np.column_stack(to_pixels(light, night.xi, night.eta)))
        self.lone = np.isinf(real.query(np.column_stack([self.x, self.y]), distance_upper_bound=60)[0])
        self.flux = FAINT_E * np.where(np.arange(self.x.size) % 4 == 3, BRIGHTER, 1)

    def between(self, sky):
        """Bare sky without the stars put in."""
        sky = sky.astype(np.uint8)
        for x, y, flux in zip(self.x, self.y, self.flux):
            cv2.circle(sky, (int(round(x)), int(round(y))), 14 if flux == FAINT_E else 22, 0, -1)
        return sky > 0

    def light_on(self, night, light):
        """Electrons that they leave in each pixel of a light."""
        w, h = night.camera["width"], night.camera["height"]
        electrons = np.zeros((h, w))
        fine = spline_filter(moffat_on_sky(light))
        across = np.arange(-15, 16)
        for x, y, flux in zip(*to_pixels(light, self.xi, self.eta), self.flux):
            ix, iy = int(round(x)), int(round(y))
            if not (16 <= ix < w - 16 and 16 <= iy < h - 16):
                continue
            dx, dy = np.meshgrid(across + ix - x, across + iy - y)
            middle = len(fine) // 2
            electrons[iy - 15:iy + 16, ix - 15:ix + 16] += flux * map_coordinates(fine, [middle + FINE * dy, middle + FINE * dx], prefilter=False)
        y, x = np.mgrid[:h, :w]
        return electrons * night.responses(x, y) * night.transparency(light)


def with_stars(night, put_in, folder):
    """A copy of the night with the stars in its lights, rounded up or down at random so that the mean is kept."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(night.folder, folder, copy_function=lambda a, b: pathlib.Path(b).hardlink_to(a))
    rng = np.random.default_rng(7)
    for light in night.lights:
        path = folder / light["path"]
        with fits.open(path) as file:
            values = file[0].data + put_in.light_on(night, light) / night.camera["gain_e_adu"]
            header = file[0].header
        full = 2 ** night.camera["bits"] - 1
        values = np.minimum(np.floor(values + rng.uniform(0, 1, values.shape)), full).astype(np.uint16)
        path.unlink()  # only this name of it: the night as it is stays
        fits.PrimaryHDU(values, header).writeto(path, checksum=True)
    return folder


def moffat_on_sky(light):
    """A frame's true profile, seen through its square pixels, as light per square pixel, FINE samples a pixel along both axes."""
    k = 2 * np.sqrt(2 ** (1 / light["moffat_beta"]) - 1)
    a, b, turn = light["fwhm_major_px"] / k, light["fwhm_minor_px"] / k, np.radians(light["major_axis_deg"])
    at = np.arange(-30 * FINE, 30 * FINE + 1) / FINE
    x, y = np.meshgrid(at, at)
    p, q = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    density = (1 + (p / a) ** 2 + (q / b) ** 2) ** -light["moffat_beta"] * (light["moffat_beta"] - 1) / (np.pi * a * b)
    return uniform_filter(density, FINE)


def to_sky(light, x, y):
    m = np.linalg.inv(matrix(light))
    w = m[2, 0] * x + m[2, 1] * y + m[2, 2]
    return (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / w, (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / w


def lanczos_power(wave):
    """Power of white noise after interpolation at places anywhere between pixels: sum over m of L(k + 2 pi m)^2."""
    x = np.linspace(-3, 3, 601)
    kernel = np.sinc(x) * np.sinc(x / 3)
    return sum((np.cos(np.multiply.outer(wave + 2 * np.pi * m, x)) @ kernel / kernel.sum()) ** 2 for m in range(-3, 4))


def level(image, sky):
    """The sky beneath the stars: a cubic surface, and on it the mean of what bare sky there is around each place."""
    y, x = (np.linspace(-1, 1, n) for n in image.shape)
    weight = sky & np.isfinite(image)
    rows, columns = np.nonzero(weight)
    some = slice(None, None, max(1, len(rows) // 200000))
    terms = [(i, j) for i in range(4) for j in range(4 - i)]
    design = np.column_stack([x[columns[some]] ** i * y[rows[some]] ** j for i, j in terms])
    found = np.linalg.lstsq(design, image[rows[some], columns[some]], rcond=None)[0]
    surface = sum(c * np.outer(y**j, x**i) for c, (i, j) in zip(found, terms))
    rest, share = (gaussian_filter(v, 30.0) for v in (np.where(weight, image - surface, 0), weight.astype(float)))
    return surface + rest / np.maximum(share, 1e-3)


def cut(image, x, y):
    """Stamp with the star's centre in its middle pixel; the sky taken off."""
    ix, iy = int(round(x)), int(round(y))
    wide = image[iy - HALF - 6:iy + HALF + 7, ix - HALF - 6:ix + HALF + 7]
    moved = shift(wide, (iy - y, ix - x), order=5, mode="nearest")[6:-6, 6:-6]
    return moved - np.median(np.concatenate([moved[:3].ravel(), moved[-3:].ravel(), moved[:, :3].ravel(), moved[:, -3:].ravel()]))


class Master:
    """One master of the night as it is, and of the night with stars put in; both filtered alike."""

    def __init__(self, path, path_with_stars, put_in, sky):
        image = np.ascontiguousarray(fits.getdata(path), dtype=np.float64)
        difference = fits.getdata(path_with_stars) - image
        # The stars raise what the frames take for sky by a little, and all places alike.
        difference = np.nan_to_num(difference - level(difference, put_in.between(sky)))
        self.image = np.nan_to_num(image - level(image, sky))
        faint = np.flatnonzero(put_in.lone & (put_in.flux == FAINT_E))
        self.faint_cuts = [cut(difference, put_in.x[i], put_in.y[i]) for i in faint]
        self.stamp = np.sum(self.faint_cuts, axis=0)
        self.stamp /= self.stamp.sum()
        self.power = self.noise_power(sky)
        self.filtered, filtered_difference = self.filter(self.image), self.filter(difference)
        self.answers = map_coordinates(filtered_difference, [put_in.y, put_in.x], order=5)  # flux of each star put in

    def noise_power(self, sky, side=32):
        """Power of the noise per wave number, on a grid of side x side, from pieces of bare sky; 1 on average."""
        window = np.outer(np.hanning(side), np.hanning(side))
        power, pieces = 0, 0
        for top in range(0, sky.shape[0] - side, side // 2):
            for left in range(0, sky.shape[1] - side, side // 2):
                if sky[top:top + side, left:left + side].all():
                    piece = self.image[top:top + side, left:left + side]
                    power = power + np.abs(np.fft.fft2((piece - piece.mean()) * window)) ** 2
                    pieces += 1
        if pieces < 200:
            sys.exit(f"{pieces} pieces of bare sky are too few to know the noise by")
        power[:2, :2] = power[:2, -1:] = power[-1:, :2] = power[2, 2]  # the window and the mean taken off reach there
        power[-1, -1] = power[2, 2]
        return power / power.mean()

    def filter(self, image):
        """Flux of a star around every pixel. The noise power goes in as what resampling makes of white noise (math/lanczos.h, averaged
        over the places between pixels), and a white rest: roughness in it would carry the light of bright stars far out."""
        wave = np.fft.fftfreq(len(self.power)) * 2 * np.pi
        made = np.outer(lanczos_power(wave), lanczos_power(wave)).ravel()
        white, resampled = np.linalg.lstsq(np.column_stack([np.ones_like(made), made]), self.power.ravel(), rcond=None)[0]
        rows, columns = shape = tuple(fft.next_fast_len(n) for n in image.shape)
        power = white + resampled * np.outer(lanczos_power(np.fft.fftfreq(rows) * 2 * np.pi), lanczos_power(np.fft.rfftfreq(columns) * 2 * np.pi))
        profile = np.zeros(shape)
        profile[:2 * HALF + 1, :2 * HALF + 1] = self.stamp
        profile = fft.rfft2(np.roll(profile, (-HALF, -HALF), (0, 1)))
        matched = np.conj(profile) / power
        unit = fft.irfft2(profile * matched, shape)[0, 0]
        return fft.irfft2(fft.rfft2(image, shape) * matched, shape)[:image.shape[0], :image.shape[1]] / unit

    def compare_widths(self, bright):
        """FWHM of the faint over that of bright stars (x, y, flux), from how much light lies within narrow and wide Gaussian windows; its
        error by drawing the stars anew. How that light changes with the width is seen on the stacked stamp, made wider and narrower."""
        y, x = np.mgrid[-HALF:HALF + 1, -HALF:HALF + 1]
        windows = [np.exp(-(x**2 + y**2) / (2 * s**2)) for s in (1.3, 3.2)]

        def sums(cuts):
            return np.array([[np.sum(w * c) for w in windows] for c in cuts])

        def concentration(rows):
            narrow, wide = rows.sum(0)
            return np.log(narrow / wide)

        def zoomed(by):
            return concentration(sums([map_coordinates(self.stamp, [HALF + y / by, HALF + x / by], order=3)]))

        slope = (zoomed(1.05) - zoomed(0.95)) / 0.1
        faint, rows = sums(self.faint_cuts), sums([cut(self.image, *at) * flux for *at, flux in bright])
        rng = np.random.default_rng(3)

        def drawn(of):
            return of[rng.integers(0, len(of), len(of))]

        several = [concentration(drawn(faint)) - concentration(drawn(rows)) for _ in range(300)]
        return 1 + (concentration(faint) - concentration(rows)) / slope, np.std(several) / abs(slope)

    def width(self):
        """FWHM by rings around the middle."""
        radii = np.linspace(0, 8, 161)
        angles = np.linspace(0, 2 * np.pi, 48, endpoint=False)
        rings = [map_coordinates(self.stamp, [HALF + r * np.sin(angles), HALF + r * np.cos(angles)], order=3).mean() for r in radii]
        return 2 * np.interp(-rings[0] / 2, -np.array(rings), radii)

    def whiteness(self):
        """Power at wave lengths below 3 px, and from 3 to 5 px, over that above 8 px."""
        k = np.hypot(*np.meshgrid(np.fft.fftfreq(len(self.power)), np.fft.fftfreq(len(self.power))))
        coarse = self.power[(k > 0.07) & (k < 1 / 8)].mean()
        return [self.power[(k > low) & (k < high)].mean() / coarse for low, high in ((1 / 3, 0.5), (0.2, 1 / 3))]


def lone_stars(x, y, flux, shape):
    inside = (x > EDGE) & (y > EDGE) & (x < shape[1] - EDGE - 1) & (y < shape[0] - EDGE - 1)
    near = cKDTree(np.column_stack([x, y])).query_ball_point(np.column_stack([x, y]), 45)
    return np.array([i for i in np.flatnonzero(inside)
                     if not any(j != i and flux[j] > 0.02 * flux[i] * max(1, (np.hypot(x[i] - x[j], y[i] - y[j]) / 20) ** 4)
                                for j in near[i])])


def full_depth(coverage):
    """Where all frames reach, single outliers aside, with room for the filter."""
    coverage = cv2.medianBlur(np.ascontiguousarray(coverage, np.float32), 5)
    full = np.zeros(coverage.shape, np.uint8)
    full[EDGE:-EDGE, EDGE:-EDGE] = coverage[EDGE:-EDGE, EDGE:-EDGE] > 0.999 * coverage.max()
    full = cv2.morphologyEx(full, cv2.MORPH_CLOSE, np.ones((25, 25), np.uint8))  # cores of bright stars, trails
    return cv2.erode(full, np.ones((41, 41), np.uint8)) > 0


def bare_sky(x, y, flux, full):
    """Where no star's light matters; stars leave the wings of a Moffat profile far out."""
    sky = full.astype(np.uint8)
    for sx, sy, reach in zip(x, y, 18 + 10 * np.log10(np.maximum(flux / 1e3, 1)) ** 1.5):
        if -200 < sx < sky.shape[1] + 200 and -200 < sy < sky.shape[0] + 200:
            cv2.circle(sky, (int(round(sx)), int(round(sy))), int(reach), 0, -1)
    return sky > 0


def theory(night, lights, weights, xi, eta):
    """Mean squared noise of a star's flux at the places: (optimal, mean with each set of weights), electrons^2."""
    variances = [night.normalised_variance(f, xi, eta, 0.0) for f in lights]
    profiles = np.array([moffat_on_sky(f) for f in lights])
    optimal = 1 / sum(np.sum(p**2) / FINE**2 / v for p, v in zip(profiles, variances))
    means = {aim: np.mean(sum(b**2 * v for b, v in zip(a, variances)) / (np.sum(np.tensordot(a, profiles, 1) ** 2) / FINE**2))
             for aim, a in weights.items()}
    return np.mean(optimal), means


def weights_of(reply, lights):
    found = {pathlib.Path(f["path"]).name: f["weight"] for f in reply["frames"] if f["kind"] == "light" and f["accepted"]}
    a = np.array([found.get(pathlib.Path(f["path"]).name, 0.0) for f in lights])
    return a / a.sum()


class Sums:
    """What the share is made of, block by block of the picture, so that its error shows by drawing the blocks anew."""

    def __init__(self, masters, sky, put_in, full):
        across = -(-sky.shape[1] // BLOCK)
        block = (np.arange(sky.shape[0]) // BLOCK)[:, None] * across + np.arange(sky.shape[1]) // BLOCK
        here = block[sky]
        self.blocks = block.max() + 1
        blank = {name: m.filtered[sky] for name, m in masters.items()}
        kept = np.ones(len(here), bool)
        for values in blank.values():  # the same places for all
            off = np.abs(values - np.median(values))
            kept &= off < 5.5 * 1.4826 * np.median(off)
        self.left_out = 1 - kept.mean()
        self.pixels = np.bincount(here[kept], minlength=self.blocks)
        self.squares = {n: np.bincount(here[kept], (v[kept] - v[kept].mean()) ** 2, self.blocks) for n, v in blank.items()}
        iy, ix = np.round(put_in.y).astype(int), np.round(put_in.x).astype(int)
        usable = put_in.lone & full[iy, ix]
        self.stars, self.flux, self.answers = {}, {}, {}
        for kind, chosen in (("faint", usable & (put_in.flux == FAINT_E)), ("brighter", usable & (put_in.flux != FAINT_E))):
            at = block[iy[chosen], ix[chosen]]
            self.stars[kind] = int(chosen.sum())
            self.flux[kind] = np.bincount(at, put_in.flux[chosen], self.blocks)
            self.answers[kind] = {n: np.bincount(at, m.answers[chosen], self.blocks) for n, m in masters.items()}

    def response(self, name, kind, times):
        """`times`: how often each block counts."""
        return np.sum(times * self.answers[kind][name]) / np.sum(times * self.flux[kind])

    def snr(self, name, times):
        return self.response(name, "faint", times) / np.sqrt(np.sum(times * self.squares[name]) / np.sum(times * self.pixels))


def judge(night, replies, replies_with_stars, put_in):
    light = night.light_named(replies["extended"]["reference"])
    lights = night.used(replies["extended"])
    for aim in replies:
        if weights_of(replies[aim], lights).shape != weights_of(replies_with_stars[aim], lights).shape or \
                [f["accepted"] for f in replies[aim]["frames"]] != [f["accepted"] for f in replies_with_stars[aim]["frames"]]:
            sys.exit("the stars that were put in changed the choice of frames")
    x, y = to_pixels(light, night.xi, night.eta)
    with fits.open(replies["extended"]["masters"][0]["path"]) as file:
        full = full_depth(file["COVERAGE"].data)
    sky = bare_sky(x, y, night.flux, full)
    alone = lone_stars(x, y, night.flux, full.shape)
    bright = alone[(night.flux[alone] > 2.5e4) & (night.flux[alone] < 2e5)]

    def paths(of):
        master = of["extended"]["masters"][0]
        return {"extended": master["path"], "point": of["point"]["masters"][0]["path"], "sharp": master["sharp"]["path"]}

    masters = {name: Master(path, paths(replies_with_stars)[name], put_in, sky) for name, path in paths(replies).items()}
    sums = Sums(masters, sky, put_in, full)
    rng = np.random.default_rng(5)
    some = rng.permutation(int(sky.sum()))[:6000]
    rows, columns = (axis[some].astype(float) for axis in np.nonzero(sky))
    weights = {aim: weights_of(replies[aim], lights) for aim in ("extended", "point")}
    optimal, means = theory(night, lights, weights, *to_sky(light, columns, rows))
    best = min(means, key=means.get)
    allowed = np.sqrt(means[best] / optimal)
    once = np.ones(sums.blocks)
    drawn = [rng.multinomial(sums.blocks, once / sums.blocks) for _ in range(300)]

    def measured(of):
        return of(once), np.std([of(times) for times in drawn])

    result = {"stars": sums.stars, "bright_stars": len(bright), "sky_share": float(sky.mean()), "sky_left_out": sums.left_out,
              "lights": len(lights), "fwhm_px": [round(f["fwhm_px"], 2) for f in lights], "best_mean": best}
    for name, master in masters.items():
        expected = 1 / np.sqrt(means.get(name, optimal))
        of_theory, error = measured(lambda times: sums.snr(name, times) / expected)
        kept, kept_error = measured(lambda times: sums.response(name, "brighter", times) / sums.response(name, "faint", times))
        one, one_error = master.compare_widths(np.column_stack([x, y, night.flux])[bright])
        result[name] = {"of_theory": of_theory, "of_theory_error": error, "response": sums.response(name, "faint", once),
                        "kept": kept, "kept_error": kept_error, "one": one, "one_error": one_error, "fwhm_px": master.width(),
                        "white": master.whiteness()}
    result["gain"], result["gain_error"] = measured(lambda times: sums.snr("sharp", times) / sums.snr(best, times))
    result["gain_allowed"] = allowed
    result["gain_over_default"], result["gain_over_default_error"] = measured(lambda times: sums.snr("sharp", times) / sums.snr("extended", times))
    result["share"], result["share_error"] = (result["gain"] - 1) / (allowed - 1), result["gain_error"] / (allowed - 1)
    return result


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("work", type=pathlib.Path)
    parser.add_argument("--size", default="2400x1800")
    parser.add_argument("--seeds", type=int, nargs="+", default=[2, 3, 4, 5])
    parser.add_argument("--accept", action="store_true")
    o = parser.parse_args()
    o.work.mkdir(parents=True, exist_ok=True)
    results, follows = [], False
    for seed in o.seeds:
        night = Night(rehearse(o.program, o.work, seed, o.size))
        replies = reduce(o.program, night.folder, o.work / f"masters_{seed}")
        put_in = PutIn(night, night.light_named(replies["extended"]["reference"]), seed)
        copy = with_stars(night, put_in, o.work / f"night_{seed}_with_stars")
        result = judge(night, replies, reduce(o.program, copy, o.work / f"masters_{seed}_with_stars"), put_in)
        print(json.dumps(result, indent=1, default=float))
        results.append(result)
        for law in ("kept", "one"):
            follows |= abs(result["sharp"][law] - 1) > 0.02 + 2 * result["sharp"][f"{law}_error"]
    weight = np.array([1 / r["share_error"] ** 2 for r in results])
    share, error = float(np.sum(weight * [r["share"] for r in results]) / weight.sum()), float(weight.sum() ** -0.5)
    print(json.dumps({"nights": len(results), "share": share, "share_error": error}))
    return 1 if o.accept and (share + 2 * error < 0.95 or error > 0.03 or follows) else 0


if __name__ == "__main__":
    sys.exit(main())

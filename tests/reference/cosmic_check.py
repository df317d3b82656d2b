#!/usr/bin/python3
"""Cosmic rays in real frames: what `reduce` leaves of them, beside what L.A.Cosmic finds in each frame alone.

  cosmic_check.py NIGHTGLASS FRAMES_FOLDER

Rays of known charge are drawn into copies of real frames: tracks of 1 to 12 pixels, each pixel by the length of track in
it, 8 to 300 times the noise of the sky along a pixel, a third of them across stars. L.A.Cosmic (van Dokkum 2001, PASP
113, 1420; astroscrappy 1.1.0, its usual thresholds: 4.5 sigma, 0.3, contrast 5) looks at every frame by itself, as one must
who has no others. `reduce` has the other frames of the set, fewer and softer than one would like. Per brightness of the ray:

  found     share of rays whose brightest pixel is marked: by L.A.Cosmic in the frame; by `reduce` in REJECTED within a pixel
            of the place (a count more than in the master of the untouched frames)
  left      light of the rays beside stars in the master, against what it would have been without rejection (over stars the
            star itself changes when a frame is left out there: seeing differs)
  cores     share of the brightest pixels of bright stars that are marked in untouched frames: they are no rays

Asked: `reduce` finds, of rays of 20 sigma and more, no smaller a share than L.A.Cosmic (beside two standard errors), leaves at
most 2 % of their light (alike), and marks no more cores of stars. Exit 0 so, 1 not, 77 cannot run here.
"""
import json
import pathlib
import subprocess
import sys
import tempfile
import warnings

try:
    import astroscrappy
    import numpy as np
    import sep
    from astropy.io import fits
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

RAYS_PER_FRAME = 150
RANGES = ((8, 20), (20, 60), (60, 300))  # of the brightest pixel, in noise of the sky
SETS = {
    "solved_with_tables": {"files": "*.fits.fz", "keep": lambda h: h["FILTER"] == "rp", "every": 1, "full": 60000.0},
    "one_field_all_night": {"files": "*.FITS.gz", "keep": lambda h: True, "every": 12, "full": 4095.0},
}


def picture(hdus):
    return next(h for h in hdus if h.is_image and h.data is not None and h.name != "BPM")


def track(rng):
    """Pixels of a ray around its start and the length of track in each."""
    length, angle = 1 + min(rng.exponential(2.5), 11), rng.uniform(0, 2 * np.pi)
    start = rng.uniform(-0.5, 0.5, 2)
    along = (np.arange(0, length, 0.02) + 0.01)[:, None] * [np.cos(angle), np.sin(angle)] + start
    pixels, counts = np.unique(np.rint(along).astype(int), axis=0, return_counts=True)
    return pixels, 0.02 * counts


def noise_of(image):
    """Of single pixels of the sky. Clipped deviations: whole numbers make medians coarse."""
    steps = np.diff(image.astype(np.float64), axis=1)
    kept = steps[np.isfinite(steps)]
    for _ in range(20):
        kept = kept[np.abs(kept) < 3.5 * np.std(kept)]
    return np.std(kept) / np.sqrt(2)


def draw_rays(image, stars, full, rng):
    """The image with rays, and of each: pixels, light, the brightest pixel, its height in noise."""
    noise, drawn, rays = noise_of(image), image.astype(np.float64), []
    height, width = image.shape
    for number in range(RAYS_PER_FRAME):
        pixels, share = track(rng)
        at = rng.uniform((16, 16), (width - 17, height - 17))
        if number % 3 == 0 and len(stars):
            at = stars[rng.integers(len(stars))] + rng.uniform(-2, 2, 2)
        pixels = pixels + np.rint(at).astype(int)
        if (pixels < 14).any() or (pixels >= (width - 14, height - 14)).any():
            continue
        x, y = pixels.T
        light = noise * np.exp(rng.uniform(np.log(RANGES[0][0]), np.log(RANGES[-1][1]))) * share / share.max()
        light = np.minimum(light, np.maximum(0, full - drawn[y, x]))
        drawn[y, x] += light
        top = np.argmax(light)
        rays.append({"x": x, "y": y, "light": light, "top": pixels[top], "height": light[top] / noise,
                     "star": number % 3 == 0})
    return drawn.astype(image.dtype) if image.dtype.kind == "f" else np.rint(drawn).astype(image.dtype), rays


def by_laplacian(image, bad, full):
    """L.A.Cosmic's mask. Level and noise of the sky are taken from the frame: its noise model then holds in any unit."""
    level = np.nanmedian(image)
    clean = np.ascontiguousarray(image - level, dtype=np.float32)
    mask, _ = astroscrappy.detect_cosmics(clean, inmask=bad, sigclip=4.5, sigfrac=0.3, objlim=5.0, gain=1.0,
                                          readnoise=noise_of(image), satlevel=full - level)
    return mask


def bright_stars(image):
    clean = np.ascontiguousarray(image, dtype=np.float32)
    clean = np.where(np.abs(clean) < 1e6, clean, np.nanmedian(clean))
    background = sep.Background(clean)
    found = sep.extract(clean - background.back(), 30, err=background.globalrms, minarea=6)
    found = found[(found["flag"] == 0) & (found["a"] > 0.6)]
    return np.stack([found["xpeak"], found["ypeak"]], axis=1)


def reduce(program, folder, out):
    done = subprocess.run([program, "reduce", str(folder), "--out", str(out), "--no-solution", "--json", "--quiet"],
                          capture_output=True, text=True)
    if done.returncode != 0:
        raise SystemExit(f"{folder.name}: {done.stderr.strip()}")
    reply = json.loads(done.stdout)
    with fits.open(reply["masters"][0]["path"]) as hdus:
        planes = {name: np.asarray(hdus[name].data, dtype=np.float64) for name in ("REJECTED", "COVERAGE")}
        planes["light"] = np.asarray(hdus[0].data, dtype=np.float64)
    frames = {pathlib.Path(f["path"]).name: f for f in reply["frames"] if f["accepted"] and f["transform"]}
    return planes, frames


def around(plane, x, y, reach):
    return plane[max(0, y - reach):y + reach + 1, max(0, x - reach):x + reach + 1]


def in_master(frame, points):
    a, b, c, d, e, f = frame["transform"][:6]
    x, y = np.asarray(points, dtype=float).T
    return np.rint(np.stack([a * x + b * y + c, d * x + e * y + f], axis=1)).astype(int)


def look_at(program, folder, name, spec, work):
    """Rows of findings, and what is told."""
    rng = np.random.default_rng(20)
    clean_folder, drawn_folder = work / "clean", work / "drawn"
    clean_folder.mkdir()
    drawn_folder.mkdir()
    rays, marked, cores, wrong = {}, {}, 0, 0
    paths = [p for p in sorted((folder / name).glob(spec["files"])) if spec["keep"](picture(fits.open(p)).header)]
    star_cores = {}
    for path in paths[::spec["every"]]:
        with fits.open(path) as hdus:
            image, header = picture(hdus).data, picture(hdus).header.copy()
            bad = np.asarray(hdus["BPM"].data) != 0 if "BPM" in hdus else np.zeros(image.shape, bool)
            image = np.where(bad, np.nanmedian(image), image).astype(image.dtype)
        plain = path.name.split(".")[0] + ".fits"
        stars = bright_stars(image)
        drawn, rays[plain] = draw_rays(image, stars, spec["full"], rng)
        for key in ("ZSCALE", "ZZERO", "BSCALE", "BZERO"):
            header.remove(key, ignore_missing=True)
        for to, data in ((clean_folder, image), (drawn_folder, drawn)):
            fits.PrimaryHDU(data, header).writeto(to / plain, output_verify="silentfix")
        marked[plain] = by_laplacian(drawn, bad, spec["full"])
        mask = by_laplacian(image, bad, spec["full"])
        cores, wrong = cores + len(stars), wrong + np.count_nonzero(mask[stars[:, 1], stars[:, 0]])
        star_cores[plain] = stars
    before, _ = reduce(program, clean_folder, work / "out_clean")
    after, frames = reduce(program, drawn_folder, work / "out_drawn")
    more = after["REJECTED"] - before["REJECTED"]
    change = after["light"] - before["light"]
    change -= np.nanmedian(change)
    inside = before["COVERAGE"] > 0.9 * before["COVERAGE"].max()

    found = {r: [[], [], []] for r in RANGES}
    left = {r: [] for r in RANGES}
    total = sum(f["weight"] for f in frames.values())
    for plain, frame in frames.items():
        for ray in rays[plain]:
            x, y = in_master(frame, [ray["top"]])[0]
            key = next((r for r in RANGES if r[0] <= ray["height"] < r[1]), None)
            if key is None or not (8 <= x < change.shape[1] - 8 and 8 <= y < change.shape[0] - 8) or not inside[y, x]:
                continue
            found[key][0].append(around(more, x, y, 1).max() >= 1)
            found[key][2].append(ray["star"])
            found[key][1].append(bool(marked[plain][ray["top"][1], ray["top"][0]]))
            touched = np.zeros(change.shape, bool)
            for px, py in in_master(frame, np.stack([ray["x"], ray["y"]], axis=1)):
                touched[py - 3:py + 4, px - 3:px + 4] = True
            if not ray["star"]:
                left[key].append((np.nansum(change[touched]), ray["light"].sum() * frame["weight"] / total))
    seen = np.concatenate([in_master(frames[p], star_cores[p]) for p in frames])
    seen = seen[(seen >= 4).all(1) & (seen < np.array(change.shape[::-1]) - 4).all(1)]
    ours_wrong = before["REJECTED"][seen[:, 1], seen[:, 0]].sum() / len(frames) / len(seen)

    findings = []
    print(f"{name}: {len(frames)} frames, noise {noise_of(image):.1f}")
    for key in RANGES:
        mine, theirs = np.mean(found[key][0]), np.mean(found[key][1])
        n = len(found[key][0])
        error = np.sqrt((mine * (1 - mine) + theirs * (1 - theirs)) / n)
        still, whole = np.array(left[key]).T
        rest = still.sum() / whole.sum()
        rest_error = np.sqrt(np.sum((still - rest * whole) ** 2)) / whole.sum()
        on = np.array(found[key][2])
        shares = [f"{np.mean(np.array(who)[where]):.3f}" for where in (on, ~on) for who in found[key][:2]]
        print(f"  {key[0]} to {key[1]} sigma, {n} rays: found {mine:.3f}, L.A.Cosmic {theirs:.3f} (over stars {shares[0]}, "
              f"{shares[1]}; elsewhere {shares[2]}, {shares[3]}); light left {rest:.3f} +- {rest_error:.3f}")
        if key[0] >= 20:
            if mine < theirs - 2 * error:
                findings.append(f"{name}: of rays of {key[0]} to {key[1]} sigma fewer are found than by L.A.Cosmic")
            if rest > 0.02 + 2 * rest_error:
                findings.append(f"{name}: rays of {key[0]} to {key[1]} sigma leave {rest:.3f} of their light")
    print(f"  cores of {cores} bright stars marked: {ours_wrong:.4f}, L.A.Cosmic {wrong / cores:.4f}")
    if ours_wrong > wrong / cores + 2 * np.sqrt(max(wrong, 1)) / cores:
        findings.append(f"{name}: more cores of stars are rejected than L.A.Cosmic marks")
    return findings


def main():
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    folder = pathlib.Path(sys.argv[2])
    if not folder.is_dir():
        print("SKIP: the real frames are not here")
        return 77
    findings = []
    for name, spec in SETS.items():
        with tempfile.TemporaryDirectory() as work:
            findings += look_at(sys.argv[1], folder, name, spec, pathlib.Path(work))
    for finding in findings:
        print(finding)
    return 1 if findings else 0


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    sys.exit(main())

#!/usr/bin/python3
"""Trails of known light, drawn into the lights of a rehearsed night, and what is left of them in the master.

  trail_campaign.py PROGRAM [--night FOLDER] [--size 1600x1100] [--rounds 1]

Each light but the reference, whose grid both masters must share, gets one straight trail: any direction, a Gaussian cross section of sigma 0.9 to 2.2 px, a peak of 1 to 40 sigma of
the sky's noise, evenly in its logarithm, with its own photon noise. The night is reduced with and without them. In the
difference of the two masters sky, nebula, stars and most of the noise cancel: what remains along a trail is its light, and
where coverage is less, pixels were lost. Fails (exit 1) when more than 1 % of all trails' light is left, beyond twice the
figure's error, when more than 0.5 % of the pixels that no trail touches (beyond five of its sigmas) were lost, or when what
is left is brighter than half of the master's noise anywhere along a whole trail. Exit 77: libraries missing.
"""
import argparse
import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

try:
    import numpy as np
    from astropy.io import fits
    from scipy import ndimage

    from rehearsed import rehearse
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

REACH = 5.0        # sigmas: where a trail is painted, and what counts as touched by it
FAR = (20.0, 40.0)  # pixels from the axis: the sky beside
LEFT, LOST, VISIBLE = 0.01, 0.005, 0.5


def draw_trail(rng, width, height, noise_e):
    """A line through a point of the inner half of the frame."""
    angle = rng.uniform(0, np.pi)
    x, y = rng.uniform(0.25, 0.75) * width, rng.uniform(0.25, 0.75) * height
    nx, ny = np.cos(angle), np.sin(angle)
    return {"nx": nx, "ny": ny, "d": nx * x + ny * y, "sigma": rng.uniform(0.9, 2.2),
            "peak_e": noise_e * np.exp(rng.uniform(np.log(1), np.log(40)))}


def add_trail(rng, source, target, trail, gain):
    with fits.open(source) as file:
        data = file[0].data.astype(np.float64)
        header = file[0].header
        y, x = np.indices(data.shape, sparse=True)
        across = trail["nx"] * x + trail["ny"] * y - trail["d"]
        near = np.abs(across) < REACH * trail["sigma"]
        light = trail["peak_e"] * np.exp(-0.5 * (across[near] / trail["sigma"]) ** 2)
        full = data.max()  # what a full pixel reads stays what it reads
        data[near] = np.minimum(np.round(data[near] + rng.poisson(light) / gain), full)
        for card in ("CHECKSUM", "DATASUM"):
            header.remove(card, ignore_missing=True)
        fits.PrimaryHDU(data.astype(np.uint16), header).writeto(target)


def reduce(program, night, out):
    done = subprocess.run([program, "reduce", str(night), "--out", str(out), "--json", "--quiet"], capture_output=True, text=True)
    if done.returncode != 0:
        raise SystemExit(done.stdout + done.stderr)
    reply = json.loads(done.stdout)
    with fits.open(reply["masters"][0]["path"]) as file:
        planes = {"image": file[0].data.astype(np.float64), "coverage": file["COVERAGE"].data.astype(np.float64),
                  "variance": file["VARIANCE"].data.astype(np.float64)}
    frames = {Path(f["path"]).name: f for f in reply["frames"] if f["kind"] == "light" and f["accepted"]}
    return planes, frames, Path(reply["reference"]).name


def across_in_master(trail, transform, shape):
    """Distance of the master's pixels from a trail's axis, in its pixels (the scales are the same)."""
    a, b, c, d, e, f = transform
    inverse = np.linalg.inv(np.array([[a, b, c], [d, e, f], [0, 0, 1]]))
    line = np.array([trail["nx"], trail["ny"], -trail["d"]]) @ inverse
    line /= np.hypot(line[0], line[1])
    y, x = np.indices(shape, sparse=True)
    return line[0] * x + line[1] * y + line[2]


def relative_scale(image, other, variance):
    """Of one master to the other, whose frame of reference for brightness may be another: from the pixels of stars."""
    a, b = image - np.nanmedian(image), other - np.nanmedian(other)
    bright = b > 100 * np.sqrt(variance)
    return float(np.sum(a[bright] * b[bright]) / np.sum(b[bright] ** 2))


def without_stars(values):
    """A star that moved by a thousandth of a pixel is no light of a trail: what stands out of the scatter is left out."""
    values = values[np.isfinite(values)]
    middle = np.median(values)
    scatter = 1.4826 * np.median(np.abs(values - middle))
    return values[np.abs(values - middle) < 4 * scatter]


def light_left(difference, across, sigma):
    """Of the cross section: its sum over the trail per pixel of length, and the error of that."""
    sky = without_stars(difference[(np.abs(across) > FAR[0]) & (np.abs(across) < FAR[1])])
    on = without_stars(difference[np.abs(across) < REACH * sigma])
    width = 2 * REACH * sigma
    error = np.hypot(on.std() / np.sqrt(on.size), sky.std() / np.sqrt(sky.size)) * width
    return (on.mean() - sky.mean()) * width, error


def one_round(program, night, work, clean, seed, seen):
    rng = np.random.default_rng(seed)
    planes, _, reference = clean
    rough = work / f"trails-{seed}"
    (rough / "light").mkdir(parents=True)
    for folder in ("dark", "flat", "bias", "dark-flat"):
        (rough / folder).mkdir()
        for path in (night / folder).glob("*.fits"):
            (rough / folder / path.name).symlink_to(path.resolve())
    lights = sorted((night / "light").glob("*.fits"))
    trails = {}
    for path in lights:
        if path.name == reference:
            (rough / "light" / path.name).symlink_to(path.resolve())
            continue
        header = fits.getheader(path)
        noise_e = float(np.sqrt(np.nanmedian(planes["variance"]) * len(lights)))
        trails[path.name] = draw_trail(rng, header["NAXIS1"], header["NAXIS2"], noise_e)
        add_trail(rng, path, rough / "light" / path.name, trails[path.name], header["EGAIN"])
    drawn, drawn_frames, drawn_reference = reduce(program, rough, work / f"masters-{seed}")
    shutil.rmtree(rough)
    if drawn_reference != reference:
        raise SystemExit(f"{drawn_reference} became the reference in place of {reference}: the masters cannot be compared")

    names = [n for n in trails if n in drawn_frames]
    difference = drawn["image"] - relative_scale(drawn["image"], planes["image"], planes["variance"]) * planes["image"]
    difference[~np.isfinite(difference)] = np.nan
    axes = {n: across_in_master(trails[n], drawn_frames[n]["transform"], difference.shape) for n in names}
    touched = np.zeros(difference.shape, bool)
    for n in names:
        touched |= np.abs(axes[n]) < REACH * trails[n]["sigma"]
    stars = ndimage.binary_dilation(planes["image"] > np.nanmedian(planes["image"]) + 30 * np.sqrt(planes["variance"]), iterations=3)
    difference[stars] = np.nan
    left = error2 = total = 0.0
    for n in names:
        trail = trails[n]
        alone = np.where(sum((np.abs(axes[o]) < FAR[1]).astype(int) for o in names if o != n) == 0, difference, np.nan)
        found, error = light_left(alone, axes[n], trail["sigma"])
        full = trail["peak_e"] * trail["sigma"] * np.sqrt(2 * np.pi) / len(lights)
        noise = np.sqrt(np.nanmedian(planes["variance"]))
        mean_sigma = found / (2 * trail["sigma"]) / noise
        print(f"  {n}: peak {trail['peak_e'] / noise / np.sqrt(len(lights)):5.1f} sigma of a frame, width {trail['sigma']:.1f} px: "
              f"{found / full:+.3f} +- {error / full:.3f} left, {mean_sigma:+.2f} sigma of the master")
        left, error2, total = left + found, error2 + error**2, total + full
        seen.append(mean_sigma - 2 * error / (2 * trail["sigma"]) / noise)
    exposure = np.nanmax(planes["coverage"]) / len(lights)
    lost = np.clip((planes["coverage"] - drawn["coverage"]) / exposure, 0, None)
    good = ~touched
    return left, error2, total, float(lost[good].sum()), float(good.sum() * len(lights))



def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("--night", type=Path)
    parser.add_argument("--size", default="1600x1100")
    parser.add_argument("--rounds", type=int, default=1)
    o = parser.parse_args()
    seen = []  # of each trail, by how much of the master's noise its place is surely brighter
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        night = o.night or work / "night"
        rehearse(o.program, night, o.size, catalogue="none")
        clean = reduce(o.program, night, work / "clean")
        sums = np.sum([one_round(o.program, night, work, clean, seed, seen) for seed in range(1, o.rounds + 1)], axis=0)
    left, error2, total, lost, good = sums
    share, error = left / total, np.sqrt(error2) / total
    print(f"of all trails' light {share:+.4f} +- {error:.4f} is left; {lost / good:.5f} of the good pixels were lost; "
          f"the most visible is {max(seen):.2f} sigma of the master at least")
    failed = [text for bad, text in ((abs(share) > LEFT + 2 * error, "light left"), (error > LEFT, "the figure proves nothing"),
                                     (lost / good > LOST, "good pixels lost"),
                                     (max(seen) > VISIBLE, "a trail can be seen")) if bad]
    for text in failed:
        print("FAILED: " + text)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

"""How much deeper and how round a master is beside one of its frames, measured with sep. For real_sets.py.

Stars are measured alike in both, whatever their noise: half-flux radius within a fixed circle, elongation from second
moments under a fixed Gaussian window (isophotal sizes would grow with depth alone). Noise is taken in blocks of 2 x 2 px
by second differences over 4 blocks: resampling shares noise among next neighbours, so single pixels would flatter it.
Faint stars are no noise but look like it in a deep master: where there are frames enough, noise is taken from the
difference of two masters made of the first and the last half of the frames, in which the sky is the same. With two frames
the master less one of them is half their difference: the sky cancels in it, and its noise is the master's, where both
count about the same.
"""
import cv2
import numpy as np
import sep
from astropy.io import fits
from scipy.spatial import cKDTree

CIRCLE_PX = 6.0
WINDOW_SIGMA_PX = 2.0


def plane_of(path):
    """Green or the only plane of a master, NaN where fewer than nine tenths of the largest coverage."""
    with fits.open(path) as file:
        image = np.asarray(file[0].data, dtype=np.float32)
        coverage = np.asarray(file["COVERAGE"].data, dtype=np.float32)
    image, coverage = (a[1] if a.ndim == 3 else a for a in (image, coverage))
    return np.ascontiguousarray(np.where(coverage >= 0.9 * coverage.max(), image, np.nan))


def clipped_deviation(values):
    """Standard deviation within 3.5 of itself: integer pixels make medians coarse."""
    values = values[np.isfinite(values)]
    deviation = np.std(values)
    for _ in range(20):
        deviation = np.std(values[np.abs(values - np.median(values)) < 3.5 * deviation])
    return deviation


def block_noise(flat, covered):
    h, w = flat.shape[0] // 2 * 2, flat.shape[1] // 2 * 2
    means = np.where(covered, np.nan, flat)[:h, :w].reshape(h // 2, 2, w // 2, 2).mean((1, 3))
    return clipped_deviation((means[:, :-8] + means[:, 8:] - 2 * means[:, 4:-4]) / np.sqrt(6))


def elongation(flat, x, y):
    """Ratio of the axes from second moments under a Gaussian window, for one star."""
    x0, y0 = int(round(x)) - 7, int(round(y)) - 7
    stamp = flat[max(y0, 0):y0 + 15, max(x0, 0):x0 + 15]
    if stamp.shape != (15, 15):
        return np.nan
    yy, xx = np.mgrid[y0:y0 + 15, x0:x0 + 15]
    dx, dy = xx - x, yy - y
    weight = stamp * np.exp(-(dx ** 2 + dy ** 2) / (2 * WINDOW_SIGMA_PX ** 2))
    total = weight.sum()
    xx2, yy2, xy = (weight * dx * dx).sum() / total, (weight * dy * dy).sum() / total, (weight * dx * dy).sum() / total
    half, spread = (xx2 + yy2) / 2, np.hypot((xx2 - yy2) / 2, xy)
    return np.sqrt((half + spread) / (half - spread)) if half > spread else np.nan


def measured(path):
    image = plane_of(path)
    bad = ~np.isfinite(image)
    image[bad] = np.nanmedian(image)
    sky = sep.Background(image, mask=bad, bw=32, bh=32)
    flat = image - sky.back()
    found, segments = sep.extract(flat, 2.5, err=sky.globalrms, mask=bad, minarea=4, segmentation_map=True)
    found = found[(found["flag"] == 0) & (found["peak"] < 0.5 * found["peak"].max())]
    x, y, _ = sep.winpos(flat, found["x"], found["y"], np.full(len(found), WINDOW_SIGMA_PX))
    flux, _, _ = sep.sum_circle(flat, x, y, CIRCLE_PX)
    radius, _ = sep.flux_radius(flat, x, y, np.full(len(x), CIRCLE_PX), 0.5, normflux=flux)
    covered = (segments > 0) | bad
    return {"places": np.stack([x, y], axis=1), "flux": flux, "radius": radius, "noise": block_noise(flat, covered),
            "flat": flat, "covered": covered, "elongation": np.array([elongation(flat, *p) for p in zip(x, y)])}


def affine(places, there, guess):
    """Map of `places` onto `there` by least squares, and the pairs; `guess` holds about where they fall."""
    ones = np.column_stack([places, np.ones(len(places))])
    for radius in (4.0, 1.5, 0.7):
        distance, nearest = cKDTree(there).query(guess)
        keep = distance < radius
        fit, *_ = np.linalg.lstsq(ones[keep], there[nearest[keep]], rcond=None)
        guess = ones @ fit
    return fit, np.nonzero(keep)[0], nearest[keep]


def common_shift(places, there):
    """The shift that most pairs of stars vote for."""
    shifts = (there[None, :150] - places[:150, None]).reshape(-1, 2)
    votes = [len(q) for q in cKDTree(shifts).query_ball_point(shifts, 1.0)]
    return shifts[int(np.argmax(votes))]


def noise_of_half(first, last):
    """Noise in one of two masters of equally many frames of one field, from their difference; units of `first`."""
    a, b = measured(first), measured(last)
    by_flux_a, by_flux_b = (m["places"][np.argsort(-m["flux"])] for m in (a, b))
    fit, i, j = affine(b["places"], a["places"], b["places"] + common_shift(by_flux_b, by_flux_a))
    scale = np.median(a["flux"][j] / b["flux"][i])
    shape = a["flat"].shape[::-1]
    there = cv2.warpAffine(b["flat"], fit.T, shape, flags=cv2.INTER_LANCZOS4)
    outside = cv2.warpAffine(b["covered"].astype(np.float32), fit.T, shape, borderValue=1) > 0.01
    return block_noise(a["flat"] - scale * there, a["covered"] | outside) / np.sqrt(2)


def noise_of_two(master, singles, transforms):
    """Of one of two frames and of their master: noise in blocks, and that of the master's single pixels over its VARIANCE."""
    deep = measured(master)
    shape, images, covered = deep["flat"].shape[::-1], [], deep["covered"]
    for single, transform in zip(singles, transforms):
        one, there = measured(single), np.reshape(transform, (2, 3))
        images.append(cv2.warpAffine(one["flat"], there, shape, flags=cv2.INTER_LANCZOS4))
        covered = covered | (cv2.warpAffine(one["covered"].astype(np.float32), there, shape, borderValue=1) > 0.01)
    with fits.open(master) as file:
        variance = np.asarray(file["VARIANCE"].data, dtype=np.float32)
    variance = variance[1] if variance.ndim == 3 else variance
    rests = [deep["flat"] - image for image in images]
    of_master = max(block_noise(rest, covered) for rest in rests)  # a master of one frame alone differs not at all from it
    pulls = [clipped_deviation((rest / np.sqrt(variance))[~covered]) for rest in rests]
    return block_noise(images[0] - images[1], covered) / np.sqrt(2), of_master, np.sqrt(np.prod(pulls))


def compare(master, single, transform, noise=None, noise_single=None):
    """`transform` takes pixels of the single frame to those of the master; `noise`: of the master, where it is known better,
    and of the single frame. None when fewer than 5 stars are common."""
    deep, one = measured(master), measured(single)
    a, b, c, d, e, f = transform
    distance, nearest = cKDTree(one["places"] @ np.array([[a, d], [b, e]]) + [c, f]).query(deep["places"])
    strong = one["flux"][nearest] > 100 * one["noise"]  # of a block: shapes are then good to a few hundredths
    i = np.nonzero((distance < 1.5) & strong)[0]
    j = nearest[i]
    if len(i) < 5:
        return None
    ratio = np.median(deep["flux"][i] / one["flux"][j])
    return {"stars": len(i), "deeper": ratio * (noise_single or one["noise"]) / (noise or deep["noise"]),
            "elongation": np.nanmedian(deep["elongation"][i]), "elongation_single": np.nanmedian(one["elongation"][j]),
            "radius": np.median(deep["radius"][i]), "radius_single": np.median(one["radius"][j])}

"""The pixels of a master against truth: noise of the sky, outliers left, brightness of the nebula (see check_night.py)."""
from dataclasses import dataclass
from typing import Any

import numpy as np
import sep
from night_truth import matrix, to_pixels
from scipy import ndimage

BOX = 24  # pixels of a side, where noise is measured
OUTLIER_SIGMA = 6.0


@dataclass
class Place:
    night: Any
    light: dict  # whose grid the master has
    lights: list  # that went into it
    image: np.ndarray
    bad: np.ndarray
    stars: np.ndarray  # true stars on the master's scale
    nebula: np.ndarray  # true nebula alike; zero where the night has no image of it
    k: float  # master's unit per true electron
    variance: Any = None  # what the master says of its own pixels


def spread(values):
    return 1.4826 * np.median(np.abs(values - np.median(values)))


def without_surface(box, keep):
    """The box less the second-order surface through its kept pixels; clipped once, as faint stars may be left."""
    v, u = np.mgrid[-1:1:box.shape[0] * 1j, -1:1:box.shape[1] * 1j]
    basis = np.stack([np.ones_like(u), u, v, u * u, u * v, v * v], axis=-1)
    for _ in range(2):
        rest = box - basis @ np.linalg.lstsq(basis[keep], box[keep], rcond=None)[0]
        keep = keep & (np.abs(rest) < 4 * spread(rest[keep]))
    return rest, keep


def sky_noise(place):
    """Around each sample of the nebula, whose light is known there and belongs into the ideal."""
    night, pixels, blocks, pulls = place.night, [], [], []
    x, y = to_pixels(place.light, night.sample_xi, night.sample_eta)
    ideal = night.ideal_noise(place.lights, night.sample_xi, night.sample_eta, night.sample_e) * place.k
    h, w = place.image.shape
    for cx, cy, sigma in zip(x, y, ideal):
        x0, y0 = int(cx) - BOX // 2, int(cy) - BOX // 2
        if x0 < 0 or y0 < 0 or x0 + BOX > w or y0 + BOX > h or not np.isfinite(sigma):
            continue
        window = (slice(y0, y0 + BOX), slice(x0, x0 + BOX))
        # Light of stars is taken off where it is a little and left out where it is much.
        keep = ~place.bad[window] & (place.stars[window] < 0.5 * sigma)
        if np.count_nonzero(keep) < BOX * BOX // 3:
            continue
        rest, keep = without_surface((place.image - place.stars - place.nebula)[window].astype(float), keep)
        pixels.append(rest[keep] / sigma)
        if place.variance is not None:
            pulls.append(rest[keep] / np.sqrt(place.variance[window][keep]))
        n = keep.reshape(BOX // 4, 4, BOX // 4, 4).sum(axis=(1, 3))
        total = np.where(keep, rest, 0).reshape(BOX // 4, 4, BOX // 4, 4).sum(axis=(1, 3))
        full = n >= 12
        blocks.append(total[full] / np.sqrt(n[full]) / sigma)
    one, four = np.concatenate(pixels), np.concatenate(blocks)
    # A surface of six terms fitted to the box takes 6 / kept of its variance, at every scale up to its own.
    kept = np.mean([len(p) for p in pixels])
    cells = np.mean([len(b) for b in blocks])
    lost = np.sqrt(1 - 6 / kept)
    stated = {"noise_over_stated": float(np.std(np.concatenate(pulls)) / lost)} if pulls else {}
    return {
        "noise_boxes": len(pixels), "noise_ideal": float(np.median(ideal[np.isfinite(ideal)])),
        "noise_ratio_pixel": float(np.std(one) / lost),
        "noise_ratio_4x4": float(np.std(four) / np.sqrt(1 - 6 / cells)),
        "noise_ratio_4x4_error": float(1 / np.sqrt(2 * len(four))), **stated,
    }


def outliers(place):
    """Single pixels and clumps beyond 6 sigma of the noise around them, away from true stars and from the rim."""
    rest = place.image - place.stars - place.nebula
    typical = place.k * np.median(place.night.ideal_noise(place.lights, np.zeros(1), np.zeros(1), np.zeros(1)))
    sigma = sep.Background(rest, mask=place.bad | (place.stars > typical), bw=32, bh=32).rms()
    # Where stars stand, the true profile differs from the painted one by more than the noise.
    starry = ndimage.binary_dilation(place.stars > 0.3 * sigma, iterations=2)
    ys, xs = np.mgrid[0:place.image.shape[0]:1, 0:place.image.shape[1]:1]
    rim = place.bad | ~covered(place, xs, ys)
    mask = starry | rim
    local = sep.Background(rest.astype(np.float32), mask=mask, bw=16, bh=16)
    far = np.abs(rest - local.back()) > OUTLIER_SIGMA * sigma
    far &= ~mask
    _, clumps = ndimage.label(far, structure=np.ones((3, 3)))
    area = np.count_nonzero(~mask) / 1e6
    where = np.argwhere(far)[:8, ::-1].tolist()
    return {"outlier_area_mpix": area, "outliers": int(np.count_nonzero(far)), "outlier_clumps": clumps,
            "outliers_per_mpix": float(np.count_nonzero(far) / area), "outliers_at_x_y": where}


def covered(place, x, y):
    """Pixels of the master that every light reaches, but for a rim of 8 pixels."""
    inside = np.ones(x.shape, dtype=bool)
    w, h = place.night.camera["width"], place.night.camera["height"]
    frame = matrix(place.light)
    for light in place.lights:
        m = matrix(light) @ np.linalg.inv(frame)
        scale = m[2, 0] * x + m[2, 1] * y + m[2, 2]
        u = (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / scale
        v = (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / scale
        inside &= (u > 8) & (v > 8) & (u < w - 9) & (v < h - 9)
    return inside


def nebula(place):
    """Slope of measured on true brightness; the sky's own level and its second-order shape are fitted beside it."""
    night, rows, values = place.night, [], []
    x, y = to_pixels(place.light, night.sample_xi, night.sample_eta)
    rest = np.ascontiguousarray(place.image - place.stars, dtype=np.float32)
    h, w = rest.shape
    r = night.sample_radius
    inside = (x > 8) & (y > 8) & (x < w - 9) & (y < h - 9) & (night.sample_e > 0)
    total, _, _ = sep.sum_circle(rest, x[inside], y[inside], r, subpix=0)
    mean = total / (np.pi * r * r)
    u, v = x[inside] / w - 0.5, y[inside] / h - 0.5
    basis = np.column_stack([night.sample_e[inside] * place.k, np.ones_like(u), u, v, u * u, u * v, v * v])
    keep = np.ones(len(mean), dtype=bool)
    for _ in range(5):
        fit, *_ = np.linalg.lstsq(basis[keep], mean[keep], rcond=None)
        left = mean - basis @ fit
        keep = np.abs(left) < 4 * spread(left[keep])
    covariance = np.linalg.inv(basis[keep].T @ basis[keep]) * np.var(left[keep])
    return {"nebula_samples": int(np.count_nonzero(keep)), "nebula_ratio": float(fit[0]),
            "nebula_ratio_error": float(np.sqrt(covariance[0, 0]))}

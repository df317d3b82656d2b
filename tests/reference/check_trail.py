"""What is left of satellite trails in a master, and what their removal cost (see check_night.py).

The cross section of the trail in the master, averaged along it away from stars, is integrated and divided by what a plain
mean of the same lights would hold of it.
"""
import numpy as np
from night_truth import matrix
from scipy import ndimage

REACH = 5.0  # in sigma of the trail: where it is painted
STEP_ALONG_PX = 1.0
FAR_PX = 26.0  # beyond which nothing of the trail is, nor of what is masked for it


def section(place, light, trail, coverage):
    """Offsets across the trail in pixels, usual light and mean coverage there, over the length that lies in the master."""
    ends = np.array([[trail["x0"], trail["y0"], 1.0], [trail["x1"], trail["y1"], 1.0]]).T
    there = matrix(place.light) @ np.linalg.inv(matrix(light)) @ ends
    (xa, xb), (ya, yb) = there[:2] / there[2]
    length = np.hypot(xb - xa, yb - ya)
    ux, uy = (xb - xa) / length, (yb - ya) / length
    along = np.arange(0, length, STEP_ALONG_PX)
    sigma = trail["sigma_px"]
    across = np.arange(-FAR_PX - 20, FAR_PX + 20.25, 0.5)
    x = xa + along[:, None] * ux - across[None, :] * uy
    y = ya + along[:, None] * uy + across[None, :] * ux
    h, w = place.image.shape
    rest = place.image - place.stars - place.nebula
    starry = ndimage.binary_dilation(place.stars > 0.1 * np.sqrt(np.median(place.variance)), iterations=2) | place.bad
    inside = (x > 30) & (y > 30) & (x < w - 31) & (y < h - 31)
    clear = inside & (ndimage.map_coordinates(starry.astype(np.float32), [y, x], order=0, cval=1) < 0.5)
    light_there = ndimage.map_coordinates(rest, [y, x], order=1)
    cover = ndimage.map_coordinates(coverage, [y, x], order=0)
    # Each cut across is taken off its own sky, so that the nebula's slow changes do not matter.
    outside = np.abs(across) > FAR_PX
    enough = (outside & clear).sum(axis=1) > 10
    level = np.where(outside & clear, light_there, 0).sum(axis=1) / np.maximum((outside & clear).sum(axis=1), 1)
    keep = clear & enough[:, None]
    # Medians along the trail: a star that its model does not quite take away must not pass for light of the trail.
    middle = np.nanmedian(np.where(keep, light_there - level[:, None], np.nan), axis=0)
    return across, middle, np.where(keep, cover, 0).sum(axis=0) / np.maximum(keep.sum(axis=0), 1)


def trails(place, coverage):
    left, error, lost = [], [], []
    for light in place.lights:
        for trail in light["satellites"]:
            across, mean, cover = section(place, light, trail, coverage)
            on = np.abs(across) < REACH * trail["sigma_px"]
            total = trail["peak_e"] * trail["sigma_px"] * np.sqrt(2 * np.pi) * place.k / len(place.lights)
            scatter = np.std(mean[np.abs(across) > FAR_PX])
            left.append(mean[on].sum() * 0.5 / total)
            error.append(scatter * 0.5 * np.sqrt(np.count_nonzero(on)) / total)
            usual = np.median(cover[np.abs(across) > FAR_PX])
            # Width, in pixels, that lost this one light.
            lost.append(float(((usual - cover) / usual * len(place.lights)).clip(0).sum() * 0.5))
    if not left:
        return {}
    return {"trail_left": float(np.mean(left)), "trail_left_error": float(np.hypot.reduce(error) / len(error)),
            "trail_width_lost_px": float(np.mean(lost))}

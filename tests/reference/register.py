"""Registration for the reference pipeline: triangles of bright stars, votes, then least squares with every star.

Sizes of triangles are free of shift, turn and mirror; the shape is the two ratios of their sides (the idea of Valdes
et al. 1995, PASP 107:1119). A frame turned by a meridian flip needs nothing of its own.
"""
from itertools import combinations

import numpy as np
from scipy.spatial import cKDTree


def triangles(xy, neighbours=6):
    """Shapes and corners (ordered by the side opposite) of triangles of each star with its nearest ones."""
    tree = cKDTree(xy)
    _, near = tree.query(xy, k=min(neighbours + 1, len(xy)))
    corners = {tuple(sorted((row[0], *pair))) for row in near for pair in combinations(row[1:], 2)}
    corners = np.array(sorted(corners))
    points = xy[corners]
    sides = np.stack([np.linalg.norm(points[:, (i + 1) % 3] - points[:, (i + 2) % 3], axis=1) for i in range(3)], axis=1)
    order = np.argsort(sides, axis=1)
    sides = np.take_along_axis(sides, order, axis=1)
    corners = np.take_along_axis(corners, order, axis=1)
    shape = sides[:, :2] / sides[:, 2:]
    return shape, corners


def affine(source, target):
    ones = np.column_stack([source, np.ones(len(source))])
    return np.linalg.lstsq(ones, target, rcond=None)[0].T


def apply(matrix, xy):
    return xy @ matrix[:, :2].T + matrix[:, 2]


def similarity(source, target):
    """Shift, turn and scale through two or more points."""
    z, w = source @ [1, 1j], target @ [1, 1j]
    zc, wc = z - z.mean(), w - w.mean()
    a = np.vdot(zc, wc) / np.vdot(zc, zc)
    b = w.mean() - a * z.mean()
    return np.array([[a.real, -a.imag, b.real], [a.imag, a.real, b.imag]])


def register(frame_xy, reference_xy, bright=150):
    """2 x 3 matrix from the frame's pixels to the reference's, its residuals' rms per axis and the stars matched.

    Both lists are sorted by brightness. None where the fields do not match.
    """
    shape_f, corners_f = triangles(frame_xy[:bright])
    shape_r, corners_r = triangles(reference_xy[:bright])
    distance, partner = cKDTree(shape_r).query(shape_f, distance_upper_bound=0.004)
    tree = cKDTree(reference_xy)
    best = (0, None)
    for i in np.argsort(distance)[:400]:
        if not np.isfinite(distance[i]):
            break
        start = similarity(frame_xy[corners_f[i]], reference_xy[corners_r[partner[i]]])
        if abs(np.hypot(*start[:, 0]) - 1) > 0.05:
            continue
        d, _ = tree.query(apply(start, frame_xy[:bright]), distance_upper_bound=3.0)
        votes = np.count_nonzero(np.isfinite(d))
        if votes > best[0]:
            best = (votes, start)
        if votes > 0.6 * min(bright, len(frame_xy)):
            break
    votes, matrix = best
    if votes < 12:
        return None
    for limit in (3.0, 1.0, 0.5, 0.5):
        d, partner = tree.query(apply(matrix, frame_xy), distance_upper_bound=limit)
        ok = np.isfinite(d)
        matrix = affine(frame_xy[ok], reference_xy[partner[ok]])
    left = apply(matrix, frame_xy[ok]) - reference_xy[partner[ok]]
    return matrix, float(np.sqrt(np.mean(left**2))), int(np.count_nonzero(ok))

"""What others found of the real frames: where a point of one frame lies in another. For real_sets.py.

Each function takes a frame, the first frame of its set and the reference of the reduction, and returns (points in the
frame, another frame, the same places in that one); points are arrays of x, y in 0-based pixels.
"""
import csv

import numpy as np
import sep
from astropy.io import fits
from astropy.wcs import WCS
from depth import affine

# Shifts of the stars in the frame against the first of its set, in pixels: those that the notes of the sets state, checked
# (and for the mosaic the sign found) by voting among the positions of sep 1.2.1.
STATED = {"M42_30_1.FIT.gz": (0, 0), "M42_30_2.FIT.gz": (-15, 4), "M42_30_3.FIT.gz": (-13, 11),
          "solved.fits.fz": (0, 0), "unsolved.fits": (-0.5, -1.7)}


def size_of(path):
    with fits.open(path, ignore_missing_simple=True) as file:
        shape = next(h.shape for h in file if h.is_image and h.shape)
    return np.array([shape[-1], shape[-2]])


def overlap(path, shift):
    """Corners and middle of what both frames see, in pixels of the frame. The middle first."""
    shift, size = np.array(shift, dtype=float), size_of(path)
    (x0, y0), (x1, y1) = np.maximum(0, shift), np.minimum(size, size + shift) - 1
    return np.array([((x0 + x1) / 2, (y0 + y1) / 2), (x0, y0), (x1, y0), (x0, y1), (x1, y1)])


def stated_shifts(path, first, _):
    points = overlap(path, STATED[path.name])[:1]
    return points, first, points - np.array(STATED[path.name])


def sep_stars(path):
    with fits.open(path, ignore_missing_simple=True) as file:
        image = np.ascontiguousarray(next(h.data for h in file if h.is_image and h.shape), dtype=np.float32)
    sky = sep.Background(image, bw=32, bh=32)
    found = sep.extract(image - sky.back(), 6, err=sky.globalrms, minarea=5)
    return np.stack([found["x"], found["y"]], axis=1)


def table_and_sep(path, first, _):
    """Stars of sep in both frames, paired by the shift in the table beside them; an affine map fitted to the pairs.

    The table alone is a median over 28 to 120 stars, while the field turns by half a degree through the night.
    """
    with open(path.resolve().parent / "track_measured.csv", encoding="utf-8") as text:
        rows = {row["file"]: np.array([float(row["dx_px"]), float(row["dy_px"])]) for row in csv.DictReader(text)}
    shift = rows[path.name.removesuffix(".gz")] - rows[first.name.removesuffix(".gz")]
    mine = sep_stars(path)
    fit, _, _ = affine(mine, sep_stars(first), mine - shift)
    points = overlap(path, shift)
    return points, first, np.column_stack([points, np.ones(len(points))]) @ fit


def own_wcs(path, _, reference):
    """The astrometric solutions in the two headers."""
    def wcs_of(name):
        with fits.open(name) as file:
            return WCS(next(h.header for h in file if h.is_image and h.shape))
    width, height = size_of(path)
    x, y = np.array([(0, 0), (width - 1, 0), (0, height - 1), (width - 1, height - 1), (width / 2, height / 2)]).T
    sky = wcs_of(path).all_pix2world(x, y, 0)
    return np.stack([x, y], axis=1), reference, np.stack(wcs_of(reference).all_world2pix(*sky, 0), axis=1)

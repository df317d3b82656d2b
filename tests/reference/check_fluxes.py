"""Fluxes of faint stars in a master: how far from truth, in units of the error that the master itself states."""
import numpy as np
import sep
from check_pixels import covered, spread
from night_truth import to_pixels
from scipy.spatial import cKDTree

APERTURE_PX = 3.5
RING_PX = (9.0, 15.0)
FAINTEST_SNR, BRIGHTEST_SNR = 4.0, 40.0  # brighter ones show the painted profile's own error of a per cent or two


def flux_pulls(place, correlation):
    """(measured - true) / stated error, of the light left in apertures when all true stars are taken off.

    The stated error: VARIANCE summed over the aperture, times the square of the master's own noise_correlation, and the
    level from the ring around. Robust width, and the mean over all: a bias would show there.
    """
    x, y = to_pixels(place.light, place.night.xi, place.night.eta)
    flux = place.night.flux * place.k
    good = ~place.bad & np.isfinite(place.variance)
    variance = np.where(good, place.variance, 0).astype(np.float32)
    rest = np.where(good, place.image - place.stars - place.nebula, 0).astype(np.float32)
    error2, _, _ = sep.sum_circle(variance, x, y, APERTURE_PX, subpix=5)
    error2 = error2 * correlation**2
    area = np.pi * APERTURE_PX**2
    ring = np.pi * (RING_PX[1]**2 - RING_PX[0]**2)
    error2 *= 1 + area / ring
    h, w = rest.shape
    ok = (x > 20) & (y > 20) & (x < w - 21) & (y < h - 21)
    ok[ok] = covered(place, x[ok], y[ok])
    with np.errstate(invalid="ignore", divide="ignore"):
        snr = flux / np.sqrt(error2)
    ok &= (snr > FAINTEST_SNR) & (snr < BRIGHTEST_SNR)
    # A bright neighbour leaves the error of its painted wings.
    tree = cKDTree(np.column_stack([x, y]))
    order = np.argsort(-flux)[:20000]
    for i in order:
        reach = 16 + 10 * np.log10(max(1.0, flux[i] / 3000 / place.k))
        if flux[i] > 3000 * place.k:
            near = np.array(tree.query_ball_point([x[i], y[i]], reach), dtype=int)
            ok[near[near != i]] = False
    left, _, flag = sep.sum_circle(rest, x[ok], y[ok], APERTURE_PX, bkgann=RING_PX, subpix=5)
    touched, _, _ = sep.sum_circle((~good).astype(np.float32), x[ok], y[ok], RING_PX[1])
    pulls = (left / np.sqrt(error2[ok]))[(flag == 0) & (touched == 0)]
    n = len(pulls)
    width = float(spread(pulls))
    return {"flux_stars": n, "flux_pull_width": width, "flux_pull_width_error": float(1.17 / np.sqrt(2 * max(1, n))),
            "flux_pull_mean": float(np.median(pulls))}

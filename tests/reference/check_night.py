#!/usr/bin/python3
"""A master against the truth of the rehearsed night that it came from.

  check_night.py NIGHT MASTER [--reply REPLY.json] [--reference LIGHT] [--channel L] [--plane N] [--json] [--accept]

NIGHT is a folder of `nightglass rehearse`; MASTER any FITS image on the pixel grid of one of its lights, in any unit
and with any sky level: the scale comes from the stars. REPLY is what `nightglass reduce --json` printed: it names the
frames that were used. Without --reference the light whose grid fits is looked for. Measured with sep and scipy alone.

(a) positions  rms per axis of measured minus true position of bright isolated stars, by the true place of the
               reference frame as it is, and after the best affine map between the two (what a shift of the grid hides)
(b) noise      of bare sky over that of the ideal weighted mean of the same lights; resampling smooths single pixels,
               so it is told for pixels and for means of 4 x 4, where the smoothing hides little; wants the nebula
               alone beside the night (rehearsed.py), else the nebula's own structure counts as noise; and over what the
               master's extension VARIANCE states, where it has one
(c) outliers   pixels further than 6 sigma from their surroundings where no true star is, per million pixels
(d) nebula     slope of measured on true brightness at the nebula's samples over the same ratio for stars
(e) trails     light of satellites left in the master over what a plain mean would hold of it; and the width, in pixels, in
               which their light was left out: ten sigma of the trail hold all of it
(f) fluxes     of faint stars, measured minus true over the error that VARIANCE and noise_correlation state
(g) scale      of a master with a VARIANCE of its own: electrons of a light about as clear as the clearest (light over noise decides)
Exit 0; with --accept 1 where a limit is missed. Limits: 0.03 px after the affine map, noise 1.04 (4 x 4), 0.3 outliers
per million pixels, nebula within 1 %, noise within 3 % of the stated one,
1 % of the trails' light (and twice the error of that figure), pulls of fluxes of width 1 within 5 % (and twice its error).
"""
import argparse
import json
import sys

try:
    import numpy as np
    import sep
    from astropy.io import fits
    from scipy.spatial import cKDTree
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

import check_fluxes
import check_pixels
import check_trail
from night_truth import Night, moffat_enclosed, nebula_image, star_image, to_pixels

APERTURE_PX = 8.0


def read_master(path, plane):
    with fits.open(path) as hdus:
        data = np.ascontiguousarray(hdus[0].data, dtype=np.float32)
        coverage = hdus["COVERAGE"].data if "COVERAGE" in hdus else None
        variance = np.array(hdus["VARIANCE"].data, dtype=np.float32) if "VARIANCE" in hdus else None
    if data.ndim == 3:
        data = np.ascontiguousarray(data[plane])
        variance = variance[plane] if variance is not None else None
    bad = ~np.isfinite(data)
    if coverage is not None:
        coverage = np.array(coverage if coverage.ndim == 2 else coverage[plane], dtype=np.float32)
        bad |= coverage <= 0
    data[bad] = np.median(data[~bad])
    return data, bad, variance, coverage


def chosen_stars(night, light, lights, shape):
    """Bright, unsaturated, alone: indices into the night's stars."""
    x, y = to_pixels(light, night.xi, night.eta)
    fwhm = min(f["fwhm_px"] for f in lights)
    sky = max(f["channels"][night.channel]["sky_e"] for f in lights)
    top = max(night.transparency(f) for f in lights)
    beta = lights[0]["moffat_beta"]
    peak = night.flux * top * (beta - 1) / np.pi * 4 * (2 ** (1 / beta) - 1) / fwhm**2 + sky
    ok = (peak < 0.6 * night.camera["saturation_e"]) & (night.flux > 20000)
    ok &= (x > 30) & (y > 30) & (x < shape[1] - 31) & (y < shape[0] - 31)
    for light_j in lights:  # on every frame
        xj, yj = to_pixels(light_j, night.xi, night.eta)
        ok &= (xj > 20) & (yj > 20) & (xj < night.camera["width"] - 21) & (yj < night.camera["height"] - 21)
    tree = cKDTree(np.column_stack([x, y]))
    alone = []
    for i in np.flatnonzero(ok):
        near = [j for j in tree.query_ball_point([x[i], y[i]], 200) if j != i]
        d = np.hypot(x[near] - x[i], y[near] - y[i])
        # A neighbour pulls a centroid by its light times its distance, inside the window; outside by its wings.
        if np.sum(night.flux[near] * np.exp(-(d**2) / (2 * 2.5**2)) * d) > 0.006 * night.flux[i]:
            continue
        if np.any(night.flux[near] > night.flux[i] * 0.05 * np.maximum(d / 12, 1) ** 3):
            continue
        alone.append(i)
    return np.array(alone, dtype=int), x, y


def measured(image, noise, x, y):
    """Windowed centroids and aperture fluxes of stars near (x, y)."""
    xw, yw, flag = sep.winpos(image, x, y, np.full(len(x), 1.15))
    flux, _, _ = sep.sum_circle(image, xw, yw, APERTURE_PX, bkgann=(12.0, 18.0), subpix=0)
    good = (flag & ~sep.OBJ_TRUNC == 0) & (np.hypot(xw - x, yw - y) < 2) & (flux > 100 * noise)
    return xw, yw, flux, good


def rms(d):
    """Rms about the mean inside 5 sigma of the median's spread, and how many lay outside."""
    spread = 1.4826 * np.median(np.abs(d - np.median(d)))
    kept = d[np.abs(d - np.median(d)) < 5 * spread]
    return float(np.std(kept)), len(d) - len(kept)


def find_reference(night, image, noise):
    best = None
    for light in night.lights:
        index, x, y = chosen_stars(night, light, night.lights, image.shape)
        index = index[np.argsort(-night.flux[index])][:200]
        if len(index) < 10:
            continue
        xw, yw, _, good = measured(image, noise, x[index], y[index])
        score = (np.count_nonzero(good) > len(index) // 2, -np.median(np.hypot(xw - x[index], yw - y[index])))
        if best is None or score > best[0]:
            best = (score, light)
    if best is None or not best[0][0]:
        raise SystemExit("the master lies on the grid of none of the night's lights; name it with --reference")
    return best[1]


def positions(night, light, lights, image, noise):
    index, x, y = chosen_stars(night, light, lights, image.shape)
    xw, yw, flux, good = measured(image, noise, x[index], y[index])
    index, xw, yw, flux = index[good], xw[good], yw[good], flux[good]
    tx, ty = x[index], y[index]
    dx, dy = xw - tx, yw - ty
    basis = np.column_stack([np.ones(len(tx)), tx / 1000, ty / 1000])
    keep = np.hypot(dx - np.median(dx), dy - np.median(dy)) < 0.5
    left_x = dx - basis @ np.linalg.lstsq(basis[keep], dx[keep], rcond=None)[0]
    left_y = dy - basis @ np.linalg.lstsq(basis[keep], dy[keep], rcond=None)[0]
    (direct_x, out), (direct_y, _) = rms(dx), rms(dy)
    (affine_x, _), (affine_y, _) = rms(left_x), rms(left_y)
    inside = night.flux[index] * moffat_enclosed(APERTURE_PX, mean_fwhm(lights), lights[0]["moffat_beta"])
    return float(np.median(flux / inside)), xw, yw, inside, {
        "reference": light["path"], "stars": len(index), "left_out": out,
        "offset_x_px": float(np.median(dx)), "offset_y_px": float(np.median(dy)),
        "rms_x_px": direct_x, "rms_y_px": direct_y, "rms_x_affine_px": affine_x, "rms_y_affine_px": affine_y,
    }


def mean_fwhm(lights):
    return float(np.mean([f["fwhm_px"] for f in lights]))


def refined_scale(k, image, painted, xw, yw, inside):
    """The scale again, with the neighbours taken away first; painted: all true stars at scale 1."""
    rest = np.ascontiguousarray(image - painted * np.float32(k))
    left, _, _ = sep.sum_circle(rest, xw, yw, APERTURE_PX, bkgann=(12.0, 18.0), subpix=0)
    each = k + left / inside
    k = float(np.median(each))
    scatter = float(1.4826 * np.median(np.abs(each / k - 1)))
    return k, {"scale": k, "scale_scatter": scatter, "scale_error": 1.2533 * scatter / np.sqrt(len(each))}


def check(night, master, reply=None, reference=None, plane=0):
    image, bad, variance, coverage = read_master(master, plane)
    background = sep.Background(image, mask=bad, bw=64, bh=64)
    flat = image - background.back()
    noise = float(background.globalrms)
    lights = night.used(reply) if reply else night.lights
    light = night.light_named(reference) if reference else find_reference(night, flat, noise)
    k, *star_list, result = positions(night, light, lights, flat, noise)
    x, y = to_pixels(light, night.xi, night.eta)
    stars = star_image(image.shape, x, y, night.flux, mean_fwhm(lights), lights[0]["moffat_beta"], 0.02 * noise / k)
    cloud = nebula_image(night, light, image.shape)
    k, scale = refined_scale(k, image, stars, *star_list)
    result.update(scale)
    stars *= np.float32(k)
    cloud *= np.float32(k)
    place = check_pixels.Place(night, light, lights, image, bad, stars, cloud, k, variance)
    result["lights"] = len(lights)
    # A flat is brought to a median of 1, and with it the electrons.
    usual = np.median(night.responses(*np.meshgrid(np.arange(0, image.shape[1], 16), np.arange(0, image.shape[0], 16))))
    result["scale_over_clearest"] = k / (usual * max(night.transparency(one) for one in lights))
    result.update(check_pixels.sky_noise(place))
    if reply and len(lights) < len(night.lights):
        everything = check_pixels.Place(night, light, night.lights, image, bad, stars, cloud, k)
        result["noise_over_all_lights"] = check_pixels.sky_noise(everything)["noise_ratio_4x4"]
    result.update(check_pixels.outliers(place))
    result.update(check_pixels.nebula(place))
    if variance is not None and coverage is not None:
        result.update(check_trail.trails(place, coverage))
    if variance is not None and reply and reply["masters"][0].get("noise_correlation"):
        result.update(check_fluxes.flux_pulls(place, reply["masters"][0]["noise_correlation"]))
    return result


def missed(r):
    limits = [
        ("star positions in x", r["rms_x_affine_px"], 0.03), ("star positions in y", r["rms_y_affine_px"], 0.03),
        ("noise", r["noise_ratio_4x4"], 1.04), ("outliers per million pixels", r["outliers_per_mpix"], 0.3),
        ("nebula", abs(r["nebula_ratio"] - 1), 0.01),
    ]
    if "noise_over_stated" in r:
        limits.append(("scale beside that of the clearest light", abs(r["scale_over_clearest"] - 1), 0.1))
    if "trail_left" in r:
        limits.append(("light left of trails", abs(r["trail_left"]), 0.01 + 2 * r["trail_left_error"]))
    if "noise_over_stated" in r:
        limits.append(("noise beside the master's own VARIANCE", abs(r["noise_over_stated"] - 1), 0.03))
    if "flux_pull_width" in r:
        limits.append(("width of the pulls of star fluxes", abs(r["flux_pull_width"] - 1),
                       0.05 + 2 * r["flux_pull_width_error"]))
    return [f"{name}: {value:.4f}, limit {limit}" for name, value, limit in limits if not value <= limit]


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("night")
    parser.add_argument("master")
    parser.add_argument("--reply")
    parser.add_argument("--reference")
    parser.add_argument("--channel")
    parser.add_argument("--plane", type=int, default=0)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--accept", action="store_true")
    o = parser.parse_args()
    reply = json.load(open(o.reply)) if o.reply else None
    result = check(Night(o.night, o.channel), o.master, reply, o.reference, o.plane)
    if o.json:
        print(json.dumps(result, indent=1))
    else:
        for key, value in result.items():
            print(f"{key:26} {value:.5g}" if isinstance(value, float) else f"{key:26} {value}")
    failures = missed(result) if o.accept else []
    for line in failures:
        print("MISSED " + line)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())

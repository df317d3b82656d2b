#!/usr/bin/python3
"""Predicted and measured SNR: `expose` beside the reduced master of a rehearsed night, for six rigs, sites and filters.

    tests/reference/expose_check.py [build/release/bin/nightglass]      half a minute; exit code 1 beyond 5 %

The brightness of the nebula comes from the truth of the rehearsal: through a broad filter as V per square arcsecond, by the
truth's own stars of B-V 0.6..0.7; through a narrow one in rayleighs, by the formula written out here. SNR is that of a patch
of 8 x 8 pixels: resampling shares noise among next neighbours, over 8 pixels it is whole again. Nothing of the air changes
in these nights and nothing shades the corners: `expose` does not know of either.
"""
import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import cv2
import numpy as np
from astropy.io import fits

LIMIT = 0.05
PATCH = 8
LIGHTS = 12
CALIBRATION = 12
FILTERS = {"L": (550, 300, 12, 0.96), "R": (638, 100, 12, 0.95), "G": (537, 88, 12, 0.94), "B": (453, 110, 12, 0.93),
           "Ha": (656.4, 2.6, 0.4, 0.91), "OIII": (500.6, 5, 1, 0.90)}
# Percent by nm, straight lines between: what the rehearsal's sensor has.
EFFICIENCY = [[350, 35], [400, 62], [450, 82], [500, 88], [550, 87], [600, 82], [650, 74], [700, 63], [800, 42], [900, 22],
              [1000, 8]]
# filter, aperture, obstruction, focal length [mm], pixel [um], e/ADU, read noise [e], sky [mag/arcsec2], exposure [s],
# sensor [C], rayleighs of the brightest part of the nebula
COMBINATIONS = [
    ("L", 130, 0, 650, 6.0, 0.78, 1.7, 21.3, 120, -10, 100),
    ("R", 80, 0, 480, 4.63, 1.2, 3.5, 19.5, 180, -10, 600),
    ("G", 200, 70, 800, 3.76, 0.25, 1.5, 20.5, 120, 0, 1500),
    ("B", 150, 50, 750, 5.4, 0.5, 5.0, 21.8, 60, 5, 3000),
    ("Ha", 100, 0, 500, 3.76, 0.25, 1.5, 18.5, 600, -5, 300),
    ("OIII", 250, 80, 1000, 9.0, 1.5, 8.0, 21.0, 300, 10, 300),
]


def run(command):
    done = subprocess.run(list(map(str, command)), stdout=subprocess.PIPE, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(map(str, command))} ended with {done.returncode}")
    return done.stdout


def efficiency(nm):
    return np.interp(nm, *zip(*EFFICIENCY)) / 100


def scenario(c, starless):
    name, aperture, obstruction, focal, pixel, gain, read, sky, _, celsius, rayleighs = c
    return f"""satellite = false
[site]
sky_gradient = 0
sky_mag_arcsec2 = {sky}
[target]
cluster_stars = 0
field_stars_per_deg2 = {0 if starless else 2500}
faintest_v_mag = 14
nebula_rayleighs = {rayleighs}
[air]
transparency_scatter = 0
cloud_depth = 0
fwhm_scatter = 0
[mount]
dither_px = 25
[optics]
aperture_mm = {aperture}
obstruction_mm = {obstruction}
focal_length_mm = {focal}
throughput = 0.92
[sensor]
width = 1200
height = 900
pixel_um = {pixel}
gain_e_adu = {gain}
read_noise_e = {read}
[camera]
temperature_c = {celsius}
vignetting = 0
dust_shadows = 0
cosmic_rays_cm2_min = 0
[[filters]]
name = "{name}"
lights = {LIGHTS}
""" + "".join(f"{key} = {value}\n" for key, value in zip(("centre_nm", "width_nm", "flank_nm", "throughput"), FILTERS[name]))


def workspace(folder, c):
    name, aperture, obstruction, focal, pixel, gain, read, sky, _, celsius, _ = c
    folder.mkdir()
    (folder / "site.toml").write_text(f"latitude_deg = 46.4\nlongitude_deg = 9.3\nelevation_m = 840\n"
                                      f"[sky]\nzenith_mag_arcsec2 = {sky}\n")
    (folder / "rig.toml").write_text(f"""[optics]
aperture_mm = {aperture}
obstruction_mm = {obstruction}
focal_length_mm = {focal}
throughput = 0.92
[sensor]
width_px = 1200
height_px = 900
pixel_um = {pixel}
dark_e_s = 0.0035
dark_reference_c = -10
quantum_efficiency_percent_by_nm = {EFFICIENCY}
[[sensor.gains]]
setting = 100
gain_e_adu = {gain}
read_noise_e = {read}
[cooler]
temperature_c = {celsius}
[[filters]]
name = "{name}"
""" + "".join(f"{key} = {value}\n" for key, value in zip(("centre_nm", "width_nm", "flank_nm", "throughput"), FILTERS[name])))


def brightness(c, truth, electrons):
    """Option and value for `expose`: the surface brightness that gives so many electrons at airmass 1."""
    name, aperture, obstruction, *_ = c
    scale, seconds = truth["scale_arcsec_px"], truth["exposure_s"]
    centre, width, _, throughput = FILTERS[name]
    if width > 30:
        stars = truth["stars"]
        colour, v = np.array(stars["b_minus_v"]), np.array(stars["v_mag"])
        flux = np.array(stars["electrons"][name])
        usual = (colour > 0.6) & (colour < 0.7)
        zero = np.median(flux[usual] * 10 ** (0.4 * v[usual]))
        return "--surface-mag-arcsec2", -2.5 * math.log10(electrons / (zero * scale ** 2))
    nm = 656.28 if name == "Ha" else 500.68
    area_cm2 = math.pi / 4 * (aperture ** 2 - obstruction ** 2) / 100
    air = 10 ** (-0.4 * truth["filters"][0]["channels"][0]["extinction_mag_airmass"])
    per_rayleigh = 1e6 / (4 * math.pi) * area_cm2 * 0.92 * throughput * efficiency(nm) * air * (scale / 206264.806) ** 2
    return "--line-rayleighs", electrons / seconds / per_rayleigh


def blocks(image):
    h, w = image.shape[0] // PATCH * PATCH, image.shape[1] // PATCH * PATCH
    return image[:h, :w].reshape(h // PATCH, PATCH, w // PATCH, PATCH).mean((1, 3))


def measured(master, nebula, stars, to_master):
    """Electrons of the nebula in the master over those of the truth, and the noise of a patch, from the master alone."""
    with fits.open(master) as file:
        image = np.asarray(file[0].data, dtype=np.float64)
        coverage = np.asarray(file["COVERAGE"].data, dtype=np.float64)
    affine = np.array(to_master).reshape(2, 3)
    shape = image.shape[::-1]
    nebula, stars = (cv2.warpAffine(a.astype(np.float64), affine, shape, flags=cv2.INTER_LINEAR) for a in (nebula, stars))
    good = (coverage >= 0.99 * coverage.max()) & (cv2.dilate(stars, np.ones((5, 5))) < 0.02) & np.isfinite(image)
    good[:40], good[-40:], good[:, :40], good[:, -40:] = False, False, False, False
    x, y = nebula[good], image[good]
    for _ in range(3):
        slope, level = np.polyfit(x, y, 1)
        keep = np.abs(y - slope * x - level) < 4 * np.std(y - slope * x - level)
        x, y = x[keep], y[keep]
    rest = np.where(good, image - slope * nebula - level, np.nan)
    patches = blocks(rest)  # NaN where any pixel of the patch is not good
    steps = patches[:, 1:] - patches[:, :-1]
    steps = steps[np.isfinite(steps)]
    for _ in range(5):
        steps = steps[np.abs(steps) < 4 * np.std(steps)]
    return slope, np.std(steps) / math.sqrt(2), len(steps), np.median(nebula[good])


def check(program, c, work):
    name, seconds = c[0], c[8]
    common = [program, "rehearse", "--catalogue", "none", "--quiet", "--exposure-s", seconds]
    for kind in ("night", "starless"):
        (work / f"{kind}.toml").write_text(scenario(c, kind == "starless"))
        frames = CALIBRATION if kind == "night" else 0
        run([*common, "--scenario", work / f"{kind}.toml", "--out", work / kind, "--truth-images", work / f"{kind}_images",
             "--darks", frames, "--flats", frames, "--bias", frames, "--dark-flats", frames])
    reply = json.loads(run([program, "reduce", work / "night", "--out", work / "masters", "--json", "--quiet"]))
    truth = json.loads((work / "night/truth.json").read_text())
    lights = [f for f in reply["frames"] if f["kind"] == "light" and f["accepted"]]
    first = next(f for f in lights if f["path"].endswith("_0001.fits"))
    pictures = [fits.getdata(next((work / f"{kind}_images").glob("*.fits"))) for kind in ("starless", "night")]
    slope, noise, patches, electrons = measured(reply["masters"][0]["path"], pictures[0], pictures[1] - pictures[0],
                                                first["transform"])
    workspace(work / "workspace", c)
    option, value = brightness(c, truth, electrons)
    altitude = np.mean([light["altitude_deg"] for light in truth["lights"]])
    advice = json.loads(run([program, "expose", "--workspace", work / "workspace", "--json", "--quiet", "--sub-s", seconds,
                             "--patch-px", PATCH ** 2, "--altitude-deg", altitude, option, value,
                             "--darks", CALIBRATION, "--flats", CALIBRATION]))["filters"][0]
    predicted = advice["sub_snr"] * math.sqrt(len(lights))
    snr = slope * electrons / noise
    print(f"{name:5} {c[1]:4} mm f/{c[3] / c[1]:.1f}  sky {c[7]:5.1f}  {len(lights):2} x {seconds} s  predicted {predicted:7.2f}  "
          f"measured {snr:7.2f} +- {snr / math.sqrt(2 * patches):.2f}  {snr / predicted - 1:+.1%}", flush=True)
    return abs(snr / predicted - 1) <= LIMIT


def check_all(check, limit):
    """Ends the program: 0 when check(program, combination, folder) holds for each."""
    program = Path(sys.argv[1] if len(sys.argv) > 1 else "build/release/bin/nightglass").resolve()
    good = []
    for c in COMBINATIONS:
        with tempfile.TemporaryDirectory() as work:
            good.append(check(program, c, Path(work)))
    print(f"{sum(good)} of {len(good)} within {limit}")
    sys.exit(0 if all(good) else 1)


if __name__ == "__main__":
    check_all(check, f"{LIMIT:.0%}")

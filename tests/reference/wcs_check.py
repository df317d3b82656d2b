#!/usr/bin/python3
"""Every place on the sky that the program writes into a header, beside astropy.wcs and wcslib.

    wcs_check.py NIGHTGLASS WCS_PROBE [--keep DIR]      some 20 s; exit code 1 beyond a limit

Where the program puts a catalogue star on a frame is where it measured it less the residual that it states; both
libraries must put it there to 1e-6 pixels, by the header alone. Headers: a copy with a tangent plane (TAN), a copy with
distortion (SIP), a master of `reduce` on the reference's grid, and one that was drizzled to smaller pixels.

The distorted frame has a truth: astropy.wcs draws it, from the stars that the first solution lists.
"""
import json
import pathlib
import subprocess
import sys
import tempfile
import warnings

try:
    import numpy as np
    from astropy.io import fits
    from astropy.wcs import WCS
except ImportError:
    print("SKIP: python3-astropy is not installed")
    sys.exit(77)

warnings.simplefilter("ignore")
WRITTEN_PX = 1e-6  # asked for; sixteen digits in a header hold 1e-9
TRUTH_PX = 0.3     # of the corners of the distorted frame: 80 stars of 0.05 px, 21 terms at the end of their reach
# Between the master's place and one solved from its own pixels: the variance of a linear fit to n stars spread evenly is
# 7 / n of theirs in a corner (1 + 3 + 3); four of those standard deviations, of both solutions together.
MASTER_SIGMAS = 4
SCENARIO = """
[optics]
focal_length_mm = {focal}
aperture_mm = 40
[target]
name = "field"
ra_deg = 80
dec_deg = 10
position_angle_deg = 37
nebula_rayleighs = 0
cluster_stars = 0
field_stars_per_deg2 = 20
"""


def run(program, *words):
    done = subprocess.run([program, *map(str, words), "--json", "--quiet"], capture_output=True, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(map(str, words))} ended with {done.returncode}: {done.stderr}")
    return json.loads(done.stdout)


def worst_difference(probe, path, reply, findings):
    """Pixels between program and libraries at the stars that the reply lists."""
    stars = reply["matched_stars"]
    ra, dec = (np.array([s[k] for s in stars]) for k in ("ra_deg", "dec_deg"))
    ours = np.array([[s["x"] - s["dx_px"], s["y"] - s["dy_px"]] for s in stars])
    header = fits.getheader(path)
    by_astropy = np.stack(WCS(header, naxis=2).all_world2pix(ra, dec, 0, tolerance=1e-9, maxiter=50), axis=1)
    done = subprocess.run([probe, path], input="\n".join(f"{a!r} {d!r}" for a, d in zip(ra.tolist(), dec.tolist())),
                          capture_output=True, text=True, check=True)
    by_wcslib = np.array([[float(w) for w in line.split()] for line in done.stdout.splitlines()]) - 1
    for name, theirs in (("astropy.wcs", by_astropy), ("wcslib", by_wcslib)):
        worst = np.abs(theirs - ours).max()
        print(f"{path.name:24} {header['CTYPE1']:12} {len(stars):4} stars  {name:12} worst {worst:.1e} px")
        if not worst < WRITTEN_PX:
            findings.append(f"{path.name}: {name} puts a star {worst:.2e} px from where the program does")


def draw_distorted(path, reply, width, height):
    """The stars of a reply on a frame whose lens bows lines: third order, 12 px in the corners, a little off axis."""
    header = fits.Header()
    for name, value in reply["wcs"].items():
        header[name] = value
    for name in [n for n in header if n.startswith(("A_", "B_", "AP_", "BP_"))]:
        del header[name]
    header["CTYPE1"], header["CTYPE2"] = "RA---TAN-SIP", "DEC--TAN-SIP"
    k = 12 / np.hypot(width / 2, height / 2)**3
    for name, value in {"A_ORDER": 3, "B_ORDER": 3, "A_3_0": k, "A_1_2": k, "B_0_3": k, "B_2_1": k, "A_2_0": 4e-7}.items():
        header[name] = value
    truth = WCS(header)
    stars = reply["matched_stars"]
    x, y = truth.all_world2pix([s["ra_deg"] for s in stars], [s["dec_deg"] for s in stars], 0)
    rows, columns = np.mgrid[0:height, 0:width]
    image = 100 + np.random.default_rng(3).normal(0, 4, (height, width))
    for s, sx, sy in zip(stars, x, y):
        if not (8 < sx < width - 9 and 8 < sy < height - 9):
            continue
        box = np.s_[int(sy) - 8:int(sy) + 10, int(sx) - 8:int(sx) + 10]
        r2 = (columns[box] - sx)**2 + (rows[box] - sy)**2
        image[box] += 10**(-0.4 * (s["magnitude"] - 12)) * 40 * np.exp(-r2 / (2 * 1.3**2))
    plain = fits.Header()
    plain["DATE-OBS"], plain["EXPTIME"] = "2026-01-10T22:00:00", 60.0
    fits.PrimaryHDU(np.clip(image, 0, 6e4).astype(np.float32), plain).writeto(path)
    return truth


def check(program, probe, work):
    findings = []
    for name, focal, lights in (("wide", 60, 1), ("night", 180, 5)):
        (work / f"{name}.toml").write_text(SCENARIO.format(focal=focal), encoding="utf-8")
        run(program, "rehearse", "--out", work / name, "--scenario", work / f"{name}.toml", "--filters", "L", "--lights", lights,
            "--size", "1500x1000", "--exposure-s", 60, "--darks", 0, "--flats", 0, "--bias", 0, "--dark-flats", 0)

    # Too few stars for anything but a plane.
    plane = run(program, "solve", min(work.glob("night/light/*.fits")), "--stars", "--write", work / "plane.fits")
    worst_difference(probe, work / "plane.fits", plane, findings)

    wide = run(program, "solve", next(work.glob("wide/light/*.fits")), "--stars")
    truth = draw_distorted(work / "bowed.fits", wide, 1500, 1000)
    bowed = run(program, "solve", work / "bowed.fits", "--stars", "--write", work / "distorted.fits")
    if bowed["distortion_degree"] < 3:
        findings.append(f"a lens that bows lines by 12 px was taken for degree {bowed['distortion_degree']}")
    worst_difference(probe, work / "distorted.fits", bowed, findings)
    x, y = np.array([0, 1499, 0, 1499, 750.0]), np.array([0, 0, 999, 999, 500.0])
    sky = WCS(fits.getheader(work / "distorted.fits")).all_pix2world(x, y, 0)
    off = np.hypot(*(np.array(truth.all_world2pix(*sky, 0)) - [x, y]))
    print(f"distorted frame: corners {off[:4].max():.3f} px, middle {off[4]:.3f} px from the truth")
    if not off.max() < TRUTH_PX:
        findings.append(f"the distorted frame's place is {off.max():.2f} px from the truth")

    for folder, words in (("masters", []), ("drizzled", ["--scale", 0.5])):
        reduced = run(program, "reduce", work / "night", "--out", work / folder, *words)
        master = pathlib.Path(reduced["masters"][0]["path"])
        told = reduced["masters"][0]["solution"]
        if told is None:
            findings.append(f"{folder}: the master was not solved: {reduced['notes']}")
            continue
        if json.loads(master.with_suffix(".recipe.json").read_text())["master"]["solution"] != told:
            findings.append(f"{folder}: recipe and reply do not tell the same place")
        # Solved once more, from its own pixels.
        again = run(program, "solve", master, "--no-header", "--stars", "--write", work / f"{folder}.fits")
        worst_difference(probe, work / f"{folder}.fits", again, findings)
        ours, theirs = WCS(fits.getheader(master)), WCS(fits.getheader(work / f"{folder}.fits"))
        height, width = fits.getdata(master).shape
        x, y = np.array([0, width - 1, 0, width - 1.0]), np.array([0, 0, height - 1, height - 1.0])
        off = np.hypot(*(np.array(theirs.all_world2pix(*ours.all_pix2world(x, y, 0), 0)) - [x, y]))
        centre = ours.all_pix2world((width - 1) / 2, (height - 1) / 2, 0)
        said = np.hypot((centre[0] - told["ra_deg"]) * np.cos(np.radians(told["dec_deg"])), centre[1] - told["dec_deg"])
        print(f"{folder}: corners {off.max():.3f} px from a place solved from the master's own pixels; "
              f"centre of the header {said * 3600:.1e} arcsec from the reply's")
        rms = np.hypot(again["rms_px"], told["rms_arcsec"] / told["scale_arcsec_px"])
        if not off.max() < MASTER_SIGMAS * rms * np.sqrt(2 * 7 / min(again["matched"], told["matched"])):
            findings.append(f"{folder}: the master's corners are {off.max():.3f} px off")
        if not said * 3600 < 1e-3:
            findings.append(f"{folder}: header and reply differ by {said * 3600:.3f} arcsec")
    return findings


def main():
    program, probe = sys.argv[1:3]
    if not pathlib.Path(probe).exists():
        print("SKIP: built without wcslib")
        sys.exit(77)
    with tempfile.TemporaryDirectory() as temporary:
        work = pathlib.Path(sys.argv[4] if "--keep" in sys.argv else temporary)
        work.mkdir(parents=True, exist_ok=True)
        findings = check(program, probe, work)
    for finding in findings:
        print("NOT AS IT SHOULD BE:", finding)
    sys.exit(1 if findings else 0)


main()

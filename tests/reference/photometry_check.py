#!/usr/bin/python3
"""Zero point, colour term, sky and limit of a rehearsed night beside its truth; apertures beside photutils.

    photometry_check.py NIGHTGLASS [--keep DIR]      some 30 s; exit code 1 beyond a limit

The rehearsal's own stars are the catalogue: imported from its truth as a table of positions, V and B-V. Truth is in
electrons of one light at airmass 1 in clear air; a light holds its transparency times that, and a flat-fielded master
the median response of the camera, which flats take out but for their median.
"""
import csv
import json
import pathlib
import subprocess
import sys
import tempfile
import warnings

try:
    import numpy as np
    from astropy.io import fits
    from astropy.stats import SigmaClip
    from photutils.aperture import ApertureStats, CircularAnnulus, CircularAperture
except ImportError:
    print("SKIP: python3-photutils is not installed")
    sys.exit(77)

warnings.simplefilter("ignore")
ZERO_POINT_MAG = 0.03       # asked for
COLOUR_TERM = 0.03          # some hundred stars of 0.02 mag over a magnitude of colour: 0.004; crowding pulls
SKY_MAG = 0.08              # zero point, and the light of stars too faint to be seen, which a sky background holds
EXTINCTION_MAG = 0.05       # per airmass: 20 frames of 0.005 mag over 0.3 airmasses: 0.01, and what flats do not even out
SKY_SIGMAS = 0.25           # of one pixel's noise, between two ways to clip a ring

CLEAR = """[target]
nebula_rayleighs = 0
cluster_stars = 0
[air]
cloud_depth = 0
transparency_scatter = 0
[exposures]
light_s = 900
"""


def run(program, *words):
    done = subprocess.run([program, *map(str, words), "--json", "--quiet"], capture_output=True, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(map(str, words))} ended with {done.returncode}: {done.stderr}")
    return json.loads(done.stdout)


def against_photutils(path, reply, findings):
    """The program's sums over circles, beside those of photutils with its own circle and its own clipped ring."""
    p = reply["photometry"]
    stars = [s for s in reply["matched_stars"] if s["aperture_flux"] is not None]
    image = fits.getdata(path).astype(float)
    at = np.array([[s["x"], s["y"]] for s in stars])
    circle = ApertureStats(image, CircularAperture(at, p["aperture_radius_px"]), sum_method="exact")
    ring = ApertureStats(image, CircularAnnulus(at, p["ring_inner_px"], p["ring_outer_px"]), sigma_clip=SigmaClip(3),
                         sum_method="center")
    area = np.pi * p["aperture_radius_px"]**2
    ours = np.array([s["aperture_flux"] for s in stars])
    sky = (circle.sum - ours) / area  # that the program took off
    off = np.abs(sky - ring.median) / ring.std
    errors = np.array([s["aperture_error"] for s in stars])
    ring_area = np.pi * (p["ring_outer_px"]**2 - p["ring_inner_px"]**2)
    gain = fits.getheader(path).get("EGAIN")
    ccd = np.sqrt(ours / gain + area * (1 + area / ring_area) * ring.std**2)
    print(f"{path.name}: {len(stars)} stars beside photutils: sky of the ring differs by {np.median(off):.3f} of its noise, "
          f"{np.percentile(off, 95):.3f} in the worst twentieth; errors {np.median(errors / ccd):.3f} of its CCD equation")
    if not np.median(off) < SKY_SIGMAS:
        findings.append(f"{path.name}: the ring's sky is {np.median(off):.2f} sigma from that of photutils")
    if not abs(np.median(errors / ccd) - 1) < 0.05:
        findings.append(f"{path.name}: errors are {np.median(errors / ccd):.3f} of those of the CCD equation")


def check(program, work):
    findings = []
    (work / "s.toml").write_text("[target]\nnebula_rayleighs = 0\ncluster_stars = 0\n", encoding="utf-8")
    run(program, "rehearse", "--out", work / "night", "--scenario", work / "s.toml", "--filters", "G", "--lights", 6,
        "--size", "1600x1200", "--darks", 12, "--flats", 12, "--bias", 12, "--dark-flats", 12)
    truth = json.loads((work / "night/truth.json").read_text())
    stars = truth["stars"]
    v, colour = np.array(stars["v_mag"]), np.array(stars["b_minus_v"])
    electrons = np.array(stars["electrons"]["G"])
    with (work / "stars.csv").open("w", newline="") as table:
        out = csv.writer(table)
        out.writerow(["ra", "dec", "mag", "colour"])
        for i in np.flatnonzero(v < 17):
            out.writerow([stars["ra_deg"][i], stars["dec_deg"][i], v[i], colour[i]])
    run(program, "catalogue", "import", work / "stars.csv", "--name", "truth", "--into", work / "sky", "--columns",
        "ra=ra,dec=dec,mag=mag,colour=colour")
    seconds = truth["exposure_s"]
    # Per second: magnitude of 1 electron, as a line over colour.
    slope, zero = np.polyfit(colour[v < 17], (v + 2.5 * np.log10(electrons / seconds))[v < 17], 1)
    response = truth["filters"][0]["response_median"]

    reduced = run(program, "reduce", work / "night", "--out", work / "masters", "--catalogue", work / "sky")
    by_name = {pathlib.Path(light["path"]).name: light for light in truth["lights"]}
    # The light that sets the master's scale.
    reference = by_name[next(pathlib.Path(f["path"]).name for f in reduced["frames"] if f["transmission"] == 1)]
    cases = [(pathlib.Path(reduced["masters"][0]["path"]), reference, response)]
    cases += [(work / "night" / light["path"], light, None) for light in truth["lights"]]
    for path, light, factor in cases:
        reply = run(program, "solve", path, "--stars", "--catalogue", work / "sky")
        p = reply["photometry"]
        if p is None:
            findings.append(f"{path.name}: no photometry: {reply['notes']}")
            continue
        channel = next(iter(light["channels"].values()))
        wanted = zero + slope * (p["colour_reference"] or 0) + 2.5 * np.log10(channel["transparency"] * (factor or 1))
        sky = channel["sky_e"] * (factor or 1)
        wanted_sky = wanted - 2.5 * np.log10(sky / seconds / truth["scale_arcsec_px"]**2)
        told_sky = p["sky_mag_arcsec2"]
        print(f"{path.name:20} zero point {p['zero_point_mag']:.3f} +- {p['zero_point_error_mag']:.3f}, truth {wanted:.3f}; "
              f"scatter {p['scatter_mag']:.3f}; colour {p['colour_term'] or 0:+.3f}, truth {slope:+.3f}; {p['stars']} stars, "
              f"{p['outliers']} out; aperture {p['aperture_correction_mag']:+.3f}; limit {p['limiting_mag']:.2f}; "
              f"sky {told_sky and round(told_sky, 2)}, truth {wanted_sky:.2f}")
        if factor:  # A raw light's vignetting makes its zero point vary over the frame.
            if not abs(p["zero_point_mag"] - wanted) < ZERO_POINT_MAG:
                findings.append(f"{path.name}: zero point off by {p['zero_point_mag'] - wanted:+.3f}")
            if p["colour_term"] is None or not abs(p["colour_term"] - slope) < COLOUR_TERM:
                findings.append(f"{path.name}: colour term {p['colour_term']}, truth {slope:+.3f}")
            if told_sky is None or not abs(told_sky - wanted_sky) < SKY_MAG:
                findings.append(f"{path.name}: sky {told_sky}, truth {wanted_sky:.2f}")
            against_photutils(path, reply, findings)
    # Five hours of a clear night, around the culmination.
    (work / "clear.toml").write_text(CLEAR, encoding="utf-8")
    run(program, "rehearse", "--out", work / "clear", "--scenario", work / "clear.toml", "--filters", "G", "--lights", 20,
        "--size", "900x700", "--darks", 0, "--flats", 0, "--bias", 0, "--dark-flats", 0)
    clear = json.loads((work / "clear/truth.json").read_text())
    extinction = clear["filters"][0]["channels"][0]["extinction_mag_airmass"]
    master = run(program, "reduce", work / "clear", "--out", work / "clear_masters", "--no-solution")["masters"][0]
    told = master["extinction"]
    if told is None:
        findings.append("no extinction over five hours")
        return findings
    airmass = [light["airmass"] for light in clear["lights"]]
    print(f"extinction {told['mag_airmass']:.3f} +- {told['error_mag_airmass']:.3f}, truth {extinction:.3f}, airmass "
          f"{min(airmass):.2f} to {max(airmass):.2f}")
    if not abs(told["mag_airmass"] - extinction) < EXTINCTION_MAG:
        findings.append(f"extinction {told['mag_airmass']:.3f}, truth {extinction:.3f}")
    return findings


def main():
    program = sys.argv[1]
    with tempfile.TemporaryDirectory() as temporary:
        work = pathlib.Path(sys.argv[3] if "--keep" in sys.argv else temporary)
        work.mkdir(parents=True, exist_ok=True)
        findings = check(program, work)
    for finding in findings:
        print("NOT AS IT SHOULD BE:", finding)
    sys.exit(1 if findings else 0)


main()

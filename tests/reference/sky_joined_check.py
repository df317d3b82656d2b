#!/usr/bin/python3
"""Two panels with a gap between them: no star in common, joined by the catalogue, beside the truth of their rehearsals. A frame
of another object, solved as well, must stay outside.

sky_joined_check.py NIGHTGLASS
A short lens, so that the built-in catalogue solves each panel by some twenty stars. Truth: the rehearsed places of all stars of
both panels, carried to the master by astropy with the solution in its header.
"""
import json
import pathlib
import shutil
import subprocess
import sys
import tempfile
import warnings

try:
    import numpy as np
    from astropy.io import fits
    from astropy.wcs import WCS
    from scipy.spatial import cKDTree
except ImportError:
    print("SKIP: python3-astropy or python3-scipy is not installed")
    sys.exit(77)

warnings.simplefilter("ignore")
SCENARIO = """
[optics]
focal_length_mm = 135
aperture_mm = 45
[target]
name = "Field"
ra_deg = {ra}
dec_deg = 12
position_angle_deg = 0
nebula_rayleighs = 0
cluster_stars = 0
field_stars_per_deg2 = 150
[air]
fwhm_arcsec = 20
cloud_depth = 0
[mount]
tracking_arcsec = 1
dither_px = 20
meridian_flip = false
"""


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    findings = []
    with tempfile.TemporaryDirectory() as temporary:
        work = pathlib.Path(temporary)
        night = work / "night"
        truths = []
        for name, ra, seed, calibration in (("a", 80.0, "1", "5"), ("b", 84.6, "9", "0"),  # frames are 3.8 degrees wide
                                           ("far", 95.0, "7", "0")):
            scenario = work / f"{name}.toml"
            scenario.write_text(SCENARIO.format(ra=ra))
            subprocess.run([program, "rehearse", "--out", work / name, "--scenario", scenario, "--seed", seed, "--filters", "L",
                            "--lights", "3", "--darks", calibration, "--flats", calibration, "--bias", "0", "--dark-flats",
                            calibration, "--size", "1500x1000", "--exposure-s", "30", "--quiet"], check=True,
                           stdout=subprocess.DEVNULL)
            if name != "far":
                truths.append(json.loads((work / name / "truth.json").read_text())["stars"])
        shutil.copytree(work / "a", night)
        for light in (work / "b" / "light").iterdir():
            shutil.copy(light, night / "light" / f"b_{light.name}")
        shutil.copy(work / "far" / "light" / "light_L_0001.fits", night / "light" / "far.fits")
        done = subprocess.run([program, "reduce", night, "--out", work / "masters", "--json", "--quiet"], capture_output=True,
                              text=True)
        if done.returncode != 0:
            sys.exit(f"NOT AS IT SHOULD BE: reduce: {done.stderr.strip()}")
        reply = json.loads(done.stdout)
        accepted = sum(f["kind"] == "light" and f["accepted"] for f in reply["frames"])
        if accepted != 6 or not any("placed by the star catalogues alone" in n for n in reply["notes"]):
            findings.append(f"{accepted} of 6 lights used; {reply['notes']}")
        far = next(f for f in reply["frames"] if f["path"].endswith("far.fits"))
        print(f"the other object: {far['reason']}")
        if far["accepted"] or "points elsewhere" not in far["reason"]:
            findings.append("a frame of another object was joined")
        master = reply["masters"][0]["path"]
        with fits.open(master) as hdus:
            wcs = WCS(hdus[0].header)
            print(f"master of {hdus[0].data.shape[1]} x {hdus[0].data.shape[0]} pixels")
        stars = [s for s in json.loads(subprocess.run([program, "measure", master, "--json", "--quiet"], check=True,
                                                      capture_output=True, text=True).stdout)["stars"]
                 if s["flux"] > 50 * s["flux_error"] and not s["saturated"]]
        tree = cKDTree([(s["x"], s["y"]) for s in stars])
        for name, truth in zip("ab", truths):
            electrons = np.array(next(iter(truth["electrons"].values())))
            bright = np.argsort(-electrons)[:3000]
            x, y = wcs.all_world2pix(np.array(truth["ra_deg"])[bright], np.array(truth["dec_deg"])[bright], 0)
            places = np.c_[x, y]
            alone = cKDTree(places).query(places, k=2)[0][:, 1] > 10
            distance, index = tree.query(places)
            good = (distance < 1.5) & alone
            dx = np.array([stars[i]["x"] for i in index[good]]) - x[good]
            dy = np.array([stars[i]["y"] for i in index[good]]) - y[good]
            print(f"panel {name}: {good.sum()} stars, offset {np.median(dx):+.3f} {np.median(dy):+.3f} px, scatter "
                  f"{1.48 * np.median(np.abs(dx - np.median(dx))):.3f} {1.48 * np.median(np.abs(dy - np.median(dy))):.3f} px")
            # Twenty catalogue stars of 0.1 px place a panel to 0.03 px, in its corners to three times that.
            if good.sum() < 50 or np.hypot(np.median(dx), np.median(dy)) > 0.2:
                findings.append(f"panel {name} does not lie where the sky is")
    for finding in findings:
        print("NOT AS IT SHOULD BE:", finding)
    sys.exit(1 if findings else 0)


main()

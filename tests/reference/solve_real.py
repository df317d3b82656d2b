#!/usr/bin/python3
"""Real frames: each is solved, and where its header carries a solution of its own the corners are compared.

solve_real.py NIGHTGLASS FRAMES_FOLDER [--table]
wide_tiff and dslr_mosaic by the built-in catalogue; solved_with_tables by its own source table, imported as a catalogue;
the others must be refused with a reason. Prints a table; ends with 1 when something is not as it should be.
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
CORNER_PX = 1.0  # most that a corner may be off against the header's own solution ...
HEADER_PX = 0.5  # ... where that agrees with the catalogue's stars itself: rms of both axes over those that were matched


def run(program, *words):
    done = subprocess.run([program, *map(str, words), "--json", "--quiet"], capture_output=True, text=True)
    reply = json.loads(done.stdout) if done.stdout.strip() else {}
    return done.returncode, reply, done.stderr.strip().splitlines()[-1] if done.stderr.strip() else ""


def header_solution(path):
    """The solution that the file carries, and its header; None where there is none."""
    if not path.name.lower().endswith((".fits", ".fits.fz", ".fit", ".gz")):
        return None
    with fits.open(path) as hdus:
        for hdu in hdus:
            if hdu.header.get("NAXIS", 0) >= 2 and "CRVAL1" in hdu.header:
                return WCS(hdu.header, naxis=2)
    return None


def corner_offsets(reply, theirs):
    """Pixels between where the two solutions put the same sky, at the corners and the middle."""
    header = fits.Header()
    for name, value in reply["wcs"].items():
        header[name] = value
    ours = WCS(header)
    width, height = 2 * reply["residual_map"][0]["x"] + 1, 0  # of a quarter column
    width = width * 4
    height = (2 * reply["residual_map"][0]["y"] + 1) * 3
    x = np.array([0, width - 1, 0, width - 1, (width - 1) / 2])
    y = np.array([0, 0, height - 1, height - 1, (height - 1) / 2])
    sky = ours.all_pix2world(x, y, 0)
    px, py = theirs.all_world2pix(*sky, 0)
    return np.hypot(px - x, py - y)


def rms_at_stars(reply, solution):
    """How well a solution puts the matched catalogue stars where they were measured, pixels."""
    stars = [s for s in reply["matched_stars"] if not s["outlier"]]
    px, py = solution.all_world2pix([s["ra_deg"] for s in stars], [s["dec_deg"] for s in stars], 0)
    return float(np.sqrt(np.mean((px - [s["x"] for s in stars])**2 + (py - [s["y"] for s in stars])**2)))


def line(name, reply, note):
    if reply.get("solved"):
        return (f"{name:44} {reply['ra_deg']:9.4f} {reply['dec_deg']:+9.4f} {reply['scale_arcsec_px']:8.4f} "
                f"{reply['rotation_deg']:7.2f} {'yes' if reply['flipped'] else 'no':>4} {reply['matched']:5} "
                f"{reply['rms_px']:6.2f} {reply['expected_rms_px']:6.2f} {reply['seconds']:6.2f}  {note}")
    return f"{name:44} not solved: {note}"


def main():
    program, root = sys.argv[1], pathlib.Path(sys.argv[2])
    if not root.is_dir():
        print("SKIP: the real frames are not here")
        sys.exit(77)
    findings = []
    print(f"{'frame':44} {'RA':>9} {'Dec':>9} {'scale':>8} {'turn':>7} {'flip':>4} {'stars':>5} {'rms':>6} {'expct':>6} "
          f"{'s':>6}  corners against the header")
    with tempfile.TemporaryDirectory() as scratch:
        work = pathlib.Path(scratch)
        for group, must in (("wide_tiff", True), ("dslr_mosaic", True), ("solved_with_tables", True),
                            ("nebula_flat_bias", False), ("too_few_stars", False), ("one_raw_with_faults", False),
                            ("odd_cards", False), ("overscan", False), ("one_field_all_night", False)):
            files = sorted(p for p in (root / group).iterdir() if p.suffix not in (".csv", ".rst") and "flat" not in p.name and
                           "bias" not in p.name)
            if group == "one_field_all_night":
                files = files[:1]
            for path in files:
                words = ["solve", path, "--stars"]
                if group == "solved_with_tables":
                    name = path.name.split(".")[0]
                    code, reply, error = run(program, "catalogue", "import", path, "--columns", "flux=FLUX", "--name", name,
                                             "--into", work / name)
                    if code != 0:
                        findings.append(f"{path.name}: its table is not imported: {error}")
                        continue
                    words += ["--catalogue", work / name]
                code, reply, error = run(program, *words)
                note = ""
                if reply.get("solved"):
                    theirs = header_solution(path)
                    if theirs is not None:
                        off = corner_offsets(reply, theirs)
                        rms = rms_at_stars(reply, theirs)
                        note = f"worst {off.max():.2f} px, middle {off[-1]:.2f} px; the header itself {rms:.2f} px"
                        if must and rms < HEADER_PX and off.max() > CORNER_PX:
                            findings.append(f"{path.name}: a corner is {off.max():.2f} px from where its header puts it")
                else:
                    note = reply.get("reason", error)[:150]
                    if must:
                        findings.append(f"{path.name}: not solved: {note}")
                    elif not note:
                        findings.append(f"{path.name}: refused without a reason")
                print(line(f"{group}/{path.name}"[-44:], reply, note))
    for finding in findings:
        print("NOT AS IT SHOULD BE:", finding)
    sys.exit(1 if findings else 0)


main()

#!/usr/bin/python3
"""Runs `reduce` on real frames of one field and judges what comes with sep and astropy.

Usage: real_sets.py NIGHTGLASS FRAMES_FOLDER SET [--every N]     (SET: one of those below, or all)
Each set is linked into a folder of its own; nothing of it is changed. Exit 0 as it must be, 1 not, 77 cannot run here.

What it must be:
- every light is accepted and its transform agrees with what others measured of these frames (their own WCS, or shifts)
  within the tolerance of the set;
- the master is deeper: (flux of a star / noise of the sky) grows by at least 0.8 sqrt(frames) against one frame reduced
  alone (0.8: real frames differ in sky and transparency, and weights cannot mend that); from 8 frames on this is asked of
  half of them, see depth.py. Of two frames 0.9 sqrt(2) is asked for, as their noise is told from their difference. (In a
  field of FWHM 1.8 px at 10 arcsec per pixel faint stars are as much of one frame's scatter as noise is: with them counted
  two frames seem 1.23 times deeper than one, 1.15 by the noise alone, and 1.41 by what really differs.);
- noise measured and predicted agree within 5 % (both know one per cent of themselves; the frames of the long set also
  share the pattern of a sensor without darks and flats, which no prediction knows);
- its stars are as round and narrow as those of its frame of median FWHM: median elongation at most 0.05 more, half-flux radius at most
  1.15 times (softer frames are let in, with less weight, and resampling widens undersampled stars).
"""
import json
import pathlib
import subprocess
import sys
import tempfile
import warnings

try:
    import depth
    import numpy as np
    import real_truth
except ImportError as missing:
    print(f"SKIP: {missing}")
    sys.exit(77)

# Tolerances: the solutions in the headers agree among themselves to 0.14 ... 0.56 px, the stated shifts are whole or tenths
# of pixels from 7 to 20 soft stars; stars of FWHM 1.8 px trail and jitter, so that sep's isophotal centres shift by 0.2 px.
SETS = {
    "one_field_all_night": {"files": ["*.FITS.gz"], "truth": real_truth.table_and_sep, "tolerance_px": 0.5},
    "solved_with_tables": {"files": ["*.fits.fz"], "truth": real_truth.own_wcs, "tolerance_px": 0.8},
    "nebula_flat_bias": {"files": ["M42*", "flat*", "bias*"], "truth": real_truth.stated_shifts, "tolerance_px": 0.8},
    "dslr_mosaic": {"files": ["*.fits*"], "truth": real_truth.stated_shifts, "tolerance_px": 0.5},
}


def name_of(frame):
    return pathlib.Path(frame["path"]).name


def link(files, folder):
    folder.mkdir(parents=True)
    for path in files:
        (folder / path.name).symlink_to(path.resolve())
    return folder


def reduce(program, folder, out):
    done = subprocess.run([program, "reduce", str(folder), "--out", str(out), "--json"], capture_output=True, text=True)
    if done.returncode != 0:
        return None, done.stderr.strip()
    return json.loads(done.stdout), ""


def mapped(transform, points):
    a, b, c, d, e, f = transform
    return np.stack([a * points[:, 0] + b * points[:, 1] + c, d * points[:, 0] + e * points[:, 1] + f], axis=1)


def judge_transforms(used, reply, files, spec):
    """Distance in the master between our place of a point and our place of the same point in another frame."""
    path_of = {path.name: path for path in files}
    transforms = {name_of(f): f["transform"] for f in used}
    reference = path_of[name_of({"path": reply["reference"]})]
    first = path_of[sorted(transforms)[0]]
    off = {}
    for name, transform in transforms.items():
        points, other, there = spec["truth"](path_of[name], first, reference)
        off[name] = np.hypot(*(mapped(transform, points) - mapped(transforms[other.name], there)).T).max()
    print(f"  transforms against {spec['truth'].__name__}: median {np.median(list(off.values())):.2f} px, at most "
          f"{max(off.values()):.2f} px off")
    return [f"{name}: its transform is {d:.2f} px off (tolerance {spec['tolerance_px']} px)"
            for name, d in off.items() if d > spec["tolerance_px"]]


def reduce_some(program, names, used, files, out):
    """The lights of these names, with all calibration frames."""
    others = {name_of(f) for f in used} - set(names)
    reply, why = reduce(program, link([p for p in files if p.name not in others], out.with_suffix(".in")), out)
    if reply is None:
        raise RuntimeError(f"{len(names)} lights alone: {why}")
    return reply


def typical_of(lights):
    """The one of median FWHM."""
    return sorted(lights, key=lambda f: f["fwhm_px"] or 0)[len(lights) // 2]


def judge_master(program, master, used, files, work):
    """One master against the frame of median FWHM that went into it, reduced alone with the same calibration frames.

    From 8 frames on, the depth is that of the first half of the frames, its noise found against the last half.
    """
    label = f"filter '{master['filter']}'"
    findings = []
    agreement = master["predicted_noise_e"] / master["noise_e"]
    if not 0.95 < agreement < 1.05:
        findings.append(f"{label}: predicted over measured noise is {agreement:.3f}")
    mine = sorted((f for f in used if f["filter"] == master["filter"]), key=name_of)
    if master["frames_used"] < 2:
        return [f"{label}: the master is made of one frame"]
    typical = typical_of(mine)
    single = reduce_some(program, [name_of(typical)], used, files, work / f"alone{label}")["masters"][0]["path"]
    found = depth.compare(master["path"], single, typical["transform"])
    if found is None:
        return [f"{label}: fewer than 5 bright stars in common with one frame"]
    frames = master["frames_used"]
    if len(mine) >= 8:
        frames = len(mine) // 2
        names = [name_of(f) for f in mine]
        first = reduce_some(program, names[:frames], used, files, work / f"first{label}")
        last = reduce_some(program, names[-frames:], used, files, work / f"last{label}")
        noise = depth.noise_of_half(first["masters"][0]["path"], last["masters"][0]["path"])
        there = typical_of([f for f in first["frames"] if f["accepted"] and f["transform"]])
        alone = reduce_some(program, [name_of(there)], used, files, work / f"one{label}")["masters"][0]["path"]
        found["deeper"] = depth.compare(first["masters"][0]["path"], alone, there["transform"], noise)["deeper"]
    if frames == 2:
        other = next(f for f in mine if f is not typical)
        its = reduce_some(program, [name_of(other)], used, files, work / f"other{label}")["masters"][0]["path"]
        one, both, pull = depth.noise_of_two(master["path"], [single, its], [typical["transform"], other["transform"]])
        found["deeper"] = depth.compare(master["path"], single, typical["transform"], both, one)["deeper"]
        # One of the frames was interpolated once more, which takes up to a tenth of the noise of its pixels.
        if not 0.85 < pull < 1.1:
            findings.append(f"{label}: pixels are {pull:.3f} times as noisy as VARIANCE states")
        print(f"  {label}: pixels are {pull:.3f} times as noisy as VARIANCE states")
    root = np.sqrt(frames)
    print(f"  {label}: noise predicted {agreement:.3f} of measured")
    print(f"  {label}: {frames} frames {found['deeper']:.2f} times deeper than one (root {root:.2f}); all: elongation "
          f"{found['elongation']:.3f}, one frame {found['elongation_single']:.3f}; half-flux radius {found['radius']:.2f} px, "
          f"one frame {found['radius_single']:.2f} px; {found['stars']} stars")
    least = (0.9 if frames == 2 else 0.8) * root
    if found["deeper"] < least:
        findings.append(f"{label}: {found['deeper']:.2f} times deeper than one frame, expected at least {least:.2f}")
    if found["elongation"] > found["elongation_single"] + 0.05:
        findings.append(f"{label}: the stars of the master are less round than those of one frame")
    if found["radius"] > 1.15 * found["radius_single"]:
        findings.append(f"{label}: the stars of the master are wider than those of one frame")
    return findings


def judge_set(program, frames, name, every):
    spec = SETS[name]
    files = sorted(p for pattern in spec["files"] for p in (frames / name).glob(pattern))[::every]
    with tempfile.TemporaryDirectory() as folder:
        work = pathlib.Path(folder)
        reply, why = reduce(program, link(files, work / "in"), work / "out")
        if reply is None:
            return [f"{name}: {why}"]
        lights = [f for f in reply["frames"] if f["kind"] == "light"]
        used = [f for f in lights if f["accepted"]]
        residuals = [f["residual_px"] for f in used if f["residual_px"]] or [0]
        print(f"{name}: {len(lights)} lights, {len(used)} used, residual median {np.median(residuals):.3f} px, largest "
              f"{max(residuals):.3f} px; {reply['seconds']:.1f} s")
        findings = [f"{name_of(f)} is left out: {f['reason']}" for f in lights if not f["accepted"]]
        findings += judge_transforms(used, reply, files, spec)
        try:
            for master in reply["masters"]:
                findings += judge_master(program, master, used, files, work)
        except RuntimeError as refused:
            findings.append(str(refused))
    return [f"{name}: {line}" for line in findings]


def main():
    if len(sys.argv) < 4:
        print(__doc__)
        sys.exit(2)
    program, frames, wanted = sys.argv[1], pathlib.Path(sys.argv[2]), sys.argv[3]
    every = int(sys.argv[sys.argv.index("--every") + 1]) if "--every" in sys.argv else 1
    if not frames.is_dir():
        print("SKIP: the folder of real frames is not here")
        sys.exit(77)
    findings = []
    for name in SETS if wanted == "all" else [wanted]:
        findings += judge_set(program, frames, name, every)
    for line in findings:
        print("NOT AS IT MUST BE:", line)
    sys.exit(1 if findings else 0)


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    main()

#!/usr/bin/python3
"""How time and memory of `reduce` grow with the number of lights.

  growth.py PROGRAM [--lights 16,64,256] [--size WxH] [--work FOLDER] [--memory 1] [--keep]

Rehearses one night of 16 lights and gives every further light the pixels of one of them under a header of its own. Runs
`reduce` once for each number of lights, without the calibration frames' share in the growth: they stay the same. Prints
seconds, memory (as in whole_night.py), and the exponents of growth between neighbours, of the time that measuring,
registration and integration take. Fails when an exponent of processor time exceeds 1.05 or memory the budget.
"""
import argparse
import json
import math
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
sys.path.insert(0, str(HERE.parent / "tests" / "reference"))
from rehearsed import run as run_rehearsal  # noqa: E402
from whole_night import measured  # noqa: E402

GROWING = ("measuring lights", "registration", "integration")
LIMIT = 1.05


def copy_with_own_header(source, target, number):
    """The same pixels under another header; sums over the old header are made comments, as they no longer hold."""
    data = bytearray(source.read_bytes())
    for keyword in (b"DATASUM =", b"CHECKSUM="):
        at = data.find(keyword)
        if at >= 0:
            data[at:at + 9] = b"COMMENT  "
    at = data.find(b"COMMENT Rendered")
    data[at:at + 80] = f"COMMENT copy {number} of a rehearsed light".ljust(80).encode()
    at = data.find(b"DATE-OBS= '") + len(b"DATE-OBS= '")
    minutes = number * 5
    data[at:at + 10] = f"2026-{1 + minutes // 1440 // 28 % 12:02d}-{1 + minutes // 1440 % 28:02d}".encode()
    data[at + 11:at + 19] = f"{minutes // 60 % 24:02d}:{minutes % 60:02d}:{number % 60:02d}".encode()
    target.write_bytes(data)


def night_of(lights, base, work):
    night = work / f"night-{lights}"
    for path in sorted(base.glob("*/*.fits")):
        target = night / path.parent.name / path.name
        target.parent.mkdir(parents=True, exist_ok=True)
        if path.parent.name != "light" and not target.exists():
            target.symlink_to(path.resolve())
    originals = sorted((base / "light").glob("*.fits"))
    for i in range(lights):
        target = night / "light" / f"light_{i:04d}.fits"
        if not target.exists():
            copy_with_own_header(originals[i % len(originals)], target, i)
    return night


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("--lights", default="16,64,256")
    parser.add_argument("--size")
    parser.add_argument("--work", type=Path, default=Path("/tmp/nightglass-growth"))
    parser.add_argument("--memory", type=float, default=1, help="GiB, the budget given to reduce")
    parser.add_argument("--keep", action="store_true", help="keep the frames")
    o = parser.parse_args()
    o.work.mkdir(parents=True, exist_ok=True)
    base = o.work / "base"
    if not (base / "truth.json").exists():
        run_rehearsal([o.program, "rehearse", "--night", "large", "--filters", "L", "--lights", "16", "--quiet", "--darks", "8",
                       "--flats", "8", "--bias", "8", "--out", str(base), *(["--size", o.size] if o.size else [])])
    rows, failures = [], []
    for lights in map(int, o.lights.split(",")):
        night = night_of(lights, base, o.work)
        text, cost = measured([o.program, "reduce", str(night), "--out", str(o.work / f"out-{lights}"), "--overwrite", "--json",
                               "--quiet", "--memory", str(o.memory)])
        reply = json.loads(text)
        stages = [s for s in reply["stages"] if s["name"] in GROWING]
        rows.append({"lights": lights, "wall": sum(s["seconds"] for s in stages),
                     "cpu": sum(s["processor_seconds"] for s in stages), **cost})
        used = reply["masters"][0]["frames_used"]
        print(f"{lights:5} lights ({used} used): {cost['wall_s']:7.1f} s, {cost['cpu_s']:7.1f} s of processor, "
              f"{cost['peak_gib']:.2f} GiB", flush=True)
        if used < lights:
            failures.append(f"{lights - used} of {lights} lights were left out")
        if cost["peak_gib"] > o.memory:
            failures.append(f"{lights} lights held {cost['peak_gib']:.2f} GiB, the budget is {o.memory:g} GiB")
        if not o.keep:
            for path in (night / "light").glob("*.fits"):
                path.unlink()
    for a, b in zip(rows, rows[1:]):
        def growth(key):
            return math.log(b[key] / a[key]) / math.log(b["lights"] / a["lights"])
        print(f"{a['lights']} to {b['lights']}: exponent {growth('cpu'):.3f} of processor time, {growth('wall'):.3f} on the wall")
        if growth("cpu") > LIMIT:
            failures.append(f"exponent {growth('cpu'):.3f} from {a['lights']} to {b['lights']} lights")
    for failure in failures:
        print("FAILED: " + failure)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())

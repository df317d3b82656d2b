#!/usr/bin/python3
"""How time and memory of `reduce` grow with the number of lights.

  growth.py PROGRAM [--lights 16,64,256] [--rounds 1] [--size WxH] [--work FOLDER] [--memory 1] [--keep]

Rehearses one night of 16 lights and gives every further light the pixels of one of them under a header of its own. The
calibration frames stay the same and have no share in the growth. In each round every number of lights gets the same time:
16 lights are reduced 16 times where 256 are reduced once, four times before each of 64, so that a machine whose speed
wanders from minute to minute wanders for all of them alike. Prints seconds, memory (as in whole_night.py), and the
exponents of growth between neighbours, of the time that measuring, registration and integration take, each with the
standard error that the rounds' scatter gives. Fails when an exponent of processor time exceeds 1.05 or memory the budget.
"""
import argparse
import json
import math
import statistics
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


def order_of_round(numbers):
    """Every number of lights as often as gives it the time of the largest, the small ones spread between the large ones."""
    order = []
    for larger, smaller in zip(numbers[::-1], numbers[-2::-1]):
        if not order:
            order = [larger]
        often = max(1, round(larger / smaller))
        order = [n for entry in order for n in ([smaller] * often if entry == larger else []) + [entry]]
    return order or numbers


def reduced(o, lights, failures):
    """Processor and wall seconds of the stages that grow, of one run."""
    text, cost = measured([o.program, "reduce", str(o.work / f"night-{lights}"), "--out", str(o.work / f"out-{lights}"),
                           "--overwrite", "--json", "--quiet", "--memory", str(o.memory)])
    reply = json.loads(text)
    stages = [s for s in reply["stages"] if s["name"] in GROWING]
    used = reply["masters"][0]["frames_used"]
    if used < lights:
        failures.add(f"{lights - used} of {lights} lights were left out")
    if cost["peak_gib"] > o.memory:
        failures.add(f"{lights} lights held {cost['peak_gib']:.2f} GiB, the budget is {o.memory:g} GiB")
    return {"cpu": sum(s["processor_seconds"] for s in stages), "wall": sum(s["seconds"] for s in stages),
            "whole": cost["wall_s"], "peak": cost["peak_gib"], **{s["name"]: s["processor_seconds"] for s in stages}}


def mean(runs, key):
    return statistics.fmean(run[key] for run in runs)


def exponent(few, many, ratio, key):
    return math.log(mean(many, key) / mean(few, key)) / math.log(ratio)


def exponents(rounds, a, b, key):
    """The exponent between a and b lights over all rounds, and its standard error by leaving out each round in turn."""
    def over(chosen):
        return exponent([r for c in chosen for r in c[a]], [r for c in chosen for r in c[b]], b / a, key)
    n = len(rounds)
    if n == 1:
        return over(rounds), math.nan
    left_out = [over(rounds[:i] + rounds[i + 1:]) for i in range(n)]
    return over(rounds), math.sqrt((n - 1) * statistics.pvariance(left_out))


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("--lights", default="16,64,256")
    parser.add_argument("--rounds", type=int, default=1)
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
    numbers = sorted(map(int, o.lights.split(",")))
    nights = [night_of(lights, base, o.work) for lights in numbers]
    rounds, failures = [], set()
    for _ in range(o.rounds):
        runs = {lights: [] for lights in numbers}
        for lights in order_of_round(numbers):
            runs[lights].append(reduced(o, lights, failures))
        rounds.append(runs)
        for lights in numbers:
            stages = ", ".join(f"{name} {mean(runs[lights], name) / lights * 1e3:.1f}" for name in GROWING)
            print(f"{lights:5} lights, {len(runs[lights]):2} times: {mean(runs[lights], 'whole'):7.1f} s each, "
                  f"{max(r['peak'] for r in runs[lights]):.2f} GiB; ms of processor a light: {stages}", flush=True)
    for a, b in zip(numbers, numbers[1:]):
        cpu, cpu_error = exponents(rounds, a, b, "cpu")
        wall, wall_error = exponents(rounds, a, b, "wall")
        print(f"{a} to {b}: exponent {cpu:.3f} ± {cpu_error:.3f} of processor time, {wall:.3f} ± {wall_error:.3f} on the wall")
        if cpu > LIMIT:
            failures.add(f"exponent {cpu:.3f} from {a} to {b} lights")
    if not o.keep:
        for night in nights:
            for path in (night / "light").glob("*.fits"):
                path.unlink()
    for failure in sorted(failures):
        print("FAILED: " + failure)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())

#!/usr/bin/python3
"""How fast frames come home, beside a plain verified copy of the same files: cp, sync, and a hash of both sides.

  ingest_rate.py PROGRAM [FOLDER] [--frames 12] [--megapixels 16] [--rounds 9]

Both run in turn, in FOLDER (of the disk that is asked about), every second round in the other order. The copy is hashed once
from the disk, its pages dropped after sync, which is what ingest does; and once as it comes, mostly from memory, which says
nothing of the disk and is shown beside. The hash is xxhsum's (as ours) where it is installed, and sha256sum's. Fails when
not every file came home whole, or below 80 % of the rate of the quicker copy that was read from the disk. It is wall time:
each round compares what ran side by side, and the median of these shares is what counts; their spread is shown.
"""
import argparse
import json
import os
import pathlib
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

import numpy
from astropy.io import fits

SHARE = 0.8

parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
parser.add_argument("program")
parser.add_argument("folder", nargs="?")
parser.add_argument("--frames", type=int, default=12)
parser.add_argument("--megapixels", type=int, default=16)
parser.add_argument("--rounds", type=int, default=9)
args = parser.parse_args()


def make_card(card):
    card.mkdir()
    rng = numpy.random.default_rng(8)
    for i in range(args.frames):
        hdu = fits.PrimaryHDU(rng.integers(0, 60000, (4000, 250 * args.megapixels), dtype=numpy.uint16))
        hdu.header.update({"IMAGETYP": "LIGHT", "OBJECT": "M 33", "DATE-OBS": f"2027-01-05T22:{i:02d}:00"})
        hdu.writeto(card / f"{i:02d}.fits")


def timed(work, name):
    started = time.monotonic()
    work()
    return name, time.monotonic() - started


def plain(card, to, tool, from_disk):
    files = sorted(card.iterdir())
    subprocess.run(["cp", *files, to], check=True)
    copies = [to / f.name for f in files]
    subprocess.run(["sync", *copies], check=True)
    for copy in copies if from_disk else []:
        with open(copy, "rb") as file:
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    sums = [subprocess.run([*tool, *side], check=True, capture_output=True, text=True).stdout for side in (files, copies)]
    assert [line.split()[0] for line in sums[0].splitlines()] == [line.split()[0] for line in sums[1].splitlines()]


def ingest(card, home):
    done = subprocess.run([args.program, "ingest", card, "--workspace", home, "--json"], capture_output=True, text=True)
    assert done.returncode == 0 and json.loads(done.stdout)["copied"] == args.frames, done.stderr


work = pathlib.Path(tempfile.mkdtemp(dir=args.folder))
try:
    card = work / "card"
    make_card(card)
    total = sum(p.stat().st_size for p in card.iterdir())
    tools = {"cp + sha256sum": (["sha256sum"], True)}
    if shutil.which("xxhsum"):
        tools["cp + xxhsum"] = (["xxhsum", "-H2"], True)
        tools["cp + xxhsum, from memory"] = (["xxhsum", "-H2"], False)
    seconds = {}
    for i in range(args.rounds):
        home = work / f"mine{i}"
        subprocess.run([args.program, "init", home], check=True, capture_output=True)
        names = ["ingest", *tools]
        runs = []
        for name in names if i % 2 == 0 else reversed(names):
            if name == "ingest":
                runs.append(timed(lambda: ingest(card, home), name))
                continue
            to = work / "plain"
            to.mkdir()
            runs.append(timed(lambda: plain(card, to, *tools[name]), name))
            shutil.rmtree(to)
        shutil.rmtree(home)
        for name, passed in runs:
            seconds.setdefault(name, []).append(passed)
    rates = {name: total / statistics.median(passed) / 1e6 for name, passed in seconds.items()}
    for name, rate in rates.items():
        print(f"{name:<25} {rate:7.0f} MB/s   rounds: {', '.join(f'{s:.2f} s' for s in seconds[name])}")
    quickest = max((name for name, (_, from_disk) in tools.items() if from_disk), key=rates.get)
    shares = sorted(theirs / ours for theirs, ours in zip(seconds[quickest], seconds["ingest"]))
    share = statistics.median(shares)
    print(f"ingest has {100 * share:.0f} % of the rate of {quickest} that was read from the disk "
          f"(rounds {100 * shares[0]:.0f} to {100 * shares[-1]:.0f} %)")
    sys.exit(0 if share >= SHARE else 1)
finally:
    shutil.rmtree(work)

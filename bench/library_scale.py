#!/usr/bin/python3
"""The library with many frames: how long opening, searching and rebuilding take, with the answers checked.

  library_scale.py PROGRAM [FRAMES] [--folder WORK]      100000 frames by default; about 1 GB below WORK (best a memory disk)

Frames of 16 x 8 pixels with whole headers, 40 targets through 4 filters, two a night over 500 nights. Rebuild is measured with the files in
memory (read once before). Each search runs five times; the median counts. Fails above 200 ms of processor time for opening (the
whole command with a search that finds nothing, the start of the program included), above 50 ms more for searching, below 500
files a second of processor time for the rebuild, or where an answer is not what was written.
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

OPEN_MS, SEARCH_MS, FILES_PER_S = 200, 50, 500
TARGETS, FILTERS, NIGHTS = 40, "L Ha OIII SII".split(), 500
REPEATS = 5


def card(name, value):
    text = f"'{value}'" if isinstance(value, str) else str(value)
    return f"{name:<8}= {text:>20}".ljust(80)


def night_of(i):
    return i * NIGHTS // total


def target_of(i):
    """Two a night."""
    return (2 * night_of(i) + i // 100 % 2) % TARGETS


def filter_of(i):
    return FILTERS[i // 25 % 4]


def fits_bytes(i):
    night = night_of(i)
    cards = ["SIMPLE  =                    T".ljust(80), card("BITPIX", 16), card("NAXIS", 2), card("NAXIS1", 16),
             card("NAXIS2", 8), card("IMAGETYP", "LIGHT"), card("OBJECT", f"Field {target_of(i)}"),
             card("FILTER", filter_of(i)), card("EXPTIME", 120.0), card("GAIN", 100), card("CCD-TEMP", -10.0),
             card("INSTRUME", "chip"), card("SITELAT", 46.4), card("SITELONG", 9.3),
             card("DATE-OBS", f"20{20 + night // 336:02d}-{1 + night // 28 % 12:02d}-{1 + night % 28:02d}T22:{i % 60:02d}:00"), "END".ljust(80)]
    return "".join(cards).encode().ljust(2880) + i.to_bytes(4, "big").ljust(2880, b"\0")


def run(*words):
    """Reply, and seconds of processor time: on a machine that does other work too, wall time means little."""
    with subprocess.Popen([args.program, *map(str, words), "--json"], stdout=subprocess.PIPE, text=True) as child:
        reply = child.stdout.read()
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode != 0:
        sys.exit(child.returncode)
    return json.loads(reply), used.ru_utime + used.ru_stime


def search(*words):
    """Reply, and medians in ms: wall time of opening, searching and summing; processor time of the whole command."""
    tries = [run("library", "list", "--workspace", home, *words) for _ in range(REPEATS)]
    return tries[0][0], 1e3 * statistics.median(r["seconds"] for r, _ in tries), 1e3 * statistics.median(s for _, s in tries)


parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
parser.add_argument("program")
parser.add_argument("frames", nargs="?", type=int, default=100000)
parser.add_argument("--folder")
args = parser.parse_args()
total = args.frames
work = pathlib.Path(tempfile.mkdtemp(dir=args.folder))
home = work / "mine"
try:
    subprocess.run([args.program, "init", home], check=True, capture_output=True)
    for i in range(total):
        folder = home / f"frames/Field {target_of(i)}/{i // 1000}"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"{i:06d}.fits").write_bytes(fits_bytes(i))
    slow = []
    for what in ("rebuild, first", "rebuild, again"):
        reply, used = run("library", "rebuild", "--workspace", home)
        rate = total / used
        print(f"{what:<28} {reply['seconds']:8.1f} s  {used:8.1f} s of processor  {rate:8.0f} files/s of processor time")
        assert reply["frames"] == total, reply
        if rate < FILES_PER_S:
            slow.append(what)
    evening = "2020-01-28"
    searches = (
        ("nothing (opening)", ("--target", "not there"), lambda i: False),
        ("one target, one filter", ("--target", "Field 7", "--filter", "Ha"), lambda i: (target_of(i), filter_of(i)) == (7, "Ha")),
        ("one night", ("--from", evening, "--to", evening), lambda i: night_of(i) == 27),
        ("one target, a month", ("--target", "Field 7", "--from", "2020-02-01", "--to", "2020-02-28"),
         lambda i: target_of(i) == 7 and 28 <= night_of(i) < 56),
        ("sharp ones (none)", ("--max-fwhm-px", 3), lambda i: False),
        ("darks (none)", ("--kind", "dark"), lambda i: False),
        ("everything, the first 200", ("--limit", 200), lambda i: True),
        ("one target, the first 200", ("--target", "Field 7", "--limit", 200), lambda i: target_of(i) == 7),
        ("everything", (), lambda i: True))
    for what, words, fits in searches:
        matching = sum(map(fits, range(total)))
        wanted = min(matching, 200) if "--limit" in words else matching
        reply, inside, whole = search(*words)
        found = len(reply["frames"])
        print(f"{what:<28} {found:8d} frames  {inside:8.1f} ms to open, search and sum; {whole:8.1f} ms of processor, the whole command")
        assert (found, reply["matching"]) == (wanted, matching), (what, found, wanted, reply["matching"])
        assert sum(h["frames"] for h in reply["hours"]) == total
        if what.startswith("nothing"):
            opening = whole
            slow += [what] if whole > OPEN_MS else []
        elif what != "everything" and whole - opening > SEARCH_MS:
            slow.append(what)
    print("too slow: " + ", ".join(slow) if slow else "all within the limits")
    sys.exit(1 if slow else 0)
finally:
    shutil.rmtree(work)

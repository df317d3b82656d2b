"""library_clock.py PROGRAM SHIM: the clock of the computer goes backwards by two years between two ingests, and that of the
camera between two frames. Nothing is lost, the order and the index stay as they were, ages are told or called unknown."""
import datetime
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy
from astropy.io import fits

program, shim = sys.argv[1:3]
BEFORE, AFTER = "2029-02-01", "2027-02-01"  # what the clock says at the first ingest and at the second
TABLES = {"frames": "SELECT f.path, f.hash, f.start_us, n.evening FROM frames f LEFT JOIN nights n ON n.id = night_id ORDER BY path",
          "hours": "SELECT * FROM hours ORDER BY 1, 2"}


def run(day, *words):
    offset = datetime.datetime.fromisoformat(day + "T12:00:00+00:00").timestamp() - datetime.datetime.now().timestamp()
    told = {**os.environ, "LD_PRELOAD": shim, "CLOCK_OFFSET_S": str(int(offset))}
    done = subprocess.run([program, *map(str, words), "--json"], capture_output=True, text=True, env=told)
    assert done.returncode == 0, (words, done.stdout, done.stderr)
    return json.loads(done.stdout) if done.stdout else None


def frame(path, kind, date, seed):
    path.parent.mkdir(exist_ok=True)
    hdu = fits.PrimaryHDU(numpy.random.default_rng(seed).integers(900, 1100, (300, 400), dtype=numpy.uint16))
    hdu.header.update({"IMAGETYP": kind, "DATE-OBS": date, "EXPTIME": 300.0, "GAIN": 100, "CCD-TEMP": -10.0, "INSTRUME": "C"})
    if kind == "LIGHT":
        hdu.header["OBJECT"] = "M 33"
    hdu.writeto(path)


def content(mine):
    shell = [subprocess.run(["sqlite3", "-readonly", "-json", mine / "library.db", query], capture_output=True, text=True,
                            check=True).stdout for query in TABLES.values()]
    return [json.loads(text or "[]") for text in shell]


def files(folder):
    return {p.read_bytes() for p in folder.rglob("*.fits")}


def dark_need(mine, day):
    reply = run(day, "library", "calibration", "--workspace", mine, "--light-s", 300, "--filter", "L", "--headers-only")
    return next(n for n in reply["needs"] if n["kind"] == "dark")


def main():
    if shutil.which("sqlite3") is None:
        print("SKIP: the sqlite3 shell is not installed")
        sys.exit(77)
    work = Path(tempfile.mkdtemp())
    try:
        first, second, mine = work / "first", work / "second", work / "mine"
        for i in range(3):
            frame(first / f"light_{i}.fits", "LIGHT", f"2028-11-05T22:{5 * i:02d}:00", i)
            frame(first / f"dark_{i}.fits", "DARK", f"2028-11-06T03:{5 * i:02d}:00", 10 + i)
        # The camera's clock goes back by an hour, so that two frames begin at one moment; then it forgets the year.
        frame(second / "light_0.fits", "LIGHT", "2028-11-05T22:00:00", 20)
        frame(second / "light_1.fits", "LIGHT", "2028-11-05T21:05:00", 21)
        frame(second / "light_2.fits", "LIGHT", "2000-01-01T00:10:00", 22)
        subprocess.run([program, "init", mine, "--size", "400x300"], check=True, capture_output=True)

        came = run(BEFORE, "ingest", first, "--workspace", mine)
        assert came["copied"] == 6 and not any(f["doubt"] for f in came["files"]), came
        held = content(mine)
        need = dark_need(mine, BEFORE)
        # From midnight of the evening's date to noon of the clock's: 88.5 days, within a minute that the test may take.
        assert abs(need["age_days"] - 88.5) < 1e-3 and need["state"] == "few", need

        again = run(AFTER, "ingest", first, "--workspace", mine)
        assert (again["copied"], again["there_already"]) == (0, 6), again
        assert all("after the clock of this computer" in f["doubt"] for f in again["files"]), again
        assert content(mine) == held
        need = dark_need(mine, AFTER)
        assert need.get("age_days") is None and need["have"] == 3, need
        assert any("the age is not known" in note for note in need["notes"]), need

        came = run(AFTER, "ingest", second, "--workspace", mine)
        assert came["copied"] == 3, came
        assert [bool(f["doubt"]) for f in came["files"]] == [True, True, False], came
        assert files(mine / "frames") == files(first) | files(second), "a frame was lost"
        held = content(mine)
        assert len(held[0]) == 9 and held[0][0]["path"] < held[0][-1]["path"]
        listed = [run(day, "library", "list", "--workspace", mine)["frames"] for day in (BEFORE, AFTER)]
        assert listed[0] == listed[1] and [f["path"] for f in listed[0]] == [row["path"] for row in held[0]]
        assert {f["night"] for f in listed[0]} == {"2028-11-05", "1999-12-31"}, listed[0]

        for day in (AFTER, BEFORE, AFTER):
            made = run(day, "library", "rebuild", "--workspace", mine)
            assert made["frames"] == 9 and not made["changed"] and not made["left_out"], made
            assert content(mine) == held, "a rebuild goes by the clock of the computer"
            checked = run(day, "library", "check", "--workspace", mine)
            assert checked["whole"] == 9 and not checked["unknown"], checked
        print("9 frames home under clocks two years apart; the same index from three rebuilds; ages told or called unknown")
    finally:
        shutil.rmtree(work)


main()

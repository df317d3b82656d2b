"""library_survival.py PROGRAM [KILLS]: kills ingest, rebuild and migration at random moments until that many kills met the
program at work, then goes on; nothing may be lost or half. The whole campaign has 200."""
import json
import contextlib
import os
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy
from astropy.io import fits

program, kills = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 12
FRAMES = 24
SCHEMA = Path(__file__).resolve().parents[1] / "src/store/schema.h"
OLD_TABLES = re.findall(r'R"\((.*?)\)"', SCHEMA.read_text(encoding="utf-8"), re.DOTALL)[:2]
KINDS = ("ingest", "ingest, gone on with", "rebuild", "migration")


def make_card(card, rng):
    """Frames of two nights, and names that make trouble: Latin-1 bytes, 255 bytes, a loop of links, a copy."""
    names = [f"Light_{i:04d}.fits".encode() for i in range(FRAMES - 2)]
    names += [b"caf\xe9.fits", b"n" * 250 + b".fits"]
    for i, name in enumerate(names):
        hdu = fits.PrimaryHDU(rng.integers(0, 60000, (500, 700), dtype=numpy.uint16))
        hdu.header.update({"IMAGETYP": "LIGHT", "OBJECT": "M 33", "FILTER": "Ha", "EXPTIME": 300.0,
                           "DATE-OBS": f"2027-01-{5 + i % 2:02d}T22:{i:02d}:00"})
        with open(os.path.join(os.fsencode(card), name), "wb") as file:
            hdu.writeto(file)
    os.symlink(card, card / "loop")
    shutil.copy(card / "Light_0000.fits", card / "copy.fits")


def contents(folder):
    return sorted(p.read_bytes() for p in folder.rglob("*") if p.is_file() and not p.name.startswith("."))


def run(*words):
    return subprocess.run([program, *map(str, words)], capture_output=True, text=True)


def check_state(home, wanted):
    """After a kill: every file under a final name is one of the card's, whole; the index is sound."""
    for content in contents(home / "frames"):
        assert content in wanted, "a file under a final name is not one of the card's"
    if (home / "library.db").exists():
        with contextlib.closing(sqlite3.connect(home / "library.db")) as db:
            assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            assert not db.execute("PRAGMA foreign_key_check").fetchall()


def make_old(home, rows):
    """An index as the program of two tables ago left it."""
    for part in home.glob("library.db*"):
        part.unlink()
    with contextlib.closing(sqlite3.connect(home / "library.db")) as db:
        db.execute("PRAGMA journal_mode = WAL")
        for step in OLD_TABLES:
            db.executescript(step)
        db.execute("INSERT INTO targets VALUES (1, 'M 33')")
        columns = "path, hash, bytes, kind, target_id, filter, camera, width, height, binning_x, binning_y, exposure_s"
        db.executemany(f"INSERT INTO frames ({columns}) VALUES (?, ?, 9, 'light', 1, 'Ha', '', 4, 3, 1, 1, 300)",
                       [(f"{i}.fits", f"hash{i}") for i in range(rows)])
        db.execute("PRAGMA user_version = 2")
        db.commit()


def check_migration(home, rows):
    """After a kill: old or new, never between; the program goes on with it, and no row is lost."""
    with contextlib.closing(sqlite3.connect(home / "library.db")) as db:
        version = db.execute("PRAGMA user_version").fetchone()[0]
        tables = {name for name, in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        assert (version == 2) == ("masters" not in tables), (version, tables)
        assert db.execute("SELECT count(*) FROM frames").fetchone()[0] == rows
    listed = run("library", "list", "--workspace", home, "--json")
    assert listed.returncode == 0 and json.loads(listed.stdout)["hours"][0]["frames"] == rows, listed.stderr


def main():
    random.seed(6)
    work = Path(tempfile.mkdtemp())
    try:
        card, home = work / "card", work / "home"
        card.mkdir()
        make_card(card, numpy.random.default_rng(6))
        before = contents(card)
        wanted = set(before)
        assert len(wanted) == FRAMES and len(before) == FRAMES + 1
        assert run("init", home).returncode == 0
        ingest = ["ingest", card, "--workspace", home, "--json"]
        started = time.monotonic()
        first = run(*ingest)
        whole_s = time.monotonic() - started
        assert first.returncode == 0, first.stderr
        assert contents(home / "frames") == sorted(wanted)

        started = time.monotonic()
        assert run("library", "rebuild", "--workspace", home).returncode == 0
        rebuild_s = time.monotonic() - started
        started = time.monotonic()
        assert run(*ingest).returncode == 0
        again_s = time.monotonic() - started
        old = work / "old"
        assert run("init", old).returncode == 0
        rows = 5000
        make_old(old, rows)
        started = time.monotonic()
        assert run("library", "list", "--workspace", old, "--kind", "dark").returncode == 0
        seconds = {"migration": time.monotonic() - started, "rebuild": rebuild_s, "ingest": whole_s,
                   "ingest, gone on with": again_s}
        met, tries = dict.fromkeys(KINDS, 0), 0
        while sum(met.values()) < kills:
            kind = KINDS[tries % len(KINDS)]
            tries += 1
            assert tries < 20 * kills, f"only {met} kills met the program at work"
            if kind == "ingest":
                shutil.rmtree(home / "frames", ignore_errors=True)
                for part in home.glob("library.db*"):
                    part.unlink()
            elif kind == "migration":
                make_old(old, rows)
            words = {"rebuild": ["library", "rebuild", "--workspace", home],
                     "migration": ["library", "list", "--workspace", old, "--kind", "dark"]}.get(kind, ingest)
            child = subprocess.Popen([program, *map(str, words)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            time.sleep(random.uniform(0, seconds[kind]))
            child.send_signal(signal.SIGKILL)
            met[kind] += child.wait() == -signal.SIGKILL
            check_state(home, wanted)
            if kind == "migration":
                check_migration(old, rows)
                check_state(old, set())
            if tries % 40 == 0:
                print(f"{tries} kills, {sum(met.values())} met the program at work", flush=True)

        last = run(*ingest)
        assert last.returncode == 0, last.stderr
        assert contents(home / "frames") == sorted(wanted), "frames lost or doubled"
        assert contents(card) == before, "the source changed"
        assert not list((home / "frames").rglob(".*.part"))
        columns = "path, hash, bytes, kind, filter, start_us, exposure_s"
        query = ["sqlite3", "-readonly", home / "library.db", f"SELECT {columns} FROM frames ORDER BY path"]
        rows = subprocess.run(query, capture_output=True, text=True, check=True).stdout
        assert rows.count("\n") == FRAMES
        (home / "library.db").write_bytes(b"no database" * 999)
        assert run("library", "list", "--workspace", home).returncode == 1
        rebuilt = run("library", "rebuild", "--workspace", home)
        assert rebuilt.returncode == 0, rebuilt.stderr
        assert subprocess.run(query, capture_output=True, text=True, check=True).stdout == rows
        assert (home / "library.db.damaged-1").exists()

        victim, moved, gone = sorted((home / "frames").rglob("Light_*.fits"))[:3]
        flipped = bytearray(victim.read_bytes())
        flipped[9000] ^= 1
        victim.write_bytes(flipped)
        moved.rename(home / "frames" / "elsewhere.fits")
        gone.unlink()
        found = run("library", "check", "--workspace", home)
        assert found.returncode == 1
        for word in ("1 changed", "1 missing", "1 moved", f"{FRAMES - 2} frames are whole", victim.name, gone.name):
            assert word in found.stdout, (word, found.stdout)
        # A copy that has rotted, or is gone, does not make the card's file one that is there already.
        again = run(*ingest)
        assert again.returncode == 0 and json.loads(again.stdout)["copied"] == 2, again.stdout
        assert wanted <= set(contents(home / "frames")), "the card's frames are not all at home"
        assert victim.read_bytes() == bytes(flipped), "the damaged file was touched"
        # Rebuilt, the index holds the whole copy and not the damaged one of the same name.
        assert run("library", "rebuild", "--workspace", home).returncode == 0
        assert run("library", "check", "--workspace", home).returncode == 0
        print(f"{tries} kills, {sum(met.values())} met the program at work: {met}; nothing lost, nothing half")
    finally:
        shutil.rmtree(work)


main()

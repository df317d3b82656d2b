"""library_free.py PROGRAM: a card is freed of what is whole at home, with a word, and of nothing else."""
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy
from astropy.io import fits

program = sys.argv[1]
FRAMES = 7


def run(*words):
    return subprocess.run([program, *map(str, words)], capture_output=True, text=True)


def make_card(card, rng):
    card.mkdir()
    for i in range(FRAMES):
        hdu = fits.PrimaryHDU(rng.integers(0, 60000, (50, 70), dtype=numpy.uint16))
        hdu.header.update({"IMAGETYP": "LIGHT", "OBJECT": "M 33", "FILTER": "Ha", "EXPTIME": 300.0,
                           "DATE-OBS": f"2027-01-05T22:{i:02d}:00"})
        hdu.writeto(card / f"{i}.fits")
    (card / "notes.txt").write_text("clear, no wind; the list of a night is no frame")
    shutil.copy(card / "0.fits", card / "double.fits")
    os.symlink(card / "0.fits", card / "link.fits")
    (card / ".hidden.fits").write_bytes((card / "0.fits").read_bytes())


def names(card):
    return sorted(p.name for p in card.iterdir())


def main():
    work = Path(tempfile.mkdtemp())
    try:
        card, home = work / "card", work / "mine"
        make_card(card, numpy.random.default_rng(2))
        everything = names(card)
        assert run("init", home).returncode == 0
        free = ["library", "free", card, "--workspace", home]

        before = run(*free, "--confirm", "remove", "--json")
        assert before.returncode == 0 and json.loads(before.stdout)["removed"] == 0, "removed what is not at home"
        came = run("ingest", card, "--workspace", home)
        assert came.returncode == 0, came.stdout + came.stderr
        at_home = home / "frames/M 33/Ha/2027-01-05/light"

        rotten = bytearray((at_home / "1.fits").read_bytes())
        rotten[-5000] ^= 4
        (at_home / "1.fits").write_bytes(rotten)
        (at_home / "2.fits").unlink()
        (card / "3.fits").write_bytes((card / "3.fits").read_bytes() + b"x" * 2880)  # grew after it came home
        (card / "4.fits").unlink()
        os.link(at_home / "4.fits", card / "4.fits")  # the card's file is the library's own

        said = run(*free)
        assert said.returncode == 0 and names(card) == everything, "removed without the word"
        assert "add: --confirm remove" in said.stderr, said.stderr
        assert run(*free, "--confirm", "yes").returncode == 2 and names(card) == everything

        done = run(*free, "--confirm", "remove", "--json")
        assert done.returncode == 0, done.stderr
        reply = json.loads(done.stdout)
        left = [".hidden.fits", "1.fits", "2.fits", "3.fits", "4.fits", "link.fits", "notes.txt"]
        assert names(card) == left, names(card)
        assert (reply["removed"], reply["kept"]) == (4, 6), reply  # 0, its double, 5, 6
        reasons = {Path(f["from"]).name: f["reason"] for f in reply["files"] if f["status"] == "kept"}
        for name, word in (("1.fits", "has changed"), ("2.fits", "cannot be read"), ("3.fits", "does not have it"),
                           ("4.fits", "own file"), ("link.fits", "a link"), ("notes.txt", "does not have it")):
            assert word in reasons[name], (name, reasons[name])
        for name in ("0.fits", "5.fits", "6.fits"):
            assert (at_home / name).is_file()

        for inside in (home, home / "frames", work):
            refused = run("library", "free", inside, "--workspace", home, "--confirm", "remove")
            assert refused.returncode == 1 and "the workspace" in refused.stderr, refused.stderr
        print("4 of 10 files removed, 6 kept with their reasons")
    finally:
        shutil.rmtree(work)


main()

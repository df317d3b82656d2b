"""library_hazards.py PROGRAM: the card is pulled out halfway, the disk fills up halfway, two ingests run at once.

The disk that fills up needs a small file system of its own; where none can be mounted, that part is left out and said.
"""
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy
from astropy.io import fits

program = sys.argv[1]
IN_OWN_MOUNTS = "NG_HAZARDS_IN_OWN_MOUNTS"


def enter_own_mounts():
    """Once more where small file systems vanish with it; without them where that is forbidden."""
    if IN_OWN_MOUNTS in os.environ:
        return os.environ[IN_OWN_MOUNTS] == "yes"
    probe = ["unshare", "--mount", "sh", "-c", 'd=$(mktemp -d) && mount -t tmpfs none "$d"']
    able = shutil.which("unshare") is not None and subprocess.run(probe, capture_output=True).returncode == 0
    os.environ[IN_OWN_MOUNTS] = "yes" if able else "no"
    if able:
        os.execvp("unshare", ["unshare", "--mount", sys.executable, "-B", *sys.argv])
    return able


def make_card(card, count, megapixels):
    card.mkdir()
    rng = numpy.random.default_rng(5)
    for i in range(count):
        hdu = fits.PrimaryHDU(rng.integers(0, 60000, (1000, int(1000 * megapixels)), dtype=numpy.uint16))
        hdu.header.update({"IMAGETYP": "LIGHT", "OBJECT": "M 33", "FILTER": "Ha", "DATE-OBS": f"2027-01-05T22:{i:02d}:00"})
        hdu.writeto(card / f"{i:02d}.fits")
    return {p.read_bytes() for p in card.iterdir()}


def start(*words):
    return subprocess.Popen([program, *map(str, words), "--json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def home_of(mine):
    return {p.read_bytes() for p in (mine / "frames").rglob("*.fits")}


def judge(name, child, mine, wanted, ingest):
    """The first run may fail, in words and with its list; what it calls home is home; the second run brings the rest."""
    stdout, stderr = child.communicate()
    reply = json.loads(stdout) if stdout else {"copied": 0, "failed": 0, "not_reached": 0, "files": []}
    assert child.returncode in (0, 1), (name, child.returncode, stderr)
    assert (child.returncode == 1) == bool(stderr), (name, stderr)
    for file in reply["files"]:
        if file["status"] == "copied":
            assert (mine / "frames" / file["path"]).is_file(), (name, file)
    assert home_of(mine) <= wanted and len(home_of(mine)) >= reply["copied"], name
    assert not list(mine.rglob("*.part")), name
    again = start(*ingest)
    again.communicate()
    assert again.returncode == 0 and home_of(mine) == wanted, name
    print(f"{name}: {reply['copied']} copied, {reply['failed']} failed, {reply['not_reached']} not reached; then all {len(wanted)}")


def copied_some(mine, count):
    while len(list((mine / "frames").rglob("*.fits"))) < count:
        time.sleep(0.002)


def main():
    mounts = enter_own_mounts()
    work = Path(tempfile.mkdtemp())
    try:
        card = work / "card"
        wanted = make_card(card, 20, 4)

        mine = work / "pulled"
        subprocess.run([program, "init", mine], check=True, capture_output=True)
        ingest = ["ingest", card, "--workspace", mine]
        child = start(*ingest)
        copied_some(mine, 3)
        card.rename(work / "gone")
        child.wait()
        (work / "gone").rename(card)
        judge("card pulled out", child, mine, wanted, ingest)

        mine = work / "two"
        subprocess.run([program, "init", mine], check=True, capture_output=True)
        ingest = ["ingest", card, "--workspace", mine]
        first, second = start(*ingest), start(*ingest)
        told = second.communicate()[1]
        assert second.returncode == 0 or "another nightglass writes" in told, told
        judge("two at once", first, mine, wanted, ingest)

        if not mounts:
            print("disk full: left out, file systems cannot be mounted here")
            return
        mine = work / "full"
        mine.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=260M", "none", mine], check=True)
        subprocess.run([program, "init", mine], check=True, capture_output=True)
        ingest = ["ingest", card, "--workspace", mine]
        child = start(*ingest)
        copied_some(mine, 3)
        try:
            with open(mine / "filler", "wb") as filler:  # another program takes what was free
                for _ in range(260):
                    filler.write(bytes(1 << 20))
                    filler.flush()
        except OSError:
            pass
        child.wait()
        (mine / "filler").unlink(missing_ok=True)
        judge("disk full", child, mine, wanted, ingest)
        subprocess.run(["umount", "-l", mine], check=False)
    finally:
        shutil.rmtree(work, ignore_errors=True)


main()

"""library_add_away.py PROGRAM: a night is added to masters that came from another workspace, which is gone: their frames are found by
their content, under other names too. Masters outside of masters/ are told, and known once they are moved there."""
import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

program = sys.argv[1]
NAME = "NGC_2237_L.fits"


def run(*words):
    done = subprocess.run([program, *map(str, words)], capture_output=True, text=True)
    assert done.returncode == 0, (words, done.stdout, done.stderr)
    return json.loads(done.stdout) if "--json" in words else done.stdout


def but_for_names(path):
    """A FITS file in pieces of a card each, without those that name the reference (a file that arrived may have another name)
    or sum it all up."""
    data = path.read_bytes()
    cards = (data[i:i + 80] for i in range(0, len(data), 80))
    return [card for card in cards if not card.startswith((b"HISTORY nightglass: ", b"CHECKSUM"))]


def main():
    work = Path(tempfile.mkdtemp())
    try:
        night, second, mine, away = (work / name for name in ("night", "second", "mine", "away"))
        run("rehearse", "--out", night, "--night", "large", "--size", "700x500", "--lights", 7, "--darks", 3, "--flats", 3,
            "--bias", 0, "--dark-flats", 3, "--quiet")
        lights = sorted((night / "light").glob("*.fits"))
        second.mkdir()
        for path in lights[4:]:
            path.rename(second / path.name)
        run("init", mine)
        run("ingest", night, "--workspace", mine)
        outside = work / "outside"
        told = run("reduce", "--target", "NGC 2237", "--workspace", mine, "--out", outside, "--json")
        assert any("library rebuild" in note for note in told["notes"]), told["notes"]
        outside.rename(mine / "masters/first")
        assert run("library", "rebuild", "--workspace", mine, "--json")["masters"] == 1
        told = run("reduce", "--target", "NGC 2237", "--workspace", mine, "--out", mine / "masters/again", "--json")
        assert not any("library rebuild" in note for note in told["notes"]), told["notes"]
        assert run("library", "export", "NGC 2237", "--workspace", mine, "--to", work / "export", "--json")["counts"]["masters"] > 8

        # Elsewhere the name of the first light is taken by one of another night, of another target.
        run("init", away)
        first = next((mine / "frames").glob(f"**/{lights[0].name}"))
        taken = away / first.relative_to(mine)
        taken.parent.mkdir(parents=True)
        taken.write_bytes((second / lights[4].name).read_bytes())
        run("library", "rebuild", "--workspace", away)
        arrived = run("library", "import", work / "export", "--workspace", away, "--json")
        assert any(lights[0].name in f["path"] for f in arrived["renamed"]), arrived["renamed"]
        shutil.rmtree(mine)
        shutil.rmtree(work / "export")
        added = run("reduce", second, "--out", away / "masters/first", "--add", "--json")
        assert added["masters"][0]["frames_used"] == 7 and added["measures_kept"] == 4, added["measures_kept"]
        for path in second.glob("*.fits"):
            path.rename(night / "light" / path.name)
        run("reduce", night, "--out", work / "once", "--json")
        assert but_for_names(work / "once" / NAME) == but_for_names(away / "masters/first" / NAME), "other bits than all at once"
        print("added to imported masters: the same bits as all at once")
    finally:
        shutil.rmtree(work)


main()

"""library_masters.py PROGRAM: calibration masters that a reduction kept are taken by the next one, to the same bits; and never where
a frame was added, removed or changed, the algorithm is another one, or the kept file has rotted."""
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


def rehearse(out, seed, **counts):
    words = [word for name, n in counts.items() for word in ("--" + name.replace("_", "-"), n)]
    run("rehearse", "--out", out, "--night", "large", "--size", "700x500", "--seed", seed, *words, "--quiet")


class Workspace:
    def __init__(self, work, name):
        self.work, self.folder, self.count = work, work / name, 0
        run("init", self.folder)

    def ingest(self, folder):
        run("ingest", folder, "--workspace", self.folder)

    def reduce(self):
        """A new reduction: how many masters it took, its notes, the master's bytes, its recipe."""
        self.count += 1
        out = self.work / f"{self.folder.name}-{self.count}"
        reply = run("reduce", "--target", "NGC 2237", "--workspace", self.folder, "--out", out, "--json")
        recipe = json.loads((out / NAME).with_suffix(".recipe.json").read_text())
        return reply["masters_kept"], reply["notes"], (out / NAME).read_bytes(), recipe

    def states(self):
        shelf = run("library", "calibration", "--workspace", self.folder, "--headers-only", "--json")
        return {Path(m["path"]).name.split("_")[0]: m for m in shelf["masters"]}

    def rebuild(self):
        run("library", "rebuild", "--workspace", self.folder)

    def check(self):
        """How many masters are whole, and what is said of the others."""
        done = subprocess.run([program, "library", "check", "--workspace", self.folder, "--json"], capture_output=True, text=True)
        reply = json.loads(done.stdout)
        assert done.returncode == (1 if reply["products_damaged"] else 0), done.stderr
        return reply["products_whole"], reply["products_damaged"]

    def kept(self, ending):
        return sorted((self.folder / "masters/calibration").glob("*" + ending))

    def alone(self, frames, name):
        """The same frames, reduced outside of any workspace."""
        out = self.work / name
        reply = run("reduce", frames, "--out", out, "--json")
        assert reply["masters_kept"] == 0
        return (out / NAME).read_bytes()


def main():
    work = Path(tempfile.mkdtemp())
    try:
        night, later = work / "night", work / "later"
        rehearse(night, 1, lights=5, darks=4, flats=3, bias=0, dark_flats=3)
        rehearse(later, 2, lights=0, darks=2, flats=0, bias=0, dark_flats=0)
        home = Workspace(work, "home")
        home.ingest(night)

        made, _, first, recipe = home.reduce()
        assert made == 0 and len(home.kept(".fits")) == 3 and len(home.kept(".calibration.json")) == 3
        stamps = {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in home.kept("")}
        taken, _, second, again = home.reduce()
        assert taken == 3 and second == first, "kept masters give other bits"
        assert again["calibration_masters"] == recipe["calibration_masters"] and again["calibration"] == recipe["calibration"]
        assert len(recipe["calibration_masters"]) == 3 and len(recipe["calibration"]) == 10
        assert home.alone(night, "alone") == first, "a workspace changes the bits"
        assert not list(work.glob("masters")) and not list((work / "alone").glob("**/*.calibration.json"))
        assert {m["state"] for m in home.states().values()} <= {"valid", "old"}
        old = home.folder / "calibration.toml"
        old.write_text("old_after_days = 0.001\n")
        dark = home.states()["dark"]
        assert dark["state"] == "old" if dark["age_days"] is not None else "age is not known" in dark["notes"][0], dark
        old.unlink()

        # One bit of a kept dark turns: told, made anew beside it, and the damaged file is left as it is.
        victim = next(p for p in home.kept(".fits") if p.name.startswith("dark_"))
        assert home.check() == (3, [])
        away = victim.with_name("away.fits")
        victim.rename(away)
        whole, damaged = home.check()
        assert whole == 2 and len(damaged) == 1 and "now masters/calibration/away.fits" in damaged[0], damaged
        away.rename(victim)
        raw = bytearray(victim.read_bytes())
        raw[len(raw) // 2] ^= 1
        victim.write_bytes(raw)
        whole, damaged = home.check()
        assert whole == 2 and damaged == [f"masters/calibration/{victim.name}: changed since it was written"], damaged
        taken, notes, bits, _ = home.reduce()
        assert taken == 2 and bits == first and any("not those that were kept" in n for n in notes), (taken, notes)
        assert victim.read_bytes() == raw and len(home.kept(".fits")) == 4
        taken, _, bits, _ = home.reduce()
        assert taken == 3 and bits == first
        victim.unlink()
        assert home.check()[0] == 3 and "now masters/calibration/" in home.check()[1][0], "the one beside it has its content"
        victim.with_suffix("").with_name(victim.stem + ".calibration.json").unlink()

        # Killed between the two files: the FITS file alone counts as none, and gets its description.
        for description in home.kept(".calibration.json"):
            description.unlink()
        assert home.reduce()[0] == 0 and len(home.kept(".fits")) == 4, home.kept(".fits")
        assert home.reduce()[0] == 3
        others = [p for p in stamps if p != victim and p.suffix == ".fits"]
        assert all((p.stat().st_mtime_ns, p.read_bytes()) == stamps[p] for p in others), "a kept master was written again"

        # Darks are added.
        home.ingest(later)
        assert home.states()["dark"]["state"] == "not valid" and "2 more frames" in home.states()["dark"]["notes"][-2]
        taken, _, more, _ = home.reduce()
        assert taken == 2 and more != first
        both = work / "both"
        shutil.copytree(night, both)
        shutil.copytree(later, both / "later")
        assert home.alone(both, "alone-more") == more
        # They go again: the first master is that of today once more.
        for path in list((home.folder / "frames").glob("**/dark/**/*.fits")):
            if any(path.read_bytes() == p.read_bytes() for p in later.glob("**/*.fits")):
                path.unlink()
        home.rebuild()
        taken, _, bits, _ = home.reduce()
        assert taken == 3 and bits == first, taken
        # One of the first darks is gone.
        gone = sorted((home.folder / "frames").glob("**/dark/**/*.fits"))[0]
        content = gone.read_bytes()
        gone.unlink()
        home.rebuild()
        assert "frames are not in the library" in " ".join(home.states()["dark"]["notes"])
        taken, _, fewer, _ = home.reduce()
        assert taken == 2 and fewer != first
        # And back, but for one bit of its pixels.
        changed = bytearray(content)
        changed[len(changed) // 2] ^= 1
        gone.write_bytes(changed)
        home.rebuild()
        taken, _, bits, _ = home.reduce()
        assert taken == 2 and bits != fewer
        gone.write_bytes(content)
        home.rebuild()
        assert home.reduce()[:3:2] == (3, first)

        # Kept by another version of the algorithm: its key is another one.
        for path in home.kept(".calibration.json"):
            description = json.loads(path.read_text())
            path.write_text(json.dumps({**description, "version": description["version"] + 1, "key": "0" * 32}))
        home.rebuild()
        assert all("another version" in " ".join(m["notes"]) for m in home.states().values())
        taken, _, bits, _ = home.reduce()
        assert taken == 0 and bits == first
        for path in home.kept(".fits"):
            path.unlink()
        whole, damaged = home.check()
        assert whole == 0 and damaged and all("missing" in d for d in damaged), damaged
        print("taken to the same bits; never after frames were added, removed or changed, rot, or another version")
    finally:
        shutil.rmtree(work)


main()

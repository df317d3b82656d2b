"""library_tables.py PROGRAM: masters, pictures, measures and grades in library.db, read by the sqlite3 shell; measured once;
searched by quality; and the same content in an index that is made anew from the files alone."""
import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

program = sys.argv[1]

# Every table by what its rows mean, without the numbers that only join them.
CONTENT = {
    "frames": "SELECT f.*, t.name, n.evening, r.telescope, r.focal_length_mm, r.pixel_size_um, s.latitude_deg, s.longitude_deg "
              "FROM frames f LEFT JOIN targets t ON t.id = target_id LEFT JOIN nights n ON n.id = night_id "
              "LEFT JOIN rigs r ON r.id = rig_id LEFT JOIN sites s ON s.id = site_id ORDER BY path",
    "masters": "SELECT m.*, t.name, r.path AS recipe, r.hash AS recipe_hash FROM masters m LEFT JOIN targets t ON t.id = target_id "
               "JOIN recipes r ON r.id = recipe_id ORDER BY m.path",
    "pictures": "SELECT p.*, r.path AS recipe, r.hash AS recipe_hash FROM pictures p JOIN recipes r ON r.id = recipe_id ORDER BY p.path",
    "calibration_masters": "SELECT m.*, r.path AS recipe, r.hash AS recipe_hash FROM calibration_masters m JOIN recipes r "
                           "ON r.id = recipe_id ORDER BY m.path",
    "inputs": "SELECT r.path AS recipe, i.role, i.hash FROM recipe_inputs i JOIN recipes r ON r.id = recipe_id ORDER BY 1, 2, 3",
    "measures": "SELECT m.path AS master, q.* FROM measures q JOIN masters m ON m.id = master_id ORDER BY m.path, q.key",
    "grades": "SELECT m.path AS master, g.* FROM grades g JOIN masters m ON m.id = master_id ORDER BY m.path, g.frame_hash",
    "quality": "SELECT * FROM quality ORDER BY 1, 2",
    "hours": "SELECT * FROM hours ORDER BY 1, 2",
    "targets": "SELECT name FROM targets ORDER BY 1",
    "nights": "SELECT evening FROM nights ORDER BY 1",
    "rigs": "SELECT telescope, camera, focal_length_mm, pixel_size_um FROM rigs ORDER BY 1, 2, 3, 4",
    "sites": "SELECT latitude_deg, longitude_deg FROM sites ORDER BY 1, 2",
    "recipes": "SELECT path, hash FROM recipes ORDER BY 1",
}
NUMBERS_ONLY_HERE = ("id", "target_id", "night_id", "rig_id", "site_id", "recipe_id", "master_id")


def run(*words, code=0):
    done = subprocess.run([program, *map(str, words)], capture_output=True, text=True)
    assert done.returncode == code, (words, done.stdout, done.stderr)
    return json.loads(done.stdout) if "--json" in words else done.stdout


def content(database):
    """By the shell, as any other program would."""
    found = {}
    for name, query in CONTENT.items():
        shell = subprocess.run(["sqlite3", "-readonly", "-json", database, query], capture_output=True, text=True, check=True)
        rows = json.loads(shell.stdout or "[]")
        found[name] = [{k: v for k, v in row.items() if k not in NUMBERS_ONLY_HERE} for row in rows]
    return found


def main():
    if shutil.which("sqlite3") is None:
        print("SKIP: the sqlite3 shell is not installed")
        sys.exit(77)
    work = Path(tempfile.mkdtemp())
    try:
        night, mine = work / "night", work / "mine"
        run("rehearse", "--out", night, "--night", "large", "--size", "800x600", "--lights", 6, "--darks", 3, "--flats", 3,
            "--bias", 3, "--dark-flats", 3, "--quiet")
        run("init", mine)
        run("ingest", night, "--workspace", mine)
        reduce = ["reduce", "--target", "NGC 2237", "--workspace", mine, "--json", "--out"]
        first = run(*reduce, mine / "masters/first")
        assert first["measures_kept"] == 0
        second = run(*reduce, mine / "masters/second", "--reject-sigma", 5, "--sharp")
        assert second["measures_kept"] == 6, second["measures_kept"]
        outside = run(*reduce, work / "outside")
        assert outside["measures_kept"] == 6
        master = mine / "masters/first/NGC_2237_L.fits"
        assert (work / "outside/NGC_2237_L.fits").read_bytes() == master.read_bytes(), "kept measures are other measures"
        run("finish", master, "--out", mine / "pictures/one.png")
        run("finish", master, "--out", mine / "pictures/one.jpg", "--overwrite")  # one recipe, two pictures
        run("reduce", night, "--out", mine / "masters/first", "--overwrite")  # made again, of a folder

        database = mine / "library.db"
        before = content(database)
        assert [m["path"] for m in before["masters"]] == [
            "masters/first/NGC_2237_L.fits", "masters/second/NGC_2237_L.fits", "masters/second/sharp/NGC_2237_L.fits"]
        assert [p["path"] for p in before["pictures"]] == ["pictures/one.jpg", "pictures/one.png"]
        assert sorted(m["kind"] for m in before["calibration_masters"]) == ["dark", "dark-flat", "flat"]
        assert (len(before["measures"]), len(before["rigs"]), len(before["sites"])) == (12, 2, 1)  # darks: the camera alone
        lights = {f["hash"] for f in before["frames"] if f["kind"] == "light"}
        assert {i["hash"] for i in before["inputs"] if i["role"] == "light"} == lights

        # By quality: against what the reduction replied.
        frames = {Path(f["path"]).name: f for f in first["frames"] if f["kind"] == "light"}
        widths = sorted(f["fwhm_px"] for f in frames.values())
        listed = run("library", "list", "--workspace", mine, "--json", "--max-fwhm-px", repr(widths[2]))["frames"]
        assert len(listed) == 3 and all(line["fwhm_px"] <= widths[2] for line in listed), listed
        for line in listed:
            reply = frames[Path(line["path"]).name]
            assert (line["fwhm_px"], line["stars"]) == (reply["fwhm_px"], reply["stars"])
        best = run("library", "list", "--workspace", mine, "--json", "--min-worth", 1)["frames"]
        assert {Path(line["path"]).name for line in best} >= {n for n, f in frames.items() if f["weight"] == 1}

        for part in mine.glob("library.db*"):
            part.unlink()
        made = run("library", "rebuild", "--workspace", mine, "--json")
        assert (made["frames"], made["masters"], made["pictures"], made["left_out"]) == (18, 3, 2, []), made
        after = content(database)
        for name in CONTENT:
            assert before[name] == after[name], (name, before[name], after[name])
        assert run(*reduce, work / "once-more")["measures_kept"] == 6

        # Measures that are damaged are measured again; a recipe that is none keeps its master out, and is told.
        kept = mine / "masters/first/NGC_2237_L.measures.cbor"
        kept.write_bytes(kept.read_bytes()[:-9])
        (mine / "masters/second/NGC_2237_L.recipe.json").write_text("{")
        made = run("library", "rebuild", "--workspace", mine, "--json")
        assert made["masters"] == 2 and "recipe cannot be read" in made["left_out"][0], made
        assert run(*reduce, work / "again")["measures_kept"] == 0
        print("18 frames, 3 masters, 2 pictures: the same index from the files alone; every light measured once")
    finally:
        shutil.rmtree(work)


main()

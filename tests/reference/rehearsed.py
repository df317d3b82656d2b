"""Rehearses the night of the benchmark and of the acceptance test: mono, L, 16 lights, 12 each of dark, flat and bias.

Beside it goes the nebula alone, noiseless: the same night, rendered once more without a star. What is left of a master when
stars and nebula are taken off is noise; the nebula has structure down to single pixels, which would pass for noise.
"""
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from night_truth import nebula_folder

STARLESS = """[target]
cluster_stars = 0
field_stars_per_deg2 = 0
"""


def rehearse(program, night, size=None, catalogue=None):
    """Does nothing where the night is there already."""
    night = Path(night)
    if (night / "truth.json").exists():
        return
    common = [str(program), "rehearse", "--night", "large", "--filters", "L", "--lights", "16", "--quiet"]
    common += ["--size", size] if size else []
    run([*common, "--darks", "12", "--flats", "12", "--bias", "12", "--out", str(night),
         *(["--catalogue", catalogue] if catalogue else [])])
    beside = nebula_folder(night)
    with tempfile.TemporaryDirectory(dir=night.parent) as work:
        scenario = Path(work) / "starless.toml"
        scenario.write_text(STARLESS, encoding="utf-8")
        run([*common, "--darks", "0", "--flats", "0", "--bias", "0", "--dark-flats", "0", "--catalogue", "none",
             "--scenario", str(scenario), "--out", f"{work}/frames", "--truth-images", f"{work}/images"])
        shutil.move(f"{work}/images", beside)


def run(command):
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)} ended with {done.returncode}")

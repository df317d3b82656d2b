"""Recipes of masters whose frames are gone or changed, and one that is none."""
import json

import starfield


def make(work, _program):
    dark, = starfield.write_group(work / "kept", "dark", count=1)
    entries = {
        "gone": {"lights": [{"path": str(work / "kept/light_009.fits"), "xxh3_128": "00"}], "calibration": []},
        "changed": {"lights": [], "calibration": [{"path": str(dark), "xxh3_128": "00"}]},
        "other": {"steps": []},
    }
    for folder, recipe in entries.items():
        (work / folder).mkdir()
        (work / folder / "M_1_L.recipe.json").write_text(json.dumps(recipe), encoding="utf-8")

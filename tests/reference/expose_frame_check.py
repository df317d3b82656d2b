#!/usr/bin/python3
"""`expose --frame`: sky, noise and star width that it reads from one rehearsed test frame, beside the truth of that frame.

    tests/reference/expose_frame_check.py [build/release/bin/nightglass]      seconds; exit code 1 beyond the limits

The workspace expects another sky than the night has: the frame must win. No nebula lies in the field, for what fills the field
counts as sky, in a frame as in a picture. Limits: sky 1 % and width 2 %, below which nothing of the advice changes; noise 3 %,
for faint stars roughen the sky.
"""
import json

from expose_check import check_all, run, scenario, workspace

DARKER = 0.5  # mag/arcsec2: so much darker than the night is the sky that site.toml states
LIMITS = {"sky": 0.01, "noise": 0.03, "width": 0.02}


def check(program, c, work):
    name, seconds = c[0], c[8]
    (work / "night.toml").write_text(scenario(c, False).replace(f"nebula_rayleighs = {c[10]}", "nebula_rayleighs = 0")
                                     .replace("lights = 12", "lights = 1"))
    run([program, "rehearse", "--catalogue", "none", "--quiet", "--exposure-s", seconds, "--scenario", work / "night.toml",
         "--out", work / "night", "--darks", 0, "--flats", 0, "--bias", 0, "--dark-flats", 0])
    truth = json.loads((work / "night/truth.json").read_text())
    light = truth["lights"][0]
    channel = light["channels"][name]
    workspace(work / "workspace", (*c[:7], c[7] + DARKER, *c[8:]))
    reply = json.loads(run([program, "expose", "--workspace", work / "workspace", "--frame", work / "night" / light["path"],
                            "--altitude-deg", light["altitude_deg"], "--json", "--quiet"]))
    frame, advice = reply["frame"], reply["filters"][0]
    assert advice["sky_e_s"] == frame["sky_e_s"], "the advice does not stand on the frame"
    found = {"sky": (frame["sky_e_s"], channel["sky_e"] / seconds), "noise": (frame["noise_e"], channel["noise_e"]),
             "width": (frame["fwhm_px"], light["fwhm_px"])}
    off = {key: measured / true - 1 for key, (measured, true) in found.items()}
    brighter = reply["sky_mag_arcsec2"] - frame["sky_mag_arcsec2"]
    print(f"{name:5} sky {frame['sky_e_s']:8.4f} e/s/px {off['sky']:+.1%}, {brighter:.2f} mag brighter than expected  "
          f"noise {frame['noise_e']:6.1f} e {off['noise']:+.1%}  width {frame['fwhm_px']:.2f} px {off['width']:+.1%}", flush=True)
    return all(abs(off[key]) <= limit for key, limit in LIMITS.items()) and abs(brighter - DARKER) <= 0.05


if __name__ == "__main__":
    check_all(check, "the limits")

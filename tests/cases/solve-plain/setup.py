"""Two frames of a field with a dozen stars of the built-in catalogue, 2.9 x 1.9 degrees, turned by 37 degrees."""
import subprocess

SCENARIO = """
[optics]
focal_length_mm = 180
aperture_mm = 60
[target]
name = "field"
ra_deg = 210
dec_deg = 54
position_angle_deg = 37
nebula_rayleighs = 0
cluster_stars = 0
field_stars_per_deg2 = 150
"""


def make(work, program):
    (work / "scenario.toml").write_text(SCENARIO)
    subprocess.run([program, "rehearse", "--out", work / "night", "--scenario", work / "scenario.toml", "--filters", "G",
                    "--lights", "2", "--size", "1500x1000", "--exposure-s", "60", "--darks", "0", "--flats", "0", "--bias",
                    "0", "--dark-flats", "0", "--quiet"], check=True, stdout=subprocess.DEVNULL)

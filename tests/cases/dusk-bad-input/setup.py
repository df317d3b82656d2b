"""Workspaces with one mistake each."""
import re
import subprocess


def make(work, program):
    def workspace(name, file=None, old=None, new=None):
        folder = work / name
        subprocess.run([program, "init", folder, "--latitude-deg", "47.9", "--longitude-deg", "11.2"], check=True,
                       capture_output=True)
        if file:
            text = (folder / file).read_text()
            changed = re.sub(old, new, text, count=1, flags=re.S)
            assert changed != text, old
            (folder / file).write_text(changed)
        return folder

    workspace("good")
    hills = workspace("gap", "site.toml", r'# file = "horizon.txt"', 'file = "hills.txt"')
    (hills / "hills.txt").write_text("0 10\n90 12\n135 14\n180 12\n")
    workspace("no_gains", "rig.toml", r"\[\[sensor\.gains\]\].*?(?=\n\[cooler)", "")
    workspace("no_aperture", "rig.toml", r"\naperture_mm = 130", "\naperture_mm = 0")
    workspace("zone", "site.toml", r'time_zone = "[^"]*"', 'time_zone = "Europe/Larch"')

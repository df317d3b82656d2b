"""Makes the input of a case: frames by the small generator, files by the case's own setup.py, small file systems."""
import importlib.util
import os
import pathlib
import subprocess
import sys

REFERENCE = pathlib.Path(__file__).resolve().parents[1] / "reference"


def missing_library():
    """The first library that the generator needs and that is not here, or None."""
    for name in ("numpy", "scipy", "astropy"):
        if importlib.util.find_spec(name) is None:
            return f"python3-{name}"
    return None


def mount(work, wanted):
    """Small file systems in place of folders: size ("2M") for a disk that fills up, read_only for one that is locked."""
    for name, how in wanted.items():
        folder = work / name
        folder.mkdir()
        options = "ro" if how.get("read_only") else "size=" + how["size"]
        subprocess.run(["mount", "-t", "tmpfs", "-o", options, "none", str(folder)], check=True)


def unmount(work):
    for folder in work.iterdir():
        if os.path.ismount(folder):
            subprocess.run(["umount", "-l", str(folder)], check=False)


def make_input(case, case_folder, work, program):
    sys.path.insert(0, str(REFERENCE))
    (work / "in").mkdir()
    mount(work, case.get("mount", {}))
    if case.get("frames"):
        import starfield
        for group in case["frames"]:
            options = dict(group)
            starfield.write_group(work / options.pop("folder", "in"), options.pop("kind"), **options)
    setup = case_folder / "setup.py"
    if setup.is_file():
        spec = importlib.util.spec_from_file_location("setup", setup)
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        module.make(work, program)

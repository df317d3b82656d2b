"""Two lights are copied, as when a card is copied twice. The copies sort behind the originals."""
import shutil


def make(work, program):
    for number in ("001", "002"):
        shutil.copy(work / f"in/light/light_{number}.fits", work / f"in/light/light_{number}_copy_of.fits")

"""One file without a kind beside the lights; and a folder where no file has one."""
from astropy.io import fits


def make(work, program):
    (work / "silent").mkdir()
    for number, path in enumerate(sorted((work / "in/light").glob("*.fits"))):
        with fits.open(path) as opened:
            cards = opened[0].header
            cards.remove("IMAGETYP")
            if number == 0:
                cards["COMMENT"] = "another file than the light"
                opened.writeto(work / "in/plain.fits")
            else:
                opened.writeto(work / f"silent/field{number}.fits")

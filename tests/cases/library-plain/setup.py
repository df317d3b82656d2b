from astropy.io import fits


def make(work, program):
    for path in (work / "in").glob("light/*"):
        fits.setval(path, "OBJECT", value="M 33")

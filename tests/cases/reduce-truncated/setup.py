"""The second light loses its second half, as when a card was pulled out."""


def make(work, program):
    path = work / "in/light/light_002.fits"
    path.write_bytes(path.read_bytes()[:120000])

"""An empty file, one that was cut off within its pixels, and a text with the wrong ending."""


def make(work, program):
    (work / "empty.fits").write_bytes(b"")
    (work / "cut.fits").write_bytes((work / "in/light/light_001.fits").read_bytes()[:30000])
    (work / "letter.fits").write_text("Dear observer,\n")

"""A text with the wrong ending."""


def make(work, program):
    (work / "letter.fits").write_text("Dear observer,\n")

"""Three files with the right ending: random bytes, nothing at all, and a header whose NAXIS1 has been destroyed."""
import random


def make(work, program):
    random.seed(3)
    (work / "in/noise.fits").write_bytes(random.randbytes(20000))
    (work / "in/empty.fits").write_bytes(b"")
    good = (work / "in/light/light_001.fits").read_bytes()
    (work / "in/hole.fits").write_bytes(good.replace(b"NAXIS1  =                  400", b"NAXIS1  =                 -4O0"))

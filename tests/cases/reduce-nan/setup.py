"""The third light becomes float, with a hole of NaN and a row of them."""
import numpy as np
from astropy.io import fits


def make(work, program):
    path = work / "in/light/light_003.fits"
    with fits.open(path) as opened:
        data, cards = opened[0].data.astype(np.float32), opened[0].header
    data[100:110, 200:212] = np.nan
    data[50] = np.nan
    for key in ("BZERO", "BSCALE"):
        cards.remove(key, ignore_missing=True)
    fits.PrimaryHDU(data, cards).writeto(path, overwrite=True)

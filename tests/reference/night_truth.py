"""What a rehearsed night knows of itself (truth.json), as arrays.

Pixels are 0-based, (0, 0) being the centre of the first pixel stored. Electrons are those of one sub-exposure at
airmass 1 in clear air.
"""
import json
import pathlib
import sys

import cv2
import numpy as np
from astropy.io import fits


class Night:
    def __init__(self, folder, channel=None):
        self.folder = pathlib.Path(folder)
        truth = json.loads((self.folder / "truth.json").read_text())
        self.truth, self.camera = truth, truth["camera"]
        self.channel = channel or truth["filters"][0]["channels"][0]["name"]
        self.filter = next(f["name"] for f in truth["filters"] if any(c["name"] == self.channel for c in f["channels"]))
        for light in truth["lights"]:
            light["camera"] = self.camera
        self.lights = [light for light in truth["lights"] if light["filter"] == self.filter]
        self.xi = np.array(truth["stars"]["xi_arcsec"])
        self.eta = np.array(truth["stars"]["eta_arcsec"])
        self.flux = np.array(truth["stars"]["electrons"][self.channel])
        samples = truth["nebula_samples"]
        self.sample_xi = np.array([s["xi_arcsec"] for s in samples])
        self.sample_eta = np.array([s["eta_arcsec"] for s in samples])
        self.sample_radius = samples[0]["radius_px"] if samples else 4.0
        self.sample_e = np.array([s["electrons"][self.channel] for s in samples])

    def light_named(self, name):
        for light in self.lights:
            if pathlib.Path(light["path"]).name == pathlib.Path(name).name:
                return light
        raise SystemExit(f"{name}: no light of that name in {self.folder / 'truth.json'}")

    def used(self, reply):
        """The lights that a reply of `reduce` says it accepted."""
        names = {pathlib.Path(f["path"]).name for f in reply["frames"] if f["kind"] == "light" and f["accepted"]}
        return [light for light in self.lights if pathlib.Path(light["path"]).name in names]

    def transparency(self, light):
        return light["channels"][self.channel]["transparency"]

    def responses(self, x, y):
        """Vignetting at a pixel of the sensor; the shape is the one the night was rendered with."""
        w, h = self.camera["width"], self.camera["height"]
        q = ((x - (w - 1) / 2) ** 2 + (y - (h - 1) / 2) ** 2) / ((w / 2) ** 2 + (h / 2) ** 2)
        return 1 - self.camera["vignetting"] * (0.55 * q + 0.45 * q**3)

    def normalised_variance(self, light, xi, eta, source_e):
        """Variance of one frame's pixel on the scale of airmass 1, inf where the frame does not reach."""
        x, y = to_pixels(light, xi, eta)
        w, h = self.camera["width"], self.camera["height"]
        angle = np.radians(light["gradient_deg"])
        along = ((x - (w - 1) / 2) * np.cos(angle) + (y - (h - 1) / 2) * np.sin(angle)) / np.hypot(w / 2, h / 2)
        sky = light["channels"][self.channel]["sky_e"] * (1 + light["gradient"] * along * (1 + 0.3 * along))
        t, r = self.transparency(light), self.responses(x, y)
        read = self.camera["read_noise_e"] ** 2 + self.camera["gain_e_adu"] ** 2 / 12
        variance = ((sky + t * source_e) * r + light["dark_e"] + read) / (t * r) ** 2
        inside = (x > 4) & (y > 4) & (x < w - 5) & (y < h - 5)
        return np.where(inside, variance, np.inf)

    def ideal_noise(self, lights, xi, eta, source_e):
        """Standard deviation of the best weighted mean of these lights, pixel by pixel, without resampling."""
        return np.sum([1 / self.normalised_variance(light, xi, eta, source_e) for light in lights], axis=0) ** -0.5


def to_pixels(light, xi, eta):
    m = light["from_sky"]
    w = m[6] * xi + m[7] * eta + 1
    x, y = (m[0] * xi + m[1] * eta + m[2]) / w, (m[3] * xi + m[4] * eta + m[5]) / w
    camera = light.get("camera", {})
    share = camera.get("distortion", 0)
    if share == 0:
        return x, y
    cx, cy = (camera["width"] - 1) / 2, (camera["height"] - 1) / 2
    stretch = share * ((x - cx) ** 2 + (y - cy) ** 2) / camera["half_diagonal_px"] ** 2
    return x + stretch * (x - cx), y + stretch * (y - cy)


def moffat_enclosed(radius, fwhm, beta):
    """Share of a Moffat profile's light within a radius (integral of Moffat 1969, A&A 3:455)."""
    alpha = fwhm / (2 * np.sqrt(2 ** (1 / beta) - 1))
    return 1 - (1 + (radius / alpha) ** 2) ** (1 - beta)


def star_image(shape, x, y, flux, fwhm, beta, faintest=0.02):
    """All true stars as round Moffat profiles; each is painted out to where it falls below `faintest` per pixel."""
    alpha2 = (fwhm / (2 * np.sqrt(2 ** (1 / beta) - 1))) ** 2
    image = np.zeros(shape, dtype=np.float32)
    peak = flux * (beta - 1) / (np.pi * alpha2)
    reach = np.sqrt(alpha2 * np.maximum((peak / faintest) ** (1 / beta) - 1, 1))
    for sx, sy, top, r in zip(x, y, peak, np.minimum(reach, 400)):
        x0, x1 = max(int(sx - r), 0), min(int(sx + r) + 2, shape[1])
        y0, y1 = max(int(sy - r), 0), min(int(sy + r) + 2, shape[0])
        if x0 >= x1 or y0 >= y1:
            continue
        dx2 = (np.arange(x0, x1, dtype=np.float32) - np.float32(sx)) ** 2
        dy2 = (np.arange(y0, y1, dtype=np.float32) - np.float32(sy)) ** 2
        image[y0:y1, x0:x1] += np.float32(top) * (1 + (dx2[None, :] + dy2[:, None]) / np.float32(alpha2)) ** np.float32(-beta)
    return image


def nebula_folder(night_folder):
    """Where the nebula alone is looked for: beside the night, as it is no frame of it (rehearsed.py puts it there)."""
    folder = pathlib.Path(night_folder).resolve()
    return folder.parent / f"{folder.name}-nebula"


def nebula_image(night, light, shape):
    """The nebula alone on a light's grid, from a noiseless image on the grid of the first light."""
    path = nebula_folder(night.folder) / f"noiseless_{night.filter}.fits"
    if not path.exists():
        sys.exit(f"{path}: the nebula alone is missing; rehearse the night with tests/reference/rehearsed.py")
    image = fits.getdata(path).astype(np.float32)
    to_first = matrix(night.lights[0]) @ np.linalg.inv(matrix(light))
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return cv2.warpPerspective(image, to_first, shape[::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE)


def matrix(light):
    return np.array(light["from_sky"] + [1.0]).reshape(3, 3)

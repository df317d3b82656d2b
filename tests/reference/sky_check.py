#!/usr/bin/python3
"""nightglass sky against astropy (ERFA, builtin ephemeris) and PyEphem at random moments and places.

usage: sky_check.py NIGHTGLASS [COUNT]
Moments end in 2026: PyEphem guesses Delta T beyond. Tolerances are what is promised: stars and Sun 1 arcsec, Moon 15, planets 60, events 10 s, lit fraction 0.001.
"""
import json
import math
import subprocess
import sys
import warnings

try:
    import astropy.units as u
    import ephem
    import numpy as np
    from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_body, get_sun, solar_system_ephemeris
    from astropy.time import Time
    from astropy.utils import iers
except ImportError as missing:
    print(f"SKIP: {missing.name} is not installed")
    sys.exit(77)

iers.conf.auto_download = False
iers.conf.iers_degraded_accuracy = "ignore"
warnings.simplefilter("ignore")
PLANETS = ["Mercury", "Venus", "Mars", "Jupiter", "Saturn", "Uranus", "Neptune"]
worst = {}


def note(what, value, limit):
    worst[what] = (max(worst.get(what, (0, 0))[0], value), limit)


def apart_arcsec(alt1, az1, alt2, az2):
    a, b = (np.array([math.cos(h) * math.cos(z), math.cos(h) * math.sin(z), math.sin(h)])
            for h, z in ((math.radians(alt1), math.radians(az1)), (math.radians(alt2), math.radians(az2))))
    return math.degrees(math.atan2(np.linalg.norm(np.cross(a, b)), a @ b)) * 3600


def sky(program, lat, lon, height, at, *more):
    done = subprocess.run([program, "sky", f"--lat-deg={lat}", f"--lon-deg={lon}", f"--elevation-m={height}", "--at", at,
                           "--json", "--quiet", *map(str, more)], capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def check_places(program, random):
    lat, lon, height = float(random.uniform(-88, 88)), float(random.uniform(-180, 180)), float(random.uniform(0, 3000))
    t = Time(random.uniform(51544, 61400), format="mjd", scale="utc", precision=3)
    t = Time(t.isot, scale="utc")
    t.delta_ut1_utc = 0.0
    ra, dec = float(random.uniform(0, 360)), math.degrees(math.asin(random.uniform(-1, 1)))
    reply = sky(program, lat, lon, height, t.isot, f"--ra-deg={ra}", f"--dec-deg={dec}")
    place = EarthLocation.from_geodetic(lon * u.deg, lat * u.deg, height * u.m)
    frame = AltAz(obstime=t, location=place)
    # Polar motion, up to 0.6 arcsec, is in astropy's answer and not in ours.
    star = SkyCoord(ra * u.deg, dec * u.deg).transform_to(frame)
    target = reply["target"]
    note("star", apart_arcsec(target["alt_deg"], target["az_deg"], star.alt.deg, star.az.deg), 1)
    with solar_system_ephemeris.set("builtin"):
        for name in ("sun", "moon"):
            body = get_body(name, t, place).transform_to(frame)
            note(name + " (astropy)", apart_arcsec(reply[name]["alt_deg"], reply[name]["az_deg"], body.alt.deg, body.az.deg),
                 {"sun": 1, "moon": 15}[name])

    # PyEphem: its own theories of Moon (Chapront's) and planets (VSOP87), its own nutation; places of date, topocentric.
    site = ephem.Observer()
    site.lat, site.lon, site.elevation, site.pressure = math.radians(lat), math.radians(lon), height, 0
    site.date = t.datetime
    for name, limit in [("Moon", 15)] + [(p, 60) for p in PLANETS]:
        body = getattr(ephem, name)()
        body.compute(site)
        ours = reply["moon"] if name == "Moon" else next(p for p in reply["planets"] if p["name"] == name)
        note(name + " (PyEphem)", apart_arcsec(ours["dec_deg"], ours["ra_deg"], math.degrees(body.dec), math.degrees(body.ra)),
             limit)

    # The lit fraction from astropy's vectors; PyEphem's leaves the distances out, 0.002.
    moon, sun = (body(t).cartesian.xyz.to_value(u.au) for body in (lambda t: get_body("moon", t), get_sun))
    to_sun = sun - moon
    cosine = -(to_sun @ moon) / np.linalg.norm(to_sun) / np.linalg.norm(moon)
    note("lit fraction of the Moon", abs(reply["moon"]["illuminated_fraction"] - (1 + cosine) / 2), 0.001)


def check_events(program, random):
    lat, lon = float(random.uniform(-60, 60)), float(random.uniform(-180, 180))
    t = Time(Time(random.uniform(51544, 61400), format="mjd").isot, scale="utc")
    night = sky(program, lat, lon, 0, t.isot)["night"]
    site = ephem.Observer()
    site.lat, site.lon, site.pressure = math.radians(lat), math.radians(lon), 0
    for names, horizon, centre in ((("sunset", "sunrise"), "-0:50", True), (("civil_dusk", "civil_dawn"), "-6", True),
                                   (("nautical_dusk", "nautical_dawn"), "-12", True),
                                   (("astronomical_dusk", "astronomical_dawn"), "-18", True)):
        site.horizon = horizon
        for name in names:
            if night[name] is None:
                continue
            at = Time(night[name], scale="utc")
            site.date = (at - 0.02).datetime
            find = site.next_setting if name in ("sunset",) or name.endswith("dusk") else site.next_rising
            note("events of the Sun, s", abs((Time(find(ephem.Sun(), use_center=centre).datetime()) - at).sec), 10)
    site.horizon = "-0:34"
    for name in ("moonrise", "moonset"):
        if night[name] is not None:
            at = Time(night[name], scale="utc")
            site.date = (at - 0.02).datetime
            find = site.next_setting if name == "moonset" else site.next_rising
            note("events of the Moon, s", abs((Time(find(ephem.Moon()).datetime()) - at).sec), 10)


def main():
    random = np.random.default_rng(4)
    for _ in range(int(sys.argv[2]) if len(sys.argv) > 2 else 12):
        check_places(sys.argv[1], random)
        check_events(sys.argv[1], random)
    bad = 0
    for what, (value, limit) in worst.items():
        bad += value > limit
        print(f"{what:28} worst {value:8.3f}  promised {limit:g}{'  TOO MUCH' if value > limit else ''}")
    sys.exit(1 if bad else 0)


main()

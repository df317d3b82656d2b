#!/usr/bin/python3
"""FITS against astropy, both ways: it writes every variant and we read it; we write and it verifies.

Usage: fits_variants.py FITS_PROBE [FOLDER_OF_REAL_FRAMES]
Exit 0 all agree, 1 a difference, 77 astropy is not installed (skipped).
Expected values are those that astropy reads from its own file (made with astropy 5.2.1, numpy 1.24.2, on Debian 12);
they are compared as float32, exactly, NaN with NaN.
"""
import pathlib
import subprocess
import sys
import tempfile
import warnings

try:
    import numpy as np
    from astropy.io import fits
except ImportError as missing:
    print(f"skipped: {missing}")
    sys.exit(77)

PROBE = sys.argv[1]
FRAMES = pathlib.Path(sys.argv[2]) if len(sys.argv) > 2 else None
failures = []
checked = 0


def check(name, condition, what=""):
    global checked
    checked += 1
    if not condition:
        failures.append(f"{name}: {what}")


def read_by_us(path):
    with tempfile.NamedTemporaryFile() as out:
        done = subprocess.run([PROBE, "read", str(path), out.name], capture_output=True, text=True)
        if done.returncode != 0:
            return None, done.stdout.strip() or f"ended with {done.returncode}"
        width, height, planes = map(int, done.stdout.split())
        pixels = np.fromfile(out.name, dtype=np.float32).reshape(planes, height, width)
    return (pixels if planes > 1 else pixels[0]), ""


def compare(name, path, expected):
    pixels, why = read_by_us(path)
    expected = np.asarray(expected)
    check(name, pixels is not None, why)
    if pixels is None:
        return
    with np.errstate(over="ignore"):
        expected = expected.astype(np.float64).astype(np.float32)
    same_shape = pixels.shape == expected.shape
    check(name, same_shape, f"shape {pixels.shape}, astropy {expected.shape}")
    if same_shape:
        wrong = ~((pixels == expected) | (np.isnan(pixels) & np.isnan(expected)))
        where = np.argwhere(wrong)[:1]
        check(name, not wrong.any(), f"{wrong.sum()} pixels differ, first at {where}")


def astropy_pixels(path, hdu):
    """As astropy reads them; scaled integers from its stored values, in double (astropy scales int16 in float32)."""
    with fits.open(path) as file:
        scale = file[hdu].header.get("BSCALE", 1)
    if scale == 1:
        with fits.open(path) as file:
            return np.array(file[hdu].data, dtype=np.float64)
    with fits.open(path, do_not_scale_image_data=True) as file:
        header, stored = file[hdu].header, file[hdu].data
        pixels = header["BZERO"] + scale * stored.astype(np.float64)
        pixels[stored == header["BLANK"]] = np.nan
        return pixels


def sky(rng, shape):
    return rng.normal(1000, 20, shape)


def write_variants(folder):
    rng = np.random.default_rng(20260114)
    shape = (97, 83)
    stars = sky(rng, shape)
    stars[40:50, 30:40] += 20000
    integers = np.round(stars)
    holes = stars.astype(np.float32)
    holes[5, 7] = np.nan
    kinds = {
        "uint8": np.clip(integers / 128, 0, 255).astype(np.uint8),
        "int16": (integers - 1000).astype(np.int16),
        "uint16": integers.astype(np.uint16),
        "int32": (integers * 1000).astype(np.int32),
        "uint32": (integers * 100000).astype(np.uint32),
        "int64": integers.astype(np.int64),
        "float32": holes,
        "float64": holes.astype(np.float64) / 3,
    }
    files = []
    for name, data in kinds.items():
        path = folder / f"{name}.fits"
        fits.PrimaryHDU(data).writeto(path, checksum=True)
        files.append((name, path, 0))
        path = folder / f"{name}_extension.fits"
        fits.HDUList([fits.PrimaryHDU(), fits.ImageHDU(data)]).writeto(path)
        files.append((f"{name} in an extension", path, 1))
        path = folder / f"{name}.fits.gz"
        fits.PrimaryHDU(data).writeto(path)
        files.append((f"{name} in gzip", path, 0))
        path = folder / f"{name}_planes.fits"
        fits.PrimaryHDU(np.stack([data, data[::-1], data // 2 if data.dtype.kind in "iu" else data / 2])).writeto(path)
        files.append((f"{name} in three planes", path, 0))

    for name, scale, zero in (("half steps", 0.5, 100.0), ("tenths", 0.1, -7.25)):
        path = folder / f"scaled_{scale}.fits"
        hdu = fits.PrimaryHDU(stars)
        hdu.scale("int16", bscale=scale, bzero=zero)
        hdu.header["BLANK"] = int(hdu.data[3, 3])  # several pixels of the sky are undefined then
        hdu.writeto(path)
        files.append((f"int16 in {name}", path, 0))

    packings = [("RICE_1", "uint8", {}), ("RICE_1", "int16", {}), ("RICE_1", "uint16", {}), ("RICE_1", "int32", {}),
                ("GZIP_1", "int16", {}), ("GZIP_2", "int16", {}), ("GZIP_2", "int32", {}), ("PLIO_1", "uint8", {}),
                ("GZIP_1", "float32", {"quantize_level": 0}), ("GZIP_2", "float64", {"quantize_level": 0})]
    for code in ("RICE_1", "GZIP_1", "GZIP_2"):
        for method in (-1, 1, 2):
            packings.append((code, "float32", {"quantize_method": method, "quantize_level": 16, "dither_seed": 77}))
    packings.append(("RICE_1", "float64", {"quantize_method": 1, "quantize_level": 4}))
    for number, (code, kind, more) in enumerate(packings):
        for tile in (None, (32, 16), (83, 97)):
            if tile and code == "PLIO_1":
                continue
            path = folder / f"packed_{number}_{tile}.fits.fz"
            data = kinds[kind]
            fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(data, compression_type=code, tile_size=tile, **more)]
                         ).writeto(path, checksum=True)
            files.append((f"{kind} by {code} {more} tiles {tile}", path, 1))
    path = folder / "packed_planes.fits.fz"
    cube = np.stack([kinds["uint16"], kinds["uint16"][::-1], kinds["uint16"][:, ::-1]])
    fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(cube, compression_type="RICE_1")]).writeto(path)
    files.append(("three planes by RICE_1", path, 1))
    path = folder / "packed_cube.fits.fz"
    fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(cube, compression_type="RICE_1", tile_size=(40, 30, 2))]).writeto(path)
    files.append(("three planes in cubes by RICE_1", path, 1))
    return files


def read_their_files(folder):
    for name, path, hdu in write_variants(folder):
        compare(name, path, astropy_pixels(path, hdu))

    # The layout of Rice tiles that the standard describes (FITS 4.0, section 10.1): what astropy writes today.
    path = folder / "rice_layout.fits"
    ramp = np.arange(128 * 128, dtype=np.uint16).reshape(128, 128)
    fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(ramp, compression_type="RICE_1")]).writeto(path)
    with fits.open(path, disable_image_compression=True) as file:
        header = file[1].header
        found = [header[k] for k in ("ZIMAGE", "ZCMPTYPE", "ZBITPIX", "ZTILE1", "ZTILE2", "ZVAL1", "ZVAL2", "BZERO")]
        check("layout of Rice tiles", found == [True, "RICE_1", 16, 128, 1, 32, 2, 32768], str(found))
    compare("Rice ramp", path, ramp)

    # A bad-pixel mask beside the image.
    path = folder / "masked.fits"
    image = ramp[:20, :30].astype(np.float32)
    mask = np.zeros(image.shape, np.uint8)
    mask[3, 4] = mask[19, 29] = 2
    expected = image.copy()
    expected[mask != 0] = np.nan
    fits.HDUList([fits.PrimaryHDU(), fits.ImageHDU(image), fits.CompImageHDU(mask, name="BPM")]).writeto(path)
    compare("mask extension", path, expected)


def value(plane, shape):
    y, x = np.mgrid[:shape[0], :shape[1]]
    return (plane * 20000 + y * 300 + x * 7) % 65536


def verify_our_files(folder):
    done = subprocess.run([PROBE, "write", str(folder)], capture_output=True, text=True)
    check("writing", done.returncode == 0, done.stdout)
    shape = (31, 53)
    expected = {
        "floats.fits": [value(0, shape)],
        "counts.fits": [value(0, shape)],
        "colour.fits": [np.stack([value(p, shape) for p in range(3)])],
        "three_hdus.fits": [value(0, shape), value(1, shape), np.stack([value(p + 2, shape) for p in range(3)])],
    }
    for name, images in expected.items():
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # a wrong checksum is a warning of astropy
            try:
                with fits.open(folder / name, checksum=True) as file:
                    file.verify("exception")
                    check(name, len(file) == len(images), f"{len(file)} HDUs")
                    for index, (hdu, image) in enumerate(zip(file, images)):
                        check(name, "DATASUM" in hdu.header and "CHECKSUM" in hdu.header, "no checksums")
                        check(name, np.array_equal(hdu.data, image), f"pixels of HDU {index} differ")
                    header = file[0].header
                    check(name, header["EXPTIME"] == 300.0 and header.comments["EXPTIME"] == "[s] exposure", "EXPTIME")
                    check(name, header["SMALL"] == -1.2345678901234567e-300, "SMALL")
                    check(name, header["FRAMES"] == 16 and header["STACKED"] is True, "FRAMES, STACKED")
                    check(name, header["OBJECT"] == "Barnard's loop", "OBJECT")
                    check(name, header["LONGTEXT"] == "x" * 150 + " 'end'", "LONGTEXT")
                    check(name, "".join(header["HISTORY"]).startswith("first lineh"), "HISTORY")
                    check(name, list(header["COMMENT"]) == ["a remark"], "COMMENT")
            except Exception as refused:  # noqa: BLE001: whatever astropy says is the finding
                check(name, False, f"{type(refused).__name__}: {refused}")
    with fits.open(folder / "three_hdus.fits") as file:
        check("names", [h.name for h in file] == ["PRIMARY", "VARIANCE", "COVERAGE"], str([h.name for h in file]))
        check("types", [h.header["BITPIX"] for h in file] == [-32, -32, 16], "BITPIX")


def real_frames():
    if FRAMES is None or not FRAMES.is_dir():
        print("real frames: skipped, the folder is not here")
        return
    for path in sorted(FRAMES.rglob("*")):
        if not any(path.name.lower().endswith(e) for e in (".fits", ".fit", ".fz", ".gz")):
            continue
        with fits.open(path, ignore_missing_simple=True) as file:
            index = next(i for i, h in enumerate(file) if h.is_image and h.data is not None)
            data = np.array(file[index].data, dtype=np.float64)
            if "BPM" in file:
                data[file["BPM"].data != 0] = np.nan
        compare(str(path.relative_to(FRAMES)), path, data)


with tempfile.TemporaryDirectory() as name, warnings.catch_warnings():
    warnings.simplefilter("ignore")
    work = pathlib.Path(name)
    read_their_files(work)
    (work / "ours").mkdir()
    verify_our_files(work / "ours")
    real_frames()
print(f"{checked} checks, {len(failures)} failures")
for line in failures:
    print("  ", line)
sys.exit(1 if failures else 0)

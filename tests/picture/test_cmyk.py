"""CMYK goes through the picture's own profile where that can be used, and is called rough where not."""

import struct

import numpy as np
import pytest
from imagecodecs import cms_profile, cms_transform

from cel_check.picture.cmyk import cmyk_to_rgb


def press_profile():
    """A profile of 16 corner colors, from ICC.1:2022: `lut8Type` from CMYK to CIELAB, no ink is white."""
    curves = bytes(range(256))
    lab = bytearray()
    for corner in range(16):
        cyan, magenta, yellow, black = (corner >> bit & 1 for bit in (3, 2, 1, 0))
        lightness = (100 - 38 * cyan - 45 * magenta - 8 * yellow) * (0.1 if black else 1)
        a = (-35 * cyan + 70 * magenta - 5 * yellow) * (0.1 if black else 1)
        b = (-45 * cyan + 85 * yellow) * (0.1 if black else 1)
        lab += bytes((round(max(lightness, 0) * 2.55), round(a + 128), round(b + 128)))
    identity = struct.pack(">9i", *(65536 if n % 4 == 0 else 0 for n in range(9)))
    lut = b"mft1\0\0\0\0" + bytes((4, 3, 2, 0)) + identity + curves * 4 + bytes(lab) + curves * 3
    name = b"desc\0\0\0\0" + struct.pack(">I", 6) + b"press\0" + bytes(79)
    white = b"XYZ \0\0\0\0" + struct.pack(">3i", 63190, 65536, 54061)
    tags = {b"desc": name, b"wtpt": white, b"A2B0": lut, b"A2B1": lut}
    table, body = struct.pack(">I", len(tags)), b""
    for tag, content in tags.items():
        table += tag + struct.pack(">II", 128 + 4 + 12 * len(tags) + len(body), len(content))
        body += content + bytes(-len(content) % 4)
    header = struct.pack(
        ">I4sI4s4s4s", 128 + len(table) + len(body), b"", 0x02400000, b"prtr", b"CMYK", b"Lab "
    )
    header += (
        struct.pack(">6H4s", 2020, 1, 1, 0, 0, 0, b"acsp")
        + bytes(28)
        + struct.pack(">3i", 63190, 65536, 54061)
    )
    return header.ljust(128, b"\0") + table + body


PRESS = press_profile()
INKS = np.random.default_rng(4).integers(0, 256, (20, 30, 4), np.uint8)


def test_a_profile_is_followed():
    """The oracle is imagecodecs' own call of Little CMS."""
    rgb, notes, in_srgb = cmyk_to_rgb(INKS, PRESS)
    wanted = cms_transform(
        INKS, PRESS, cms_profile("srgb"), colorspace="cmyk", outcolorspace="rgb", intent=1, flags=0x100
    )
    assert np.abs(rgb.astype(int) - wanted).max() <= 1
    assert notes == ("CMYK was converted to sRGB by the profile in the file.",)
    assert in_srgb


def test_no_ink_is_paper_and_black_is_dark():
    rgb, _, _ = cmyk_to_rgb(np.array([[[0, 0, 0, 0], [0, 0, 0, 255]]], np.uint8), PRESS)
    assert rgb[0, 0].min() >= 253
    assert rgb[0, 1].max() < 40


@pytest.mark.parametrize("icc", [b"", PRESS[:300], bytes(cms_profile("adobergb"))])
def test_without_a_profile_that_can_be_used_colors_are_rough(icc):
    rgb, notes, _ = cmyk_to_rgb(INKS, icc)
    wanted = (255 - INKS[:, :, :3].astype(int)) * (255 - INKS[:, :, 3:].astype(int)) / 255
    assert np.abs(rgb - wanted).max() <= 1.5
    assert notes == (
        "CMYK was converted to sRGB without a profile that can be used: its colors are only rough.",
    )

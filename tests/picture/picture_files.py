"""Small picture files of every kind that is read, made by Pillow, tifffile and imagecodecs."""

import io
import struct
import zlib

import imagecodecs
import numpy as np
import tifffile
from PIL import Image

HEIGHT, WIDTH = 37, 53


def noise(channels: int, dtype: type = np.uint8) -> np.ndarray:
    """Smooth areas, noise and every alpha, so that packing, filters and rounding have work to do."""
    rng = np.random.default_rng(channels)
    samples = rng.integers(0, 256, (HEIGHT, WIDTH, channels))
    samples[:18] = samples[:1, :1]
    if dtype is np.uint16:
        samples = samples * 257 - rng.integers(0, 2, samples.shape) * (samples > 0)
    return samples.astype(dtype)


def rgba_of(samples: np.ndarray) -> np.ndarray:
    """The RGBA that gray, gray + alpha, RGB or RGBA samples stand for."""
    height, width, channels = samples.shape
    top = np.iinfo(samples.dtype).max
    alpha = samples[:, :, -1:] if channels in (2, 4) else np.full((height, width, 1), top, samples.dtype)
    colors = np.repeat(samples[:, :, :1], 3, axis=2) if channels < 3 else samples[:, :, :3]
    return np.concatenate((colors, alpha), axis=2)


def with_pillow(samples: np.ndarray, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    Image.fromarray(samples[:, :, 0] if samples.shape[2] == 1 else samples).save(out, kind, **options)
    return out.getvalue()


def tiff(samples: np.ndarray, **options: object) -> bytes:
    out = io.BytesIO()
    options.setdefault("photometric", "rgb" if samples.shape[2] > 2 else "minisblack")
    planar = options.get("planarconfig") == "separate"
    data = np.moveaxis(samples, -1, 0) if planar else samples
    if samples.shape[2] == 1:
        data = samples[:, :, 0]
    elif samples.shape[2] in (2, 4) and options["photometric"] != "separated":
        options.setdefault("extrasamples", ["unassalpha"])
    tifffile.imwrite(out, data, metadata=None, **options)
    return out.getvalue()


def png_chunk(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


def with_chunk(png: bytes, name: bytes, content: bytes, before: bytes = b"IDAT") -> bytes:
    """The PNG file with one more chunk, put before the first chunk of another type."""
    at = png.index(before) - 4
    return png[:at] + png_chunk(name, content) + png[at:]


def bare_png(width: int, height: int, depth: int, color_type: int, idat: bytes) -> bytes:
    header = struct.pack(">IIBBBBB", width, height, depth, color_type, 0, 0, 0)
    chunks = png_chunk(b"IHDR", header) + png_chunk(b"IDAT", idat) + png_chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + chunks


def exact_files() -> dict[str, tuple[bytes, np.ndarray]]:
    """Files whose pixels must come back unchanged, by name, with those pixels."""
    gray, gray_alpha, rgb, rgba = (noise(channels) for channels in (1, 2, 3, 4))
    gray16, rgb16, rgba16 = (noise(channels, np.uint16) for channels in (1, 3, 4))
    return {
        **{
            f"png-{samples.shape[2]}-{samples.dtype}.png": (
                imagecodecs.png_encode(samples.squeeze()),
                samples,
            )
            for samples in (gray, gray_alpha, rgb, rgba, gray16, rgb16, rgba16)
        },
        **{
            f"tga-{samples.shape[2]}-{packing or 'raw'}.tga": (
                with_pillow(samples, "TGA", compression=packing),
                samples,
            )
            for samples in (gray, rgb, rgba)
            for packing in (None, "tga_rle")
        },
        "gray.bmp": (with_pillow(gray, "BMP"), gray),
        "rgb.bmp": (with_pillow(rgb, "BMP"), rgb),
        "rgb.webp": (with_pillow(rgb, "WEBP", lossless=True), rgb),
        "rgba.webp": (with_pillow(rgba, "WEBP", lossless=True, exact=True), rgba),
        **{
            f"tiff-{samples.shape[2]}-{samples.dtype}-{name}.tif": (tiff(samples, **options), samples)
            for samples in (gray, gray_alpha, rgb, rgba, gray16, rgb16, rgba16)
            for name, options in _tiff_layouts().items()
        },
    }


def _tiff_layouts() -> dict[str, dict[str, object]]:
    return {
        "raw": {},
        "big-endian": {"byteorder": ">"},
        "bigtiff": {"bigtiff": True},
        "strips": {"rowsperstrip": 5},
        "tiles": {"tile": (16, 16)},
        "planes": {"planarconfig": "separate"},
        "planes-deflate": {"planarconfig": "separate", "compression": "zlib", "predictor": True},
        "lzw": {"compression": "lzw", "rowsperstrip": 7},
        "lzw-predictor": {"compression": "lzw", "predictor": True, "tile": (32, 16)},
        "deflate": {"compression": "zlib", "rowsperstrip": 11},
        "packbits": {"compression": "packbits"},
    }


def lossy_files() -> dict[str, tuple[bytes, np.ndarray]]:
    """Files whose pixels come back nearly unchanged: smooth pictures, so that JPEG has little to lose."""
    down, across = np.mgrid[0:HEIGHT, 0:WIDTH]
    gray = (down * 4 + across).astype(np.uint8)[:, :, np.newaxis]
    rgb = np.concatenate((gray, gray[::-1], gray[:, ::-1]), axis=2)
    return {
        "gray.jpg": (with_pillow(gray, "JPEG", quality=95), gray),
        "rgb.jpg": (with_pillow(rgb, "JPEG", quality=95, subsampling=0), rgb),
        "rgb-progressive.jpg": (with_pillow(rgb, "JPEG", quality=95, subsampling=0, progressive=True), rgb),
        "rgb-lossy.webp": (with_pillow(rgb, "WEBP", quality=95), rgb),
        "rgb-jpeg.tif": (tiff(rgb, compression="jpeg", compressionargs={"level": 95}), rgb),
    }

"""Pixels of PNG files, decoded without a library of pictures."""

import io
import struct
import zlib

import numpy as np
from numpy.typing import NDArray


def decoded(png: bytes) -> NDArray[np.uint8]:
    """An 8-bit RGBA PNG without interlacing as red, green and blue, shape (rows, columns, 3) (PNG, ISO/IEC 15948)."""
    stream, data = io.BytesIO(png[8:]), b""
    while head := stream.read(8):
        length, name = struct.unpack(">I4s", head)
        body = stream.read(length + 4)[:length]
        if name == b"IHDR":
            width, height, depth, colour, _, _, interlace = struct.unpack(">IIBBBBB", body)
            assert (depth, colour, interlace) == (8, 6, 0)
        elif name == b"IDAT":
            data += body
    rows = np.frombuffer(zlib.decompress(data), np.uint8).reshape(height, 1 + 4 * width)
    image = np.zeros((height + 1, 4 * width + 4), np.uint8)  # a row above and a pixel to the left, both zero
    for y in range(height):
        line, above = rows[y, 1:].copy(), image[y]
        unfilter(int(rows[y, 0]), line, above)
        image[y + 1, 4:] = line
    pixels: NDArray[np.uint8] = image[1:, 4:].reshape(height, width, 4)[:, :, :3]
    return pixels


def unfilter(kind: int, line: NDArray[np.uint8], above: NDArray[np.uint8]) -> None:
    """Undo one scan line's filter in place; `above` begins one pixel further left."""
    if kind == 2:
        line += above[4:]
    elif kind in (1, 3, 4):
        left = np.zeros(4, np.int64)
        for at in range(0, len(line), 4):
            up, corner = above[at + 4 : at + 8].astype(np.int64), above[at : at + 4].astype(np.int64)
            guess = {1: left, 3: (left + up) // 2, 4: paeth(left, up, corner)}[kind]
            left = (line[at : at + 4] + guess) % 256
            line[at : at + 4] = left


def paeth(a: NDArray[np.int64], b: NDArray[np.int64], c: NDArray[np.int64]) -> NDArray[np.int64]:
    """The Paeth predictor of the PNG specification."""
    pa, pb, pc = abs(b - c), abs(a - c), abs(a + b - 2 * c)
    return np.where((pa <= pb) & (pa <= pc), a, np.where(pb <= pc, b, c))

"""Pixels of PNG files."""

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image


def decoded(png: bytes) -> NDArray[np.uint8]:
    """A PNG as red, green and blue, shape (rows, columns, 3); transparency is left away."""
    with Image.open(io.BytesIO(png)) as picture:
        return np.asarray(picture.convert("RGB"))

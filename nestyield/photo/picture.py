"""A picture file as linear light, with what the file says about its camera or scanner."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nestyield.photo.needs import pillow
from nestyield.photo.tones import CHROMA_PX

#: A picture of more pixels is not read.
MOST_PIXELS = 120_000_000
#: EXIF tags: focal length as of a 35 mm camera; orientation is applied by Pillow.
_EXIF_IFD, _FOCAL_35 = 0x8769, 0xA405
#: Diagonal of a 35 mm picture, mm (CIPA DCG-001 counts the equivalent along the diagonal).
_DIAGONAL_35_MM = 43.27


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture.

    Parameters
    ----------
    name : str
        Of the file.
    rgb : array (h, w, 3) of uint8
        As shown, upright.
    focal_px : float or None
        Focal length that the file states.
    dpi : (float, float) or None
        Along X and Y, where the file states them.
    chroma_px : float
        What colors are spread by, where the file has them at less than full resolution; else 0.
    """

    name: str
    rgb: NDArray[np.uint8]
    focal_px: float | None = None
    dpi: tuple[float, float] | None = None
    chroma_px: float = 0.0

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self.rgb.shape[1], self.rgb.shape[0]

    def linear(self) -> NDArray[np.float32]:
        """Return linear light, 0 to 1, array (h, w, 3): IEC 61966-2-1 (sRGB) undone."""
        return _TO_LINEAR[self.rgb]


def _to_linear() -> NDArray[np.float32]:
    v = np.arange(256) / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)


_TO_LINEAR = _to_linear()


class PictureError(ValueError):
    """A file is no picture that can be read; the message says why."""


def read_picture(path: Path) -> Picture:
    """Read a JPEG, PNG or TIFF file.

    Raises
    ------
    PictureError
        When it cannot be read or is too large.
    MissingExtraError
        When Pillow is not installed.
    """
    image_module = pillow()
    from PIL import ImageOps
    from PIL.JpegImagePlugin import get_sampling

    try:
        with image_module.open(path) as image:
            if image.width * image.height > MOST_PIXELS:
                raise PictureError(f"it has more than {MOST_PIXELS // 1_000_000} million pixels")
            exif = image.getexif()
            focal_35 = float(exif.get_ifd(_EXIF_IFD).get(_FOCAL_35) or 0.0)
            dpi = image.info.get("dpi")
            halved = image.format == "JPEG" and get_sampling(image) in (1, 2)
            upright = ImageOps.exif_transpose(image).convert("RGB")
            rgb = np.asarray(upright, dtype=np.uint8)
    except PictureError:
        raise
    except FileNotFoundError as error:
        raise PictureError("there is no such file") from error
    except Exception as error:  # Pillow raises many kinds for damaged files
        raise PictureError(
            f"it is no JPEG or PNG picture that can be read ({type(error).__name__})"
        ) from error
    diagonal = float(np.hypot(rgb.shape[0], rgb.shape[1]))
    focal = focal_35 / _DIAGONAL_35_MM * diagonal if focal_35 > 0 else None
    stated = (float(dpi[0]), float(dpi[1])) if dpi and min(dpi) > 1 else None
    return Picture(name=path.name, rgb=rgb, focal_px=focal, dpi=stated, chroma_px=CHROMA_PX * halved)

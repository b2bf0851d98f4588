"""What this room needs from outside: OpenCV, imported when a picture is read and not before."""

from __future__ import annotations

from typing import Any

from nestyield.model import NestyieldError


class MissingExtraError(NestyieldError, ImportError):
    """A package of the extra ``photo`` is not installed."""


def opencv() -> Any:
    """Return the module ``cv2``.

    Raises
    ------
    MissingExtraError
        Tells how to install it.
    """
    try:
        import cv2
    except ImportError as error:
        raise MissingExtraError("reading pictures needs OpenCV: pip install 'nestyield[photo]'") from error
    return cv2


def pillow() -> Any:
    """Return the module ``PIL.Image``.

    Raises
    ------
    MissingExtraError
        Tells how to install it.
    """
    try:
        from PIL import Image
    except ImportError as error:
        raise MissingExtraError("reading pictures needs Pillow: pip install 'nestyield[photo]'") from error
    return Image

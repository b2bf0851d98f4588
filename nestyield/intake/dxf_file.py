"""Opens DXF files of any version, ASCII or binary, mending damaged ones where that is possible."""

from __future__ import annotations

import logging
import re
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ezdxf import recover
from ezdxf.document import Drawing
from ezdxf.filemanagement import readfile
from ezdxf.lldxf.const import DXFError

from nestyield.intake.problems import Problems

#: Messages of a repair that are shown in full.
REPAIRS_SHOWN = 5
_UNIT_CODE = re.compile(rb"\$INSUNITS\s+70\s+(-?[0-9]{1,9})\s")
_HARMLESS = re.compile(r"in \w+ table|section (CLASSES|OBJECTS)")
_SENTINEL = b"AutoCAD Binary DXF\r\n\x1a\x00"


def open_dxf(path: Path, data: bytes, file: str, problems: Problems) -> Drawing | None:
    """Open a drawing.

    Parameters
    ----------
    path : Path
    data : bytes
        Its contents, already read.
    file : str
        Its name for findings.
    problems : Problems
        Takes an error when it is no drawing, a warning for each repair.

    Returns
    -------
    ezdxf Drawing or None
    """
    if not data.strip():
        problems.error("D001", "the drawing is empty", file)
        return None
    binary = data.startswith(_SENTINEL)
    if not binary and not _looks_like_dxf(data):
        kind = _kind_of_file(data)
        such = Path(file).with_suffix(".dxf").name
        named = "" if file.casefold().endswith(".dxf") else f', and write "{such}" where it is named'
        problems.error("D001", f"the file is {kind}; save it as DXF{named}", file)
        return None
    try:
        with collected_log() as log:
            doc = readfile(path)
        _tell_log(log, file, problems)
        return doc
    except Exception as error:  # any damage: the library's readers raise many kinds of errors on it
        first = error
    try:
        with collected_log() as log:
            doc, auditor = recover.readfile(path)
    except Exception as error:
        problems.error(
            "D001",
            f"the drawing is damaged beyond repair ({_short(first, path)}; then {_short(error, path)}); "
            "write it again from the program that made it",
            file,
        )
        return None
    if not binary and _ends_early(data):
        problems.error(
            "D001", "the drawing ends too early, what follows is lost; save or copy it again", file
        )
        return None
    _tell_repairs(auditor, _short(first, path), file, problems)
    _tell_log(log, file, problems)
    return doc


@contextmanager
def collected_log() -> Iterator[list[str]]:
    """Collect what the drawing library logs instead of letting it reach the terminal."""
    messages: list[str] = []
    handler = logging.Handler(logging.WARNING)
    handler.emit = lambda record: messages.append(record.getMessage())  # type: ignore[method-assign]
    logger = logging.getLogger("ezdxf")
    propagate, logger.propagate = logger.propagate, False
    logger.addHandler(handler)
    try:
        yield messages
    finally:
        logger.removeHandler(handler)
        logger.propagate = propagate


def _tell_log(messages: list[str], file: str, problems: Problems) -> None:
    """Warn of values and entities that the library mended or left out; of tables of styles only note it."""
    told = list(dict.fromkeys(messages))
    for message in told[:REPAIRS_SHOWN]:
        harmless = _HARMLESS.search(message) is not None
        problems.add("note" if harmless else "warning", "D002", f"input repaired: {message}", file)
    if len(told) > REPAIRS_SHOWN:
        problems.warning("D002", f"input repaired: {len(told) - REPAIRS_SHOWN} more places", file)


def unit_code(doc: Drawing, data: bytes) -> int | None:
    """Return ``$INSUNITS`` of the header, or None when it is absent or no number.

    Parameters
    ----------
    doc : ezdxf Drawing
    data : bytes
        Contents of the file: what is missing or damaged there is filled in with meters by the library.
    """
    if not data.startswith(_SENTINEL):
        found = _UNIT_CODE.search(data)
        return int(found[1]) if found else None
    if b"$INSUNITS" not in data:
        return None
    try:
        value: Any = doc.header.get("$INSUNITS", None)
        return None if value is None else int(value)
    except (TypeError, ValueError, DXFError):
        return None


def _tell_repairs(auditor: Any, damage: str, file: str, problems: Problems) -> None:
    messages = [str(e.message) for e in (*auditor.errors, *auditor.fixes)]
    problems.warning(
        "D002",
        f"input repaired: the drawing is damaged ({damage}); it was read as far as possible with "
        f"{len(messages)} repairs. Compare the picture in the report with the drawing, or save it again",
        file,
    )
    for message in list(dict.fromkeys(messages))[:REPAIRS_SHOWN]:
        problems.warning("D002", f"input repaired: {message}", file)


def _ends_early(data: bytes) -> bool:
    """Tell whether a damaged text stops before the end of its list of entities."""
    lines = [line.strip() for line in data.splitlines()]
    if b"EOF" in lines[-4:]:
        return False
    if b"ENTITIES" not in lines:
        return True
    return b"ENDSEC" not in lines[lines.index(b"ENTITIES") :]


def _looks_like_dxf(data: bytes) -> bool:
    """Tell whether the text begins as a DXF does: a group code 0 or 999, then its value."""
    head = data[:100_000].removeprefix(b"\xef\xbb\xbf")
    lines = [line.strip() for line in head.splitlines()]
    lines = lines[next((i for i, line in enumerate(lines) if line), 0) :]
    if not lines or lines[0] not in (b"0", b"999"):
        return b"SECTION" in lines and (b"ENTITIES" in lines or b"HEADER" in lines)
    return b"SECTION" in lines or lines[1:2] == [b"EOF"]


def _kind_of_file(data: bytes) -> str:
    known = {
        b"AC10": "a DWG drawing",
        b"%PDF": "a PDF",
        b"PK\x03\x04": "a zip archive",
        b"\x89PNG": "a picture (PNG)",
        b"\xff\xd8\xff": "a picture (JPEG)",
        b"<svg": "an SVG drawing",
        b"<?xml": "an XML file",
        b"%!PS": "a PostScript file",
    }
    for magic, name in known.items():
        if data.lstrip()[:16].startswith(magic):
            return name
    return "no DXF drawing"


def _short(error: Exception, path: Path) -> str:
    if isinstance(error, struct.error):
        return "the binary file ends early or is garbled"
    text = " ".join(str(error).replace(str(path), path.name).split())
    return (text if len(text) <= 120 else text[:117] + "...") or type(error).__name__

"""Finds and reads the files of a shop folder, and never leaves it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath, PureWindowsPath

from nestyield.intake.problems import Problems, nearest, shown

#: A larger file is refused: it is not a drawing or table of a small shop.
LARGEST_FILE_BYTES = 200_000_000
#: What TOML makes of a backslash and a letter -> as it was written.
_ESCAPES = {ord(made): f"/{letter}" for made, letter in zip("\b\t\n\f\r\x1b", "btnfre")}


@dataclass(slots=True)
class ShopFiles:
    """The files of one shop folder.

    Parameters
    ----------
    folder : Path
    problems : Problems
        Where problems go.
    hashes : dict of str to str
        SHA-256 of each file read, by its name in the shop folder.
    """

    folder: Path
    problems: Problems
    hashes: dict[str, str] = field(default_factory=dict)
    _bytes: dict[str, bytes | None] = field(default_factory=dict)

    def read(self, name: str, code: str, file: str, where: str) -> bytes | None:
        """Read a file of the folder.

        Parameters
        ----------
        name : str
            As written by the maker, relative to the folder.
        code : str
            Finding code when it cannot be read.
        file, where : str
            The place that names the file, for the finding.

        Returns
        -------
        bytes or None
            None when it cannot be read; the finding says why.
        """
        path = self.path(name, file, where)
        if path is None:
            return None
        key = PurePosixPath(name).as_posix()
        if key in self._bytes:
            return self._bytes[key]
        data, why = read_regular(path)
        self._bytes[key] = data
        if data is None:
            if not path.exists() and why == MISSING:
                why += f"; {self._suggest(name)}"
            self.problems.error(code, f"{shown(name)} {why}", file, where)
            return None
        self.hashes[key] = hashlib.sha256(data).hexdigest()
        return data

    def path(self, name: str, file: str, where: str) -> Path | None:
        """Return the path of a file named by the maker, or None (with a finding) when it leaves the "
        "folder."""
        if not name.strip() or "\0" in name:
            self.problems.error("S010", f"expected a file name, got {shown(name)}", file, where)
            return None
        plain = name.translate(_ESCAPES)
        inner = plain.replace("\\", "/")
        if PurePosixPath(inner).is_absolute() or PureWindowsPath(inner).drive:
            message = f'a file lies in the shop folder: copy it there; write "{PurePosixPath(inner).name}"'
            self.problems.error("S010", message, file, where)
            return None
        if inner != name and inner.isprintable():
            self.problems.error(
                "S010", f'a backslash does not work in a file name; write "{inner}"', file, where
            )
            return None
        if not name.isprintable():
            self.problems.error(
                "S010", f"{shown(name)} holds a control character; write it again", file, where
            )
            return None
        path = self.folder / name
        try:
            inside = path.resolve().is_relative_to(self.folder.resolve())
        except (OSError, RuntimeError, ValueError):
            self.problems.error("S010", f"{shown(name)} is a link that leads nowhere", file, where)
            return None
        if not inside:
            self.problems.error(
                "S010",
                f"{shown(name)} lies outside the shop folder; copy the file into it",
                file,
                where,
            )
            return None
        return path

    def _suggest(self, name: str) -> str:
        wanted = PurePosixPath(name)
        try:
            there = sorted(p.name for p in (self.folder / wanted.parent).iterdir() if p.is_file())
        except OSError:
            return f"there is no folder {wanted.parent.as_posix()!r}"
        if (extra := f"{wanted.name}.txt") in there:
            return f"{extra} is: rename it {wanted.name}"
        alike = [n for n in there if PurePosixPath(n).suffix.casefold() == wanted.suffix.casefold()]
        stem = nearest(wanted.stem, [PurePosixPath(n).stem for n in alike])
        if stem is not None:
            alike = [n for n in alike if PurePosixPath(n).stem == stem]
            return f"did you mean {alike[0]!r}?"
        later = "; or put # before its lines until it is drawn" if wanted.suffix.casefold() == ".dxf" else ""
        named = f", or name one that is: {', '.join(alike[:12])}" if alike else ""
        return f"copy it there{named}{later}"


MISSING = "is not in the shop folder"


def read_regular(path: Path) -> tuple[bytes | None, str]:
    """Read a regular file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    (bytes or None, str)
        Contents, or None and the reason.
    """
    try:
        if path.is_dir():
            return None, "is a folder, not a file"
        if not path.exists():
            return None, "is a link that leads nowhere" if path.is_symlink() else MISSING
        if not path.is_file():
            return None, "is not a regular file"
        if path.stat().st_size > LARGEST_FILE_BYTES:
            return None, f"is larger than {LARGEST_FILE_BYTES // 1_000_000} MB"
        return path.read_bytes(), ""
    except (OSError, ValueError, RuntimeError) as error:
        reason = getattr(error, "strerror", None) or type(error).__name__
        return None, f"cannot be read: {reason}"


def decode(data: bytes) -> tuple[str | None, str]:
    """Decode text that should be UTF-8, with or without byte order mark.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    (str or None, str)
        Text without byte order mark, or None and the reason with its line.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return None, "is UTF-16; save it as UTF-8"
    if data.startswith(b"PK\x03\x04"):
        return None, "is a zip archive or a spreadsheet program's own file; save it as CSV, UTF-8"
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        byte = data[error.start]
        return None, f"is not UTF-8: byte 0x{byte:02x} in line {line}; save it as UTF-8"
    if "\0" in text:
        return (
            None,
            f"is not a text file: a null byte in line {text.count(chr(10), 0, text.index(chr(0))) + 1}",
        )
    return text, ""

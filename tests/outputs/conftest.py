"""Small shops on disk, planned by the command line, and what they wrote: each fact is read from the outputs."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from pathlib import Path

import ezdxf
import pytest
from pypdf import PdfReader

from nestyield.cli import main

Drawing = Callable[[ezdxf.layouts.Modelspace], None]


class Written:
    """What one run wrote."""

    def __init__(self, folder: Path, code: int, out: str, err: str) -> None:
        self.folder, self.code, self.out, self.err = folder, code, out, err

    def rows(self, name: str) -> list[dict[str, str]]:
        """Return a table as records."""
        text = (self.folder / name).read_bytes().decode("utf-8-sig")
        return list(csv.DictReader(text.splitlines()))

    def pdf(self, stem: str) -> str:
        """Return the text of a shop sheet, white space joined."""
        pages = PdfReader(self.folder / "sheets" / f"{stem}-a4.pdf").pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())

    def html(self) -> str:
        """Return the report."""
        return (self.folder / "report.html").read_text(encoding="utf-8")

    def dxf(self, stem: str) -> ezdxf.document.Drawing:
        """Return a drawing of a blank."""
        return ezdxf.readfile(self.folder / "drawings" / f"{stem}.dxf")


class Maker:
    """Writes a shop and plans it."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self._capsys = folder / "shop", capsys
        self.folder.mkdir()

    def drawing(self, name: str, draw: Drawing) -> None:
        """Write a drawing in millimeters."""
        file = ezdxf.new("R2010", units=ezdxf.units.MM)
        draw(file.modelspace())
        file.saveas(self.folder / name)

    def plan(self, shop: str, rack: Sequence[str], defects: Sequence[str] = ()) -> Written:
        """Plan the shop, and return what was written."""
        (self.folder / "shop.toml").write_text(shop)
        (self.folder / "rack.csv").write_text("\n".join(rack) + "\n")
        if defects:
            (self.folder / "defects.csv").write_text("\n".join(defects) + "\n")
        out = self.folder.parent / "out"
        self._capsys.readouterr()
        code = main(["plan", str(self.folder), "--out", str(out), "--workers", "1"])
        told = self._capsys.readouterr()
        return Written(out, code, told.out, told.err)


@pytest.fixture
def maker(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Maker:
    """A folder for a shop."""
    return Maker(tmp_path, capsys)

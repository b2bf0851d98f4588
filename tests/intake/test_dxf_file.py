"""Damaged drawings: mended with a warning, or refused with an error, never a traceback."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from nestyield.intake.dxf_units import UnitRule

BODY = {"layer": "BODY"}
GOOD = 60 * 40 + math.pi * 200


def written(tmp_path: Path, new: Any, version: str, binary: bool) -> bytes:
    doc, space = new(version)
    if version == "R12":
        doc.header["$INSUNITS"] = 4
    polyline = [(0, 0, 0), (60, 0, 1), (60, 40, 0), (0, 40, 0)]
    if version == "R12":
        space.add_polyline2d(polyline, format="xyb", close=True, dxfattribs=BODY)
    else:
        space.add_lwpolyline(polyline, format="xyb", close=True, dxfattribs=BODY)
    space.add_circle((20, 20), 5, dxfattribs={"layer": "HOLES"})
    path = tmp_path / "good.dxf"
    doc.saveas(path, fmt="bin" if binary else "asc")
    return path.read_bytes()


def read_bytes(tmp_path: Path, read: Any, data: bytes) -> Any:
    path = tmp_path / "damaged.dxf"
    path.write_bytes(data)
    return read(path)


def test_missing_end_is_repaired_with_a_warning(tmp_path: Path, new: Any, read: Any) -> None:
    """A file without its last lines is read, and told as repaired."""
    data = written(tmp_path, new, "R2010", False)
    cut = data[: data.rindex(b"OBJECTS")]
    result = read_bytes(tmp_path, read, cut)
    assert result.areas() == pytest.approx([GOOD])
    assert {f.code for f in result.findings} == {"D002"}
    assert {f.severity for f in result.findings} == {"warning"}
    assert "input repaired" in result.findings[0].message
    assert "lost" not in result.findings[0].message


def test_end_within_the_entities_is_refused(tmp_path: Path, new: Any, read: Any) -> None:
    """A file that stops inside its list of entities is not read: what follows is lost."""
    data = written(tmp_path, new, "R2010", False)
    cut = data[: data.index(b"CIRCLE", data.index(b"ENTITIES"))]
    result = read_bytes(tmp_path, read, cut)
    assert result.drawing is None
    (finding,) = result.findings
    assert (finding.code, finding.severity) == ("D001", "error")
    assert "ends too early" in finding.message


def test_values_that_the_library_mends_are_told(
    tmp_path: Path, new: Any, read: Any, capfd: pytest.CaptureFixture[str]
) -> None:
    """What the library only logs becomes a finding, and nothing reaches the terminal."""
    data = written(tmp_path, new, "R2010", False)
    at = data.index(b"60.0", data.index(b"LWPOLYLINE"))
    spoiled = data[:at] + b"60,x" + data[at + 4 :]
    result = read_bytes(tmp_path, read, spoiled)
    assert result.drawing is None or "D002" in result.codes
    cut = read_bytes(tmp_path, read, data[: data.index(b"ENTITIES") - 2])
    assert {"D001", "D002"} & set(cut.codes)
    assert "".join(capfd.readouterr()) == ""


def test_findings_do_not_show_where_the_shop_lies(tmp_path: Path, new: Any, read: Any) -> None:
    """The library's messages name the whole path; findings do not, so that plans are the same everywhere."""
    data = written(tmp_path, new, "R2010", False)
    result = read_bytes(tmp_path, read, b"\xef\xbb\xbf" + data)
    assert result.areas() == pytest.approx([GOOD])
    assert result.codes == ["D002"]
    for spoiled in (b"\n\n" + data, b"\xef\xbb\xbf" + data, data[:900], data.replace(b"AC1024", b"AC9999")):
        told = "".join(map(str, read_bytes(tmp_path, read, spoiled).findings))
        assert str(tmp_path) not in told


def test_mixed_line_ends_and_blanks_are_read(tmp_path: Path, new: Any, read: Any) -> None:
    """CR LF line ends and padded group codes are no damage."""
    data = written(tmp_path, new, "R2010", False)
    result = read_bytes(tmp_path, read, data.replace(b"\r\n", b"\n").replace(b"\n", b"\r\n"))
    assert result.areas() == pytest.approx([GOOD])
    assert result.codes == []


@pytest.mark.parametrize("version", ["R12", "R2010"])
@pytest.mark.parametrize("binary", [False, True], ids=["ascii", "binary"])
def test_no_damage_makes_a_traceback(version: str, binary: bool, tmp_path: Path, new: Any, read: Any) -> None:
    """Files cut or garbled at random places are read, repaired with a warning, or refused with an error."""
    data = written(tmp_path, new, version, binary)
    rng = np.random.default_rng(12)
    for case in range(24):
        if case % 3 == 0:
            spoiled = data[: int(rng.integers(0, len(data)))]
        else:
            array = np.frombuffer(data, dtype=np.uint8).copy()
            for at in rng.integers(0, len(data), 3 ** int(rng.integers(0, 4))):
                array[at] = rng.integers(32, 127) if case % 3 == 1 else rng.integers(0, 256)
            spoiled = array.tobytes()
        result = read_bytes(tmp_path, read, spoiled)
        if result.drawing is None:
            assert any(f.severity == "error" for f in result.findings)
        elif case % 3 == 0:
            assert result.codes  # what was cut off is never passed over in silence


BARE = b"0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n8\nBODY\n10\n0\n20\n0\n40\n5\n0\nENDSEC\n0\nEOF\n"


def test_file_without_a_header_says_no_unit(tmp_path: Path, read: Any) -> None:
    """A bare list of entities is read, and its unit is asked for, never guessed."""
    result = read_bytes(tmp_path, read, BARE)
    assert result.codes == ["D003"]
    path = tmp_path / "damaged.dxf"
    assert read(path, rule=UnitRule(fallback="mm")).areas() == pytest.approx([25 * math.pi])
    path.write_bytes(b"999\nmade by hand\n" + BARE.replace(b"\n", b"\r\n"))
    assert read(path, rule=UnitRule(stated="in")).areas() == pytest.approx([25 * math.pi * 25.4**2])


def test_unit_in_an_old_header(tmp_path: Path, read: Any) -> None:
    """A unit code in the header of a version R12 file counts."""
    header = b"0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1009\n9\n$INSUNITS\n70\n1\n0\nENDSEC\n"
    assert read_bytes(tmp_path, read, header + BARE).areas() == pytest.approx([25 * math.pi * 25.4**2])


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "empty"),
        (b"  \r\n", "empty"),
        (b"\x89PNG\r\n\x1a\n....", "PNG"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "SVG"),
        (b"%!PS-Adobe-3.0", "PostScript"),
        (b"AC1032....", "DWG"),
        (b"piece,species\nM1,maple\n", "no DXF drawing"),
        (bytes(1000), "no DXF drawing"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00\x00\x00", "damaged beyond repair"),
    ],
)
def test_other_kinds_of_files_are_named(data: bytes, told: str, tmp_path: Path, read: Any) -> None:
    """What is no DXF is named, so that the maker knows which file was picked."""
    result = read_bytes(tmp_path, read, data)
    assert result.drawing is None
    assert result.one("D001").severity == "error"
    assert told in result.one("D001").message

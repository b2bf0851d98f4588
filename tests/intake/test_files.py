"""Files of the shop folder."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from nestyield.intake.files import ShopFiles, decode, read_regular
from nestyield.intake.problems import Problems


@pytest.fixture
def files(tmp_path: Path) -> ShopFiles:
    folder = tmp_path / "shop"
    (folder / "drawings").mkdir(parents=True)
    (folder / "a.csv").write_bytes(b"a")
    (folder / "drawings" / "b.dxf").write_bytes(b"b")
    (tmp_path / "secret.txt").write_bytes(b"s")
    return ShopFiles(folder=folder, problems=Problems())


def test_files_in_folders_below(files: ShopFiles) -> None:
    """Names with folders are read and hashed under one spelling."""
    assert files.read("drawings/b.dxf", "D001", "", "") == b"b"
    assert files.read("./drawings//b.dxf", "D001", "", "") == b"b"
    assert list(files.hashes) == ["drawings/b.dxf"]


@pytest.mark.parametrize(
    "name",
    [
        "../secret.txt",
        "drawings/../../secret.txt",
        "/etc/passwd",
        "C:\\x.dxf",
        "c:/x.dxf",
        "a\\b.dxf",
        "",
        " ",
        "a\0b",
    ],
)
def test_names_that_lead_out_are_refused(name: str, files: ShopFiles) -> None:
    """No name reads a file outside the folder, and the message does not show where the folder is."""
    assert files.read(name, "D001", "shop.toml", "part.x.drawing") is None
    (finding,) = files.problems.findings
    assert finding.code == "S010"
    assert str(files.folder.parent) not in str(finding)


def test_links(files: ShopFiles, tmp_path: Path) -> None:
    """Links inside are followed; links outside, in a circle or to nothing are refused."""
    os.symlink("a.csv", files.folder / "good.csv")
    os.symlink(tmp_path / "secret.txt", files.folder / "out.csv")
    os.symlink("loop.csv", files.folder / "loop.csv")
    os.symlink("nothing.csv", files.folder / "dangling.csv")
    assert files.read("good.csv", "R001", "", "") == b"a"
    for name in ("out.csv", "loop.csv", "dangling.csv"):
        assert files.read(name, "R001", "", "") is None
    assert [f.code for f in files.problems.findings] == ["S010", "S010", "R001"]


def test_pipes_and_folders_are_not_read(files: ShopFiles) -> None:
    """A pipe is refused rather than waited for."""
    os.mkfifo(files.folder / "pipe.csv")
    assert read_regular(files.folder / "pipe.csv") == (None, "is not a regular file")
    assert read_regular(files.folder / "drawings") == (None, "is a folder, not a file")


def test_large_files_are_refused(files: ShopFiles, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file above the limit is refused unread."""
    monkeypatch.setattr("nestyield.intake.files.LARGEST_FILE_BYTES", 0)
    assert "larger" in read_regular(files.folder / "a.csv")[1]


def test_missing_file_suggests_one(files: ShopFiles) -> None:
    """The nearest name of the same kind is suggested."""
    assert files.read("drawings/bb.dxf", "D001", "", "") is None
    assert "did you mean 'b.dxf'?" in files.problems.findings[0].message
    assert files.read("nowhere/b.dxf", "D001", "", "") is None
    assert "no folder 'nowhere'" in files.problems.findings[1].message


def test_same_problem_is_told_once(files: ShopFiles) -> None:
    """A file named twice in one place is told once."""
    for _ in range(2):
        files.read("no.dxf", "D001", "shop.toml", "x")
    assert len(files.problems.findings) == 1


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"\xff\xfea\x00", "UTF-16"),
        (b"one\ntwo \xe9\n", "byte 0xe9 in line 2"),
        (b"a\nb\x00", "null byte in line 2"),
        (b"PK\x03\x04", "CSV"),
    ],
)
def test_decode_refuses(data: bytes, told: str) -> None:
    """The reason names kind and line."""
    text, why = decode(data)
    assert text is None
    assert told in why


def test_decode_takes_a_byte_order_mark() -> None:
    """UTF-8 with and without byte order mark."""
    assert decode("\ufeffé".encode()) == ("é", "")
    assert decode("é".encode()) == ("é", "")

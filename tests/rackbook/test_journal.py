"""The journal of a shop: lines that are none are told, whatever they hold."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from nestyield.cli import main
from nestyield.rackbook.errors import RackbookError
from nestyield.rackbook.journal import FOLDER, JOURNAL, read_journal


@pytest.mark.parametrize(
    "change",
    [
        {"name": "rack\0.csv", "before": None, "after": "0" * 64},
        {"name": "rack.csv", "before": "../../../etc/passwd", "after": "0" * 64},
        {"name": "rack.csv", "before": "0" * 64, "after": "\0" * 64},
    ],
)
def test_names_and_sums_that_are_none(
    tmp_path: Path, change: dict, capsys: pytest.CaptureFixture[str]
) -> None:
    """A null byte in a name, or a sum that is a path, is a line that is no entry: no traceback, exit code 2."""
    entry = {"entry": 1, "action": "take", "files": [change]}
    (tmp_path / FOLDER).mkdir()
    (tmp_path / FOLDER / JOURNAL).write_text(json.dumps(entry) + "\n")
    with pytest.raises(RackbookError, match="line 1 is not an entry"):
        read_journal(tmp_path)
    (tmp_path / "shop.toml").write_text("[shop]\n")
    assert main(["undo", str(tmp_path)]) == 2
    assert "line 1 is not an entry" in capsys.readouterr().err


def test_null_bytes_in_the_journal(tmp_path: Path) -> None:
    """A journal with null bytes, as a disk may leave it after a power cut, is told by its line."""
    (tmp_path / FOLDER).mkdir()
    (tmp_path / FOLDER / JOURNAL).write_bytes(b"\0" * 64 + b"\n")
    with pytest.raises(RackbookError, match="line 1 is not an entry"):
        read_journal(tmp_path)

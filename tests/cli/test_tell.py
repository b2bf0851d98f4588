"""What the terminal gets: plain text, and no more than anyone reads."""

from __future__ import annotations

import io

from nestyield.cli.tell import plain, say_findings
from nestyield.model import Finding


def lines_for(findings: list[Finding]) -> list[str]:
    stream = io.StringIO()
    say_findings(findings, stream)
    return stream.getvalue().splitlines()


def note(k: int, severity: str, file: str = "a.dxf") -> Finding:
    return Finding(code="D014", severity=severity, message=f"gap {k}", file=file)  # type: ignore[arg-type]


def test_control_characters_are_shown_as_question_marks() -> None:
    """Escape sequences, bells and marks that turn the direction of writing never reach the terminal."""
    assert plain("a\x1b[31mb\x07c\u202ed\u2066e\x00f\x9bg\rh") == "a?[31mb?c?d?e?f?g?h"
    assert plain("50\u00a0mm · ½\tµ\nnext") == "50\u00a0mm · ½\tµ\nnext"
    assert "\x1b" not in "".join(lines_for([Finding(code="R005", severity="error", message="x\x1b[2J")]))


def test_many_findings_of_one_file_end_after_twenty_lines() -> None:
    """Of 60 findings about one file the errors are shown first, the rest counted; other files have their own."""
    found = [note(k, "note") for k in range(30)] + [note(k, "error") for k in range(30, 40)]
    found += [note(k, "warning") for k in range(40, 60)] + [note(1, "note", "b.dxf")]
    out = lines_for(found)
    assert len(out) == 21
    assert [line for line in out if line.startswith("error")] == [str(f) for f in found[30:40]]
    assert sum(line.startswith("warning") for line in out) == 9
    assert out[-1] == "... and 41 more about a.dxf; mend these first"


def test_twenty_findings_are_all_shown() -> None:
    """No line is given to a count that would take no more than the finding itself."""
    found = [note(k, "error") for k in range(20)]
    assert lines_for(found) == [str(f) for f in found]


def test_a_finding_is_one_line_of_bounded_length() -> None:
    """A message that carries half a file is cut."""
    (line,) = lines_for([Finding(code="S002", severity="error", message="y" * 50_000)])
    assert len(line) == 600
    assert line.endswith("...")

"""What goes to the terminal: no control characters, no flood."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TextIO

from nestyield.model.finding import Finding, Severity

#: Most lines for one file.
MOST_LINES = 20
#: Longest line; the rest of it is left out.
LONGEST_LINE = 600
#: Characters that are no letters or signs and yet no harm: line ends, tabs, no-break spaces.
_HARMLESS = "\n\t\u00a0\u202f"
_STYLES = {"error": "bold red", "warning": "bold yellow", "note": "bold"}
_RANK = {"error": 0, "warning": 1, "note": 2}


def plain(text: str) -> str:
    """Return a text without control characters and marks that turn the direction of writing."""
    return "".join(ch if ch.isprintable() or ch in _HARMLESS else "?" for ch in text)


def say(text: object, stream: TextIO | None = None) -> None:
    """Print a text that may hold names out of files, plainly.

    Parameters
    ----------
    text : object
    stream : text stream, optional
        Left out, standard output.
    """
    print(plain(str(text)), file=stream)


def _say_colored(line: str, severity: Severity, stream: TextIO) -> None:
    """Print a line that begins with a severity; the severity is colored on a terminal that has colors."""
    if not stream.isatty():
        say(line, stream)
        return
    from rich.console import Console
    from rich.text import Text

    text = Text(plain(line))
    text.stylize(_STYLES[severity], 0, len(severity))
    Console(file=stream, highlight=False).print(text, soft_wrap=True)


def say_findings(findings: Iterable[Finding], stream: TextIO) -> None:
    """Print findings, one a line; of many about one file the gravest, and how many more there are.

    Parameters
    ----------
    findings : iterable of Finding
    stream : text stream
    """
    found = list(findings)
    by_rank = sorted(range(len(found)), key=lambda k: (_RANK[found[k].severity], k))
    shown: set[int] = set()
    lines: Counter[str] = Counter()
    files = Counter(f.file for f in found)
    for k in by_rank:
        file = found[k].file
        if lines[file] < MOST_LINES - (files[file] > MOST_LINES):
            lines[file] += 1
            shown.add(k)
    for k, finding in enumerate(found):
        if k in shown:
            line = str(finding)
            _say_colored(
                line if len(line) <= LONGEST_LINE else f"{line[: LONGEST_LINE - 3]}...",
                finding.severity,
                stream,
            )
    for file, count in files.items():
        if more := count - lines[file]:
            say(f"... and {more} more{f' about {file}' if file else ''}; mend these first", stream)

"""Slips of the pen in TOML: each is told with what to write, and mended for reading on: all come at once.

Nothing is mended on disk, and a file with a slip is never planned: mending only finds what else is wrong.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass

from nestyield.intake.slip_values import ASSIGN, PLAIN_KEY, meant_value, reads

#: After so many slips the rest of the file is left for the next time.
MOST_SLIPS = 200

_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_CURLY_MARKS = "[“”„«»‘’″]"
_CURLY = str.maketrans({"“": '"', "”": '"', "„": '"', "«": '"', "»": '"', "‘": "'", "’": "'", "″": '"'})
_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]*?)\s*\]*\s*(#.*)?$")
_REMARK = re.compile(r"\s*(//|;|--|/\*)")
_UNITS = re.compile(r"""^\s*units\s*[=:]\s*["'“]?\s*in(?:ch|ches)?\b""", re.MULTILINE | re.IGNORECASE)
#: Keys with which tables of an array begin.
_BEGINS = ("name", "part", "rectangle", "polygon")


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """One slip.

    Parameters
    ----------
    line : int
        From 1.
    message : str
        What is wrong, and what to write.
    mended : bool
        Whether the text could be mended for reading on; else the line was left out.
    """

    line: int
    message: str
    mended: bool


@dataclass(slots=True)
class _Text:
    """Lines while they are mended, the number of each in the file, and the shop's units."""

    lines: list[str]
    numbers: list[int]
    units: str

    def insert(self, at: int, line: str) -> None:
        """Put a line above another."""
        self.lines.insert(at, line)
        self.numbers.insert(at, self.numbers[at])


def mend_toml(text: str) -> tuple[str, list[Slip], list[int]]:
    """Find all slips of a TOML text, and mend it as far as it can be, for finding what else is wrong.

    Parameters
    ----------
    text : str

    Returns
    -------
    (str, list of Slip, list of int)
        A text that ``tomllib`` reads, unless there are too many slips; slips in file order, none when the
        text is good; the line of the file, from 1, that each line of the mended text comes from.
    """
    lines = text.split("\n")
    body = _Text(lines, list(range(1, len(lines) + 1)), "in" if _UNITS.search(text) else "mm")
    slips: list[Slip] = []
    while len(slips) < MOST_SLIPS:
        try:
            tomllib.loads("\n".join(lines))
            break
        except tomllib.TOMLDecodeError as error:
            why = str(error)
        except (ValueError, RecursionError):
            break
        found = _PLACE.search(why)
        at = min(int(found[1]) if found else len(lines), len(lines)) - 1
        at, new, message = _mended(body, at, _PLACE.sub("", why).strip())
        mended = new is not None and new != lines[at]
        lines[at] = new if new is not None and mended else ""
        slips.append(Slip(line=body.numbers[at], message=message, mended=mended))
    return "\n".join(lines), sorted(slips, key=lambda s: s.line), body.numbers


def _mended(body: _Text, at: int, why: str) -> tuple[int, str | None, str]:
    """Return which line to change, its new text (None: leave it out), and the message."""
    lines = body.lines
    while at > 0 and not lines[at].strip():
        at -= 1
    line = lines[at]
    if "twice" in why or "overwrite" in why or "already" in why or "Cannot mutate" in why:
        return _repeated(body, at)
    new, reason = _line(line, body.units)
    if new is not None and new != line and reads(new) and not reads(line):
        return at, new, reason
    for k in (_opened(lines, at), at):
        bracket = "" if k is None else _missing_bracket(lines[k])
        if k is not None and bracket:
            new = _before_comment(lines[k], bracket)
            if k != at or reads(new):
                what = "list" if bracket[-1] == "]" else "table"
                shown, _ = _split_comment(new)
                return k, new, f"the {what} has no closing bracket; write {_shown(shown)}"
    return at, None, f"cannot read {_shown(line)}: {_plain_reason(why)}"


def _repeated(body: _Text, at: int) -> tuple[int, str | None, str]:
    """Mend a table or key that is there twice."""
    lines = body.lines
    header = _HEADER.match(lines[at]) if lines[at].lstrip().startswith("[") else None
    if header and not reads(lines[at]):  # [part.a b] beside [part.a]: the reader stops at the blank
        new, why = _line(lines[at], body.units)
        if new is not None and reads(new):
            return at, new, why
    if header and header[2] == "order":
        return _repeated_order(lines, at, header[1])
    if header and header[2] in ("layers", "keep_out"):
        owner = _header_above(lines, at, "part" if header[2] == "layers" else "bed")
        if owner:
            new = lines[at].replace(header[2], f"{owner}.{header[2]}", 1)
            return at, new, f"{_shown(lines[at])} lacks its {owner.split('.')[0]}; write {_shown(new)}"
    if header:
        name = header[2]
        renamed = f"{header[1]}{name}-again-{at}{']' * len(header[1])}"
        return (
            at,
            renamed if reads(renamed) else None,
            (f"{_shown(lines[at])} is there twice; put its keys under the first, or give it another name"),
        )
    key = lines[at].split("=")[0].strip()
    return _begun_again(body, at, key) or (
        at,
        None,
        f"the key {_shown(key)} is there twice in its table; keep one",
    )


def _repeated_order(lines: list[str], at: int, brackets: str) -> tuple[int, str | None, str]:
    """Mend orders in single brackets, or with their name in the brackets."""
    if brackets == "[":
        for k, line in enumerate(lines):  # all of them, so that one message does for all orders
            if re.fullmatch(r"\s*\[\s*order\s*\]\s*(#.*)?", line):
                lines[k] = line.replace("[", "[[", 1).replace("]", "]]", 1) if k != at else line
        new = lines[at].replace("[", "[[", 1).replace("]", "]]", 1)
        return at, new, "[order] is there twice; write each order as [[order]], in double brackets"
    for k, text in enumerate(lines):
        if named := re.match(r"\s*\[+\s*order\s*\.\s*(.*?)\s*\]+", text):
            name = named[1] if named[1][:1] in "\"'" else f'"{named[1]}"'
            message = (
                f"an order's name goes on its own line; write [[order]], and below it name = {_shown(name)}"
            )
            return k, "[[order]]", message
    return at, None, f"{_shown(lines[at])} is there twice"


def _begun_again(body: _Text, at: int, key: str) -> tuple[int, str | None, str] | None:
    """Mend the heading left out between two tables of an array: a key of the first comes again."""
    top = next((k for k in range(at - 1, -1, -1) if _HEADER.match(body.lines[k])), None)
    header = None if top is None else _HEADER.match(body.lines[top])
    if top is None or header is None or header[1] != "[[":
        return None
    again = re.compile(rf"\s*{re.escape(key)}\s*=")
    first = next((k for k in range(top + 1, at) if again.match(body.lines[k])), at)
    gaps = [k for k in range(first + 1, at) if re.fullmatch(r"\s*(#.*)?", body.lines[k])]
    if not gaps and (key not in _BEGINS or at <= first + 1):
        return None
    begin = gaps[-1] + 1 if gaps else at
    heading = f"[[{header[2]}]]"
    body.insert(begin, "")
    what = header[2].rpartition(".")[2]
    return begin, heading, f"a second {what} begins here; write {heading} above this line"


def _header_above(lines: list[str], at: int, kind: str) -> str:
    """Return the path of the nearest heading of a part or bed above a line, ``""`` when there is none."""
    for line in reversed(lines[:at]):
        found = _HEADER.match(line)
        if found and re.fullmatch(rf"{kind}\.([A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*')", found[2]):
            return found[2]
    return ""


def _line(line: str, units: str) -> tuple[str | None, str]:
    """Return a line as it was probably meant, and what to say; None when nothing is known."""
    curly = bool(re.search(_CURLY_MARKS, _split_comment(line)[0]))
    straight = line.translate(_CURLY) if re.search(_CURLY_MARKS, line) else line
    if straight != line and reads(straight):
        return straight, f"curly quotes; write {_shown(_split_comment(straight)[0])} with straight ones"
    body, comment = _split_comment(straight)
    if _REMARK.match(body):
        return "# " + body.strip().lstrip("/;-* "), "a comment begins with #"
    header = _HEADER.match(straight) if body.lstrip().startswith("[") else None
    if header:
        new = f"{header[1]}{_quoted_path(header[2])}{']' * len(header[1])}"
        why = _why_of_header(body, new)
    else:
        new, why = _assignment(body, units)
    if not new:
        return None, ""
    if curly:
        why = f"curly quotes; write {_shown(new)} with straight ones"
    return (f"{new}  {comment}" if comment else new), why


def _why_of_header(old: str, new: str) -> str:
    if '"' in new and '"' not in old:
        what = "a name with spaces needs quotes"
    elif old.count("]") < new.count("]"):
        what = "the closing bracket is missing"
    else:
        what = "the brackets are not in order"
    return f"{what}; write {_shown(new)}"


def _assignment(body: str, units: str) -> tuple[str, str]:
    """Return ``key = value`` as it was probably meant, and what to say; empty when nothing is known."""
    assign = ASSIGN.match(body)
    if assign is None:
        return "", ""
    indent, key, mark, value = assign.groups()
    key = key.strip()
    plain = PLAIN_KEY.match(key)
    if not plain:
        key = '"' + key.replace('"', "").replace("'", "") + '"'
    meant = meant_value(value, units, key)
    text, why, stands_in = (value, "", False) if meant is None else meant
    new = f"{indent}{key} = {text}"
    if mark != "=":
        why, stands_in = "a key and its value need = between them", False
    elif not plain:
        why, stands_in = "a key with spaces or signs needs quotes", False
    return new, why if stands_in else f"{why or 'not valid TOML'}; write {_shown(new)}"


def _quoted_path(path: str) -> str:
    """Put quotes around the names of a header that need them: part.lap steel -> part."lap steel"."""
    if PLAIN_KEY.match(path):
        return path
    head, dot, name = path.partition(".")
    if not dot:
        return '"' + path.replace('"', "").strip() + '"'
    tail = ""
    for known in (".layers", ".keep_out"):
        if name.endswith(known):
            name, tail = name[: -len(known)], known
    return f'{head.strip()}."{name.replace(chr(34), "").strip()}"{tail}'


def _opened(lines: list[str], at: int) -> int | None:
    """Return the line above in which a bracket was opened that is never closed."""
    for k in range(at - 1, max(-1, at - 40), -1):
        body, _ = _split_comment(lines[k])
        if _missing_bracket(body) and "=" in body:
            return k
        if re.match(r"\s*\[", body) and reads(body):
            return None
    return None


def _missing_bracket(line: str) -> str:
    """Return the brackets that a line opens and does not close, outside of its texts."""
    body, _ = _split_comment(line)
    body = re.sub(r"""\"[^"]*\"|'[^']*'""", "", body)
    open_: list[str] = []
    for ch in body:
        if ch in "[{":
            open_.append("]" if ch == "[" else "}")
        elif ch in "]}" and open_ and open_[-1] == ch:
            open_.pop()
    return "".join(reversed(open_))


def _before_comment(line: str, text: str) -> str:
    body, comment = _split_comment(line)
    return f"{body.rstrip().rstrip(',')}{text}" + (f"  {comment}" if comment else "")


def _split_comment(line: str) -> tuple[str, str]:
    """Split a line into what counts and its comment; a # in quotes is none."""
    quote = ""
    for i, ch in enumerate(line):
        if quote:
            quote = "" if ch == quote else quote
        elif ch in "\"'":
            quote = ch
        elif ch == "#":
            return line[:i].rstrip(), line[i:]
    cut = re.search(r"\s#[^\"']*$", line) if quote else None  # a quote that is never closed
    return (line[: cut.start()].rstrip(), line[cut.start() :].strip()) if cut else (line.rstrip(), "")


def _shown(line: str) -> str:
    text = " ".join("".join(ch if ch.isprintable() else " " for ch in line).split())
    return text if len(text) <= 100 else text[:97] + "..."


def _plain_reason(why: str) -> str:
    reasons = {
        "Invalid value": "its value is no number, and a text stands in quotes",
        "Invalid statement": "expected [section], key = value or # comment",
        "Expected '=' after a key": "expected key = value; a key with spaces stands in quotes",
        "Unclosed array": "a bracket [ is opened and never closed",
        "Illegal character": "a quote is opened and never closed",
    }
    return next(
        (plain for begin, plain in reasons.items() if why.startswith(begin)), why[:1].lower() + why[1:]
    )

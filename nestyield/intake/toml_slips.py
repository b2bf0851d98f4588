"""Slips of the pen in TOML: each is told with what to write, and mended for reading on: all come at once.

Nothing is mended on disk, and a file with a slip is never planned: mending only finds what else is wrong.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass

from nestyield.intake.keys import KEYS

#: After so many slips the rest of the file is left for the next time.
MOST_SLIPS = 200

_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_CURLY = str.maketrans({"“": '"', "”": '"', "„": '"', "«": '"', "»": '"', "‘": "'", "’": "'", "″": '"'})
_ASSIGN = re.compile(r"""^(\s*)((?:"[^"]*"|'[^']*'|[^=#"'\[{])+?)\s*(=|:(?!=)|\s(?=["'\d\[{]))\s*(.*?)\s*$""")
_PLAIN_KEY = re.compile(
    r"""^(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*$"""
)
_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]*?)\s*\]*\s*(#.*)?$")
_INCH_MARK = re.compile(
    r"""^["']?\s*(\d[\d\s./-]*?)\s*(?:["”″]|''|in\.?|inch(?:es)?)\s*["']*$""", re.IGNORECASE
)
_LENGTH = re.compile(
    r"^[+-]?(?:\d+\s*[- ]\s*)?\d+\s*/\s*\d+\s*[a-z]*$|^[+-]?[\d.]+\s*(?:mm|cm|m|in|ft|inch|inches)\.?$", re.I
)
_COMMA_NUMBER = re.compile(r"^[+-]?\d+,\d+$")
_DATE = re.compile(r"^\d{1,4}[./-]\d{1,2}[./-]\d{1,4}$")
_FLAGS = frozenset(k.name for k in KEYS if k.kind == "flag")
#: A number with an inch mark as an item of a list or table.
_INCH_IN_LIST = re.compile(r"""([=,\[]\s*)(\d[\d ./-]*?)\s*"(?=\s*[,}\]])""")
#: A text or number of a list or table that is followed by the next one without a comma.
_ITEM_THEN_ITEM = re.compile(r"""("[^"]*"|'[^']*'|\b\d[\d.]*|\btrue|\bfalse|[}\]])\s+(?=["'\w{\[])""")
_TRUTH = {"yes": "true", "true": "true", "on": "true", "false": "false", "off": "false", "no": "false"}


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


def mend_toml(text: str) -> tuple[str, list[Slip]]:
    """Find all slips of a TOML text, and mend it as far as it can be, for finding what else is wrong.

    Parameters
    ----------
    text : str

    Returns
    -------
    (str, list of Slip)
        A text that ``tomllib`` reads, unless there are too many slips; slips in file order, none when the
        text is good.
    """
    lines = text.split("\n")
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
        at, new, message = _mended(lines, at, _PLACE.sub("", why).strip())
        mended = new is not None and new != lines[at]
        lines[at] = new if new is not None and mended else ""
        slips.append(Slip(line=at + 1, message=message, mended=mended))
    return "\n".join(lines), sorted(slips, key=lambda s: s.line)


def _mended(lines: list[str], at: int, why: str) -> tuple[int, str | None, str]:
    """Return which line to change, its new text (None: leave it out), and the message."""
    while at > 0 and not lines[at].strip():
        at -= 1
    line = lines[at]
    if "twice" in why or "overwrite" in why or "already" in why or "Cannot mutate" in why:
        return _repeated(lines, at, why)
    new = _line(line)
    if new is not None and new != line and _better(line, new):
        return at, new, _write(line, new)
    opened = _opened(lines, at)
    if opened is not None:
        bracket = _missing_bracket(lines[opened])
        if bracket:
            new = _before_comment(lines[opened], bracket)
            return opened, new, f"a bracket is opened and never closed; write {_shown(new)}"
    bracket = _missing_bracket(line)
    if bracket:
        new = _before_comment(line, bracket)
        if _reads(new):
            return at, new, f"a bracket is opened and never closed; write {_shown(new)}"
    return at, None, f"cannot read {_shown(line)}: {_plain_reason(why)}"


def _repeated(lines: list[str], at: int, why: str) -> tuple[int, str | None, str]:
    """Mend a table or key that is there twice."""
    header = _HEADER.match(lines[at])
    if header and header[1] == "[" and header[2] == "order":
        for k, line in enumerate(lines):  # all of them, so that one message does for all orders
            if re.fullmatch(r"\s*\[\s*order\s*\]\s*(#.*)?", line):
                lines[k] = line.replace("[", "[[", 1).replace("]", "]]", 1) if k != at else line
        new = lines[at].replace("[", "[[", 1).replace("]", "]]", 1)
        return at, new, "[order] is there twice; write each order as [[order]], in double brackets"
    if header and header[2] == "order":
        named = [k for k, text in enumerate(lines) if re.match(r"\s*\[+\s*order\s*\.", text)]
        if named:
            message = f"write [[order]] for {_shown(lines[named[0]])}; its name goes under name"
            return named[0], "[[order]]", message
    if header:
        name = header[2]
        renamed = f"{header[1]}{name}-again-{at}{']' * len(header[1])}"
        return (
            at,
            renamed if _reads(renamed) else None,
            (f"{_shown(lines[at])} is there twice; put its keys under the first, or give it another name"),
        )
    key = lines[at].split("=")[0].strip()
    return at, None, f"the key {_shown(key)} is there twice in its table; keep one"


def _line(line: str) -> str | None:
    """Return a line as it was probably meant; None when nothing is known."""
    straight = line.translate(_CURLY) if re.search("[“”„«»‘’″]", line) else line
    if straight != line and _reads(straight):
        return straight
    body, comment = _split_comment(straight)
    if re.match(r"\s*(//|;|--|/\*)", body):
        return "# " + body.strip().lstrip("/;-* ")
    header = _HEADER.match(straight) if body.lstrip().startswith("[") else None
    if header:
        closing = "]" * len(header[1])
        new = f"{header[1]}{_quoted_path(header[2])}{closing}"
        return f"{new}  {comment}" if comment else new
    assign = _ASSIGN.match(body)
    if assign is None:
        return None
    indent, key, _, value = assign.groups()
    key = key.strip()
    if not _PLAIN_KEY.match(key):
        key = '"' + key.replace('"', "").replace("'", "") + '"'
    fixed = "false" if value == "no" and key in _FLAGS else _value(value)
    new = f"{indent}{key} = {fixed if fixed is not None else value}"
    return f"{new}  {comment}" if comment else new


def _quoted_path(path: str) -> str:
    """Put quotes around the names of a header that need them: part.lap steel -> part."lap steel"."""
    if _PLAIN_KEY.match(path):
        return path
    head, dot, name = path.partition(".")
    if not dot:
        return '"' + path.replace('"', "").strip() + '"'
    tail = ""
    for known in (".layers", ".keep_out"):
        if name.endswith(known):
            name, tail = name[: -len(known)], known
    return f'{head.strip()}."{name.replace(chr(34), "").strip()}"{tail}'


def _value(value: str) -> str | None:
    """Return a value as it was probably meant, None when nothing is known."""
    if _reads(f"k = {value}"):
        return value
    bare = value.strip()
    if not bare:
        return None
    if _INCH_MARK.match(bare) and not re.fullmatch(r'"[^"]*"', bare):
        amount = _INCH_MARK.match(bare)
        return f'"{amount[1].strip()} in"' if amount else None
    if bare[0] in "[{":
        return _list(bare)
    if bare.casefold() in _TRUTH:
        return (
            _TRUTH[bare.casefold()]
            if bare.casefold() in ("yes", "true", "false", "on", "off")
            else f'"{bare}"'
        )
    if _COMMA_NUMBER.match(bare):
        return bare.replace(",", ".")
    if re.fullmatch(r"[+-]?\.\d+", bare):
        return bare.replace(".", "0.")
    if re.fullmatch(r"[+-]?\d+\.", bare):
        return bare[:-1]
    if re.fullmatch(r"0\d+(\.\d+)?", bare):
        return bare.lstrip("0") or "0"
    if _DATE.match(bare):
        return '"2027-12-31"'
    if _LENGTH.match(bare):
        return f'"{bare}"'
    if bare[0] in "\"'":
        inner = bare.strip("\"'").replace("\\", "/")
        return f'"{inner}"' if '"' not in inner else None
    if re.fullmatch(r"[^\[\]{}=#]+", bare):
        inner = bare.strip("\"' ").replace("\\", "/")
        return f'"{inner}"' if '"' not in inner else None
    return None


def _list(bare: str) -> str | None:
    """Mend a list or a table on one line, item by item."""
    closing = "]" if bare[0] == "[" else "}"
    commas = _ITEM_THEN_ITEM.sub(r"\1, ", bare)
    if commas != bare and _reads(f"k = {commas}"):
        return commas
    if bare.count('"') % 2:  # an inch mark
        bare = _INCH_IN_LIST.sub(r'\1"\2 in"', bare)
    inner = bare[1:-1] if bare.endswith(closing) else bare[1:]
    items = re.findall(r"""(?:"[^"]*"|'[^']*'|\{[^{}]*\}|\[[^\[\]]*\]|[^,"'{}\[\]])+""", inner)
    out = []
    for item in (i.strip() for i in items if i.strip()):
        if closing == "]":
            fixed = _value(item)
            out.append(item if fixed is None else fixed)
            continue
        pair = _ASSIGN.match(item)
        if pair is None:
            return None
        key = pair[2].strip()
        key = key if _PLAIN_KEY.match(key) else '"' + key.strip("\"'") + '"'
        fixed = _value(pair[4])
        out.append(f"{key} = {pair[4] if fixed is None else fixed}")
    new = f"{bare[0]}{', '.join(out)}{closing}" if closing == "]" else f"{{ {', '.join(out)} }}"
    return new if _reads(f"k = {new}") else None


def _write(line: str, new: str) -> str:
    """Return the message of a line that could be mended."""
    old, _ = _split_comment(line)
    body, _ = _split_comment(new)
    _, _, was = old.partition("=")
    value = was.strip()
    if re.search("[“”„«»‘’″]", old):
        return f"curly quotes; write {_shown(body)} with straight ones"
    if old.lstrip().startswith("["):
        quotes = '"' in body and '"' not in old
        what = "a name with spaces needs quotes" if quotes else "the brackets are not in order"
        return f"{what}; write {_shown(body)}"
    if re.match(r"\s*(//|;|--|/\*)", old):
        return "a comment begins with #"
    if "=" not in old:
        return f"a key and its value need = between them; write {_shown(body)}"
    if _DATE.match(value):
        return f"a date is written year-month-day, such as 2027-12-31; got {_shown(value)}"
    if body.count(",") > old.count(","):
        return f"a comma is missing between items; write {_shown(body)}"
    if body.startswith('"') and not old.lstrip().startswith('"'):
        return f"a key with spaces or signs needs quotes; write {_shown(body)}"
    if _INCH_MARK.match(value) or _LENGTH.match(value):
        return f"a length with a fraction or a unit needs quotes; write {_shown(body)}"
    if _COMMA_NUMBER.match(value):
        return f"a number has a point, no comma; write {_shown(body)}"
    if value[:1] in "\"'" and value.count(value[:1]) % 2:
        return f"a quote is opened and never closed; write {_shown(body)}"
    if "\\" in value:
        return f"a backslash cannot stand in a text; write {_shown(body)}"
    if value.casefold() in _TRUTH and '"' not in body.partition("=")[2]:
        return f"true and false are written in small letters; write {_shown(body)}"
    if '"' in body.partition("=")[2] and '"' not in value:
        return f"a text needs quotes; write {_shown(body)}"
    return f"not valid TOML; write {_shown(body)}"


def _opened(lines: list[str], at: int) -> int | None:
    """Return the line above in which a bracket was opened that is never closed."""
    for k in range(at - 1, max(-1, at - 40), -1):
        body, _ = _split_comment(lines[k])
        if _missing_bracket(body) and "=" in body:
            return k
        if re.match(r"\s*\[", body) and _reads(body):
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


def _reads(text: str) -> bool:
    try:
        tomllib.loads(text)
    except (ValueError, RecursionError):
        return False
    return True


def _better(line: str, new: str) -> bool:
    """Tell whether a mended line reads by itself."""
    return _reads(new) and not _reads(line)


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

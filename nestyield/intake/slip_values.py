"""Values of TOML as they were meant: with quotes, units and commas that were left out."""

from __future__ import annotations

import re
import tomllib
from typing import NamedTuple

from nestyield.intake.dates import date_in_words
from nestyield.intake.keys import KEYS

ASSIGN = re.compile(r"""^(\s*)((?:"[^"]*"|'[^']*'|[^=#"'\[{])+?)\s*(=|:(?!=)|\s(?=["'\d\[{]))\s*(.*?)\s*$""")
PLAIN_KEY = re.compile(
    r"""^(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*$"""
)
_INCH_MARK = re.compile(
    r"""^["']?\s*(\d[\d\s./-]*?)\s*(?:["”″]|''|in\.?|inch(?:es)?)\s*["']*$""", re.IGNORECASE
)
#: A fraction, perhaps of an inch, that does not say so.
BARE_FRACTION = re.compile(r"^[+-]?(?:\d+\s*[- ]\s*)?\d+\s*/\s*\d+$")
_LENGTH = re.compile(
    r"^[+-]?(?:\d+\s*[- ]\s*)?\d+\s*/\s*\d+\s*[a-z]*$|^[+-]?[\d.]+\s*(?:mm|cm|m|in|ft|inch|inches)\.?$", re.I
)
_COMMA_NUMBER = re.compile(r"^[+-]?\d+,\d+$")
_DATE = re.compile(r"^\d{1,4}[./-]\d{1,2}[./-]\d{1,4}$")
_MONEY = re.compile(r"^[\"']?\s*(?:[$€£]\s*(\d+(?:[.,]\d+)?)|(\d+(?:[.,]\d+)?)\s*[$€£])\s*[\"']?$")
#: A path of the whole computer.
_WHOLE_PATH = re.compile(r"^[A-Za-z]:[\\/]|^\\\\|^[\\/]")
_QUOTED = r"""(?:"[^"]*"|'[^']*')"""
_SEVERAL = re.compile(rf"{_QUOTED}(?:\s*(?:\bor\b|\band\b|,|/)\s*{_QUOTED})+")
#: A number with an inch mark as an item of a list or table.
_INCH_IN_LIST = re.compile(r"""([=,\[]\s*)(\d[\d ./-]*?)\s*"(?=\s*[,}\]])""")
#: A text or number of a list or table that is followed by the next one without a comma.
_ITEM_THEN_ITEM = re.compile(r"""("[^"]*"|'[^']*'|\b\d[\d.]*|\btrue|\bfalse|[}\]])\s+(?=["'\w{\[])""")
_ITEM = re.compile(r"""(?:"[^"]*"|'[^']*'|\{[^{}]*\}|\[[^\[\]]*\]|[^,"'{}\[\]])+""")
_TRUTH = {"yes": "true", "true": "true", "on": "true", "false": "false", "off": "false", "no": "false"}
_FLAGS = frozenset(k.name for k in KEYS if k.kind == "flag")
#: Why a text was put in quotes.
A_TEXT = "a text needs quotes"


class Meant(NamedTuple):
    """A value as it was probably meant.

    Parameters
    ----------
    text : str
        As TOML.
    why : str
        What was wrong; ``""`` when nothing was.
    stands_in : bool
        Only for reading on: what was meant is not known.
    """

    text: str
    why: str
    stands_in: bool = False


def meant_value(value: str, units: str, key: str = "") -> Meant | None:
    """Return a value as it was probably meant, None when nothing is known.

    Parameters
    ----------
    value : str
        As written behind ``=``.
    units : {"mm", "in"}
        Of the shop.
    key : str
        Whose value it is.
    """
    bare = value.strip()
    if not bare:
        return None
    if key in _FLAGS and bare == "no":
        return Meant("false", '"no" is written false')
    if reads(f"k = {value}"):
        return Meant(value, "")
    inches = _INCH_MARK.match(bare)
    if inches and not re.fullmatch(r'"[^"]*"', bare):
        return Meant(f'"{inches[1].strip()} in"', "a length with a fraction or a unit needs quotes")
    if bare[0] in "[{":
        return _list(bare, units)
    return _word(bare) or _number(bare, units) or _text(bare, key)


def _word(bare: str) -> Meant | None:
    """Mend true and false."""
    folded = bare.casefold()
    if folded == "no" or folded not in _TRUTH:
        return Meant(f'"{bare}"', A_TEXT) if folded == "no" else None
    small = folded in ("true", "false")
    why = "true and false are written in small letters" if small else f'"{bare}" is written {_TRUTH[folded]}'
    return Meant(_TRUTH[folded], why)


def _number(bare: str, units: str) -> Meant | None:
    """Mend numbers, money, dates and lengths."""
    if _COMMA_NUMBER.match(bare):
        return Meant(bare.replace(",", "."), "numbers take a decimal point, not a comma")
    if money := _MONEY.match(bare):
        return Meant((money[1] or money[2]).replace(",", "."), "a value is a bare number")
    if re.fullmatch(r"[+-]?\.\d+", bare):
        return Meant(bare.replace(".", "0."), "a number needs a digit before its point")
    if re.fullmatch(r"[+-]?\d+\.", bare):
        return Meant(bare[:-1], "a number needs a digit behind its point")
    if re.fullmatch(r"0\d+(\.\d+)?", bare):
        return Meant(bare.lstrip("0") or "0", "a number does not begin with 0")
    if _DATE.match(bare):
        return Meant(
            '"2027-12-31"', f"a date is written year-month-day, such as 2027-12-31; got {bare}", True
        )
    if date := date_in_words(bare):
        return Meant(date, "a date is written year-month-day")
    if BARE_FRACTION.match(bare) and units == "mm":
        return Meant(f'"{bare} in"', "a fraction needs quotes and its unit")
    if _LENGTH.match(bare):
        return Meant(f'"{bare}"', "a length with a fraction or a unit needs quotes")
    return None


def _text(bare: str, key: str) -> Meant | None:
    """Mend texts: several without brackets, quotes that are not closed or not there, backslashes."""
    several = "several texts make a list"
    if _SEVERAL.fullmatch(bare):
        return Meant(f"[{', '.join(re.findall(_QUOTED, bare))}]", several)
    words = re.split(r"\s+or\s+|\s+and\s+|\s*,\s*", bare)
    if key in ("species", "bed", "synonyms") and len(words) > 1 and not re.search(r"[\"'\[\]{}=#]", bare):
        return Meant("[" + ", ".join(f'"{w}"' for w in words) + "]", several)
    quoted = bare[0] in "\"'"
    if not quoted and not re.fullmatch(r"[^\[\]{}=#]+", bare):
        return None
    inner = bare.strip("\"'" if quoted else "\"' ")
    if '"' in inner:
        return None
    if _WHOLE_PATH.match(inner):
        name = re.split(r"[\\/]", inner)[-1]
        return Meant(f'"{name}"', "a file lies in the shop folder: copy it there") if name else None
    fixed = inner.replace("\\", "/")
    if fixed != inner:
        what = "file name" if re.search(r"\.\w{2,4}$", inner) else "text"
        return Meant(f'"{fixed}"', f"a backslash does not work in a {what}")
    return Meant(f'"{fixed}"', "a quote is opened and never closed" if quoted else A_TEXT)


def _list(bare: str, units: str) -> Meant | None:
    """Mend a list or a table on one line, item by item."""
    closing = "]" if bare[0] == "[" else "}"
    commas = _ITEM_THEN_ITEM.sub(r"\1, ", bare)
    if commas != bare and reads(f"k = {commas}"):
        return Meant(commas, "a comma is missing between items")
    if bare.count('"') % 2:  # an inch mark
        bare = _INCH_IN_LIST.sub(r'\1"\2 in"', bare)
    inner = bare[1:-1] if bare.endswith(closing) else bare[1:]
    out, whys, names = [], [], False
    for item in (i.strip() for i in _ITEM.findall(inner) if i.strip()):
        pair = ASSIGN.match(item) if closing == "}" else None
        if pair is None and closing == "}":
            return None
        value, key = (item, "") if pair is None else (pair[4], pair[2].strip())
        meant = meant_value(value, units, key)
        text, why = (value, "") if meant is None else meant[:2]
        whys.append(f"the word {value} needs quotes" if why == A_TEXT else why)
        if pair is None:
            out.append(text)
            continue
        names = names or not PLAIN_KEY.match(key)
        key = key if PLAIN_KEY.match(key) else '"' + key.strip("\"'") + '"'
        out.append(f"{key} = {text}")
    new = f"{bare[0]}{', '.join(out)}{closing}" if closing == "]" else f"{{ {', '.join(out)} }}"
    if not reads(f"k = {new}"):
        return None
    if not bare.endswith(closing):
        return Meant(new, f"the {'list' if closing == ']' else 'table'} has no closing bracket")
    return Meant(new, _why_of_items([w for w in whys if w], names))


def _why_of_items(whys: list[str], names: bool) -> str:
    """Return what was wrong in a list or table, by what was wrong of its items and names."""
    words = [w for w in whys if w.endswith("needs quotes") and w.startswith("the word")]
    if names:
        return f"a name with a space {'and a word need' if words else 'needs'} quotes"
    if len(words) > 1:
        return "words need quotes"
    return whys[0] if whys else "the brackets or commas are not in order"


def reads(text: str) -> bool:
    """Tell whether a text is valid TOML."""
    try:
        tomllib.loads(text)
    except (ValueError, RecursionError):
        return False
    return True

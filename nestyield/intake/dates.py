"""Dates as makers write them, brought to year-month-day."""

from __future__ import annotations

import datetime
import re

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NAMES = "|".join(_MONTHS)
_DAY_FIRST = re.compile(rf"(\d{{1,2}})(?:st|nd|rd|th|\.)?[\s-]*({_NAMES})[a-z]*\.?,?[\s-]*(\d{{4}})", re.I)
_MONTH_FIRST = re.compile(rf"({_NAMES})[a-z]*\.?\s*(\d{{1,2}})(?:st|nd|rd|th)?,?\s*(\d{{4}})", re.I)


def date_in_words(text: str) -> str:
    """Return the date that is meant where its month is a word: ``2027-03-01`` for ``1 March 2027``.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        Year-month-day; ``""`` when it is no such date, or which is day and which is month is not sure.
    """
    tidy = text.strip()
    if found := _DAY_FIRST.fullmatch(tidy):
        day, month, year = found.groups()
    elif found := _MONTH_FIRST.fullmatch(tidy):
        month, day, year = found.groups()
    else:
        return ""
    try:
        return datetime.date(int(year), _MONTHS.index(month[:3].casefold()) + 1, int(day)).isoformat()
    except ValueError:
        return ""

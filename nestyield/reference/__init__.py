"""What stands in a shop folder and what comes out, word by word, from the tables that the readers use.

`nestyield explain` and the reference part of README are written from here.
"""

from nestyield.reference.entries import Meaning
from nestyield.reference.find import UnknownWordError, explain, words

__all__ = ["Meaning", "UnknownWordError", "explain", "words"]

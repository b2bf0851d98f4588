"""Words in one place: quantities as a shop writes them, and templates that hold them.

No other room turns a quantity into text. `intake` makes its findings with it, `paperwork` and `cli` all else.
"""

from nestyield.words.names import listed, plural
from nestyield.words.quantities import MM_PER_INCH, Rounding, Style, Words, wood_mm
from nestyield.words.template import fill

__all__ = ["MM_PER_INCH", "Rounding", "Style", "Words", "fill", "listed", "plural", "wood_mm"]

"""What a phrase is: a template, or a function of fact and words where a template is not enough."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nestyield.words import Words

Phrase = str | Callable[[Any, Words], str]

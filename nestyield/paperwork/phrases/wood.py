"""Phrases: moisture, movement, metal and other facts of the wood."""

from __future__ import annotations

from collections.abc import Mapping

from nestyield.paperwork.phrases.kind import Phrase

PHRASES: Mapping[type, Phrase] = {}

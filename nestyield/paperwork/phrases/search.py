"""Phrases: how much was tried, and the goals of the choice."""

from __future__ import annotations

from collections.abc import Mapping

from nestyield.paperwork.phrases.kind import Phrase

PHRASES: Mapping[type, Phrase] = {}

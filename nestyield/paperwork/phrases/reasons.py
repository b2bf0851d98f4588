"""Phrases: why an order is not met in full."""

from __future__ import annotations

from collections.abc import Mapping

from nestyield.paperwork.phrases.kind import Phrase

PHRASES: Mapping[type, Phrase] = {}

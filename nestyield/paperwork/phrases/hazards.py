"""Phrases: what can hurt someone, and what lies in the cutter's path."""

from __future__ import annotations

from collections.abc import Mapping

from nestyield.paperwork.phrases.kind import Phrase

PHRASES: Mapping[type, Phrase] = {}

"""Tell what a word means: a key or section of the shop file, a column, a wood, a role, a kind of defect,
a layer of the drawings, letters in drawings and on sheets, or the code of a finding.
Without a word, list what there is.
"""

from __future__ import annotations

import argparse
import textwrap
from dataclasses import asdict
from importlib import import_module
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import DONE
from nestyield.cli.output import output_options, say_json
from nestyield.cli.tell import say

if TYPE_CHECKING:
    from nestyield.reference import Meaning

SUMMARY = "tell what a key, column, wood, role, defect, layer or code means"

_MANY = {
    "section": "sections of shop.toml",
    "key": "keys of shop.toml",
    "column": "columns of the tables",
    "wood": "woods and sheets",
    "role": "roles of layers",
    "defect": "kinds of defect",
    "word": "words of sheets and reports",
    "sign": "letters with a number on sheets",
    "layer": "layers of the drawings",
    "code": "codes of findings",
}


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument(
        "word", metavar="WORD", nargs="*", help="as planing, allowance.planing, width_mm, hard maple, R005"
    )
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print all that is known under the word."""
    from nestyield import api

    word = " ".join(args.word)
    if not word:
        listed = api.explained_words()
        if args.json:
            say_json(ok=True, words=listed)
        elif not args.quiet:
            for kind, names in listed.items():
                say(f"{_MANY[kind]}:")
                say(textwrap.fill(", ".join(names), 100, initial_indent="  ", subsequent_indent="  "))
        return DONE
    found = _commands(word) + _all_else(word)
    if args.json:
        say_json(ok=True, found=[asdict(e) for e in found])
    elif not args.quiet:
        for k, meaning in enumerate(found):
            say(f"{chr(10) if k else ''}{meaning.title}")
            for line in meaning.lines:
                text = line.replace("(P)", "(common practice)").replace("(P:", "(common practice:")
                say(textwrap.fill(text, 100, initial_indent="  ", subsequent_indent="    "))
    return DONE


def _commands(word: str) -> list[Meaning]:
    """Return the command of that name, if there is one."""
    from nestyield.cli import COMMANDS
    from nestyield.reference import Meaning

    if word not in COMMANDS:
        return []
    lines = (import_module(COMMANDS[word]).SUMMARY, f"its options: nestyield {word} --help")
    return [Meaning(word=word, kind="command", title=f"command nestyield {word}", lines=lines)]


def _all_else(word: str) -> list[Meaning]:
    """Return what the tables have under a word; nothing for a word that is a command only."""
    from nestyield import api
    from nestyield.reference import UnknownWordError

    try:
        return list(api.explain(word))
    except UnknownWordError:
        if _commands(word):
            return []
        raise

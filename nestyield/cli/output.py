"""How much a command prints, and in which form: the same options for all of them."""

from __future__ import annotations

import argparse
import json
import logging
import warnings
from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import asdict
from typing import TYPE_CHECKING

from nestyield.cli.tell import say
from nestyield.model.finding import Finding

if TYPE_CHECKING:
    from nestyield.planning.remembered import Cache
    from nestyield.rackbook.journal import Entry


def output_options(parser: argparse.ArgumentParser, csv: str = "") -> None:
    """Declare ``--verbose``, ``--quiet`` and ``--json``, of which one may be given.

    Parameters
    ----------
    parser : ArgumentParser
    csv : str
        Help of a fourth one, ``--csv``; ``""`` for none.
    """
    form = parser.add_mutually_exclusive_group()
    form.add_argument("-v", "--verbose", action="store_true", help="print everything, notes too")
    form.add_argument(
        "-q", "--quiet", action="store_true", help="print nothing but errors; see the exit code"
    )
    form.add_argument("--json", action="store_true", help="print one JSON object (lengths in mm) instead")
    if csv:
        form.add_argument("--csv", action="store_true", help=csv)


def cluster_option(parser: argparse.ArgumentParser) -> None:
    """Declare the option of a cluster."""
    parser.add_argument(
        "--cluster",
        metavar="ADDRESS",
        default="",
        help="let this Dask cluster do the work, as tcp://host:8786, in place of processes here",
    )


def answers_option(parser: argparse.ArgumentParser) -> None:
    """Declare ``--anew``."""
    parser.add_argument(
        "--anew", action="store_true", help="work everything out again: neither use nor keep earlier answers"
    )


def kept_answers(args: argparse.Namespace) -> AbstractContextManager[Cache | None]:
    """Return the answers of earlier runs, none with ``--anew``."""
    from nestyield import api

    return nullcontext() if args.anew else api.answers()


def say_json(**fields: object) -> None:
    """Print one JSON object on standard output; lengths in mm, control characters escaped."""
    print(json.dumps(fields, indent=1, ensure_ascii=True, default=str))


def findings_data(findings: Iterable[Finding]) -> list[dict[str, str]]:
    """Return findings as they stand in JSON."""
    return [asdict(f) for f in findings]


def entry_data(entry: Entry) -> dict[str, object]:
    """Return an entry of the journal as it stands in JSON."""
    return {
        "entry": entry.entry,
        "action": entry.action,
        "blanks": list(entry.blanks),
        "pieces": entry.pieces,
        "leftovers": list(entry.leftovers),
        "cut": entry.cut,
        "undoes": entry.undoes,
        "files": [f.name for f in entry.files],
    }


def for_reader(findings: Iterable[Finding], args: argparse.Namespace) -> list[Finding]:
    """Return the findings that the reader asked for: without notes unless verbose, only errors when quiet."""
    found = list(findings)
    if args.quiet:
        return [f for f in found if f.severity == "error"]
    return found if args.verbose else [f for f in found if f.severity != "note"]


def say_notes_left_out(findings: Iterable[Finding], args: argparse.Namespace) -> None:
    """Say how many notes were not printed, so that nobody has to guess that there are some."""
    notes = sum(f.severity == "note" for f in findings)
    if notes and not args.verbose:
        say(f"  notes   {notes}: --verbose prints {'them' if notes > 1 else 'it'}")


@contextmanager
def quiet_libraries() -> Iterator[None]:
    """Keep log lines and warnings of libraries off the terminal: the program speaks for itself."""
    root, nobody = logging.getLogger(), logging.NullHandler()
    root.addHandler(nobody)
    shown = warnings.showwarning
    warnings.showwarning = lambda *args, **named: None
    try:
        yield
    finally:
        warnings.showwarning = shown
        root.removeHandler(nobody)

"""The command line: one small file a command; each parses, calls the first door, and prints.

A command module has ``SUMMARY`` (one line), ``configure(parser)`` and ``run(args) -> int``. It imports
the library inside ``run``, so that help and commands without kernels start at once.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence

from nestyield import __version__
from nestyield.cli.exit_codes import COULD_NOT_RUN
from nestyield.cli.output import findings_data, quiet_libraries, say_json
from nestyield.cli.tell import say, say_findings
from nestyield.ctrl_c import take_as_ctrl_c

#: Command -> module that holds it, in the order of the help.
COMMANDS = {
    "new": "nestyield.cli.new",
    "check": "nestyield.cli.check",
    "explain": "nestyield.cli.explain",
    "plan": "nestyield.cli.plan",
    "fit": "nestyield.cli.fit",
    "pieces": "nestyield.cli.pieces",
    "patch": "nestyield.cli.patch",
    "rack": "nestyield.cli.rack",
    "make": "nestyield.cli.make",
    "need": "nestyield.cli.need",
    "photo": "nestyield.cli.photo",
    "verify": "nestyield.cli.verify",
    "grade": "nestyield.cli.grade",
    "take": "nestyield.cli.take",
    "undo": "nestyield.cli.undo",
    "keep": "nestyield.cli.keep",
    "nightly": "nestyield.cli.nightly",
}

#: Memory that a plan of the demo shop runs in, megabytes of address space.
ENOUGH_MB = 1000

_EPILOG = """\
exit codes: 0 done; 1 done, but something needs a person (an order not placed, an input repaired,
a plan that fails its check); 2 could not run, and nothing was written.
"""


def make_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = argparse.ArgumentParser(
        prog="nestyield",
        description="Plan which pieces of the rack make which part, how the bed takes them, what goes back.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"nestyield {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, module_name in COMMANDS.items():
        module = importlib.import_module(module_name)
        child = commands.add_parser(
            name,
            help=module.SUMMARY,
            description=module.__doc__,
            epilog=_EPILOG,
            formatter_class=argparse.RawDescriptionHelpFormatter,
            allow_abbrev=False,
        )
        module.configure(child)
        child.set_defaults(run=module.run)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; errors of the user are told in a line each on stderr."""
    take_as_ctrl_c()
    # one process, one thread: the threads of the linear algebra gain nothing here and take memory
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        return _run(argv)
    except MemoryError:
        pass
    except ImportError:  # a library that the memory cannot hold
        if (_memory_limit_mb() or ENOUGH_MB) >= ENOUGH_MB:
            raise
    limit = _memory_limit_mb()
    given = f": this run may use {limit:.0f} MB" if limit is not None else ""
    say(
        f"nestyield: memory ran out{given}; give it more ({ENOUGH_MB} MB is enough for most shops)",
        sys.stderr,
    )
    return COULD_NOT_RUN


def _memory_limit_mb() -> float | None:
    """Return the most memory that this process may address, or None where nothing limits it."""
    try:
        import resource
    except ImportError:
        return None
    most = resource.getrlimit(resource.RLIMIT_AS)[0]
    return None if most == resource.RLIM_INFINITY else most / 2**20


def _run(argv: Sequence[str] | None) -> int:
    from nestyield.model.errors import AuditError, InputError, NestyieldError

    try:
        args = make_parser().parse_args(argv)
    except SystemExit as stop:
        return int(stop.code or 0)
    try:
        with quiet_libraries():
            code = int(args.run(args))
        sys.stdout.flush()
        return code
    except (InputError, AuditError) as error:
        if args.json:
            say_json(ok=False, findings=findings_data(error.findings))
            return COULD_NOT_RUN
        if isinstance(error, AuditError):
            say("nestyield: the plan failed its own check and was not written:", sys.stderr)
        say_findings(error.findings, sys.stderr)
    except NestyieldError as error:
        if args.json:
            say_json(ok=False, findings=[], error=_one_line(error))
            return COULD_NOT_RUN
        say(f"nestyield: {_one_line(error)}", sys.stderr)
    except BrokenPipeError:  # the reader of our output has gone, as with `| head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        say(f"nestyield: {place}{error.strerror or error}", sys.stderr)
    except KeyboardInterrupt:
        say("nestyield: stopped; nothing was written", sys.stderr)
    return COULD_NOT_RUN


def _one_line(error: Exception) -> str:
    return "; ".join(line.strip() for line in str(error).splitlines() if line.strip())

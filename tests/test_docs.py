"""The documents tell what the program does, and only that."""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from pathlib import Path

import pytest

from nestyield.cli import COMMANDS, make_parser

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def subparsers() -> dict[str, argparse.ArgumentParser]:
    actions = make_parser()._actions
    return next(dict(a.choices) for a in actions if isinstance(a, argparse._SubParsersAction))


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_and_option_is_in_the_readme(command: str) -> None:
    """A command, and each of its options, is mentioned in the README."""
    assert f"nestyield {command}" in README
    for action in subparsers()[command]._actions:
        for option in action.option_strings:
            if option.startswith("--") and option != "--help":
                assert option in README, f"{command} {option}"


def test_readme_names_no_command_that_is_not_there() -> None:
    """Every `nestyield WORD` of the README's code is a command."""
    for word in re.findall(r"(?:^ {4}|`)nestyield ([a-z]+)", README, re.MULTILINE):
        assert word in COMMANDS


def test_every_option_has_help() -> None:
    """No argument goes without help."""
    for name, parser in subparsers().items():
        for action in parser._actions:
            assert action.help, f"{name} {action.dest}"


def test_links_lead_somewhere() -> None:
    """Relative links and pictures of the documents exist."""
    for name in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / name).read_text(encoding="utf-8")
        for target in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (ROOT / target).exists(), f"{name}: {target}"


def test_sample_of_output_is_what_is_printed() -> None:
    """The README's sample names orders of the demo shop as it is (scripts/refresh_readme.py)."""
    sample = README.partition("<!-- demo -->")[2].partition("<!-- end of demo -->")[0]
    shop = (ROOT / "fixtures" / "demo-shop" / "shop.toml").read_text(encoding="utf-8")
    names = re.findall(r'^name = "(.+)"$', shop.partition("[[order]]")[2], re.MULTILINE)
    assert names
    assert all(f"  {name}: " in sample for name in names)


def test_least_shop_plans(tmp_path: Path) -> None:
    """The least shop file and rack of the README, with a drawing, check clean."""
    from nestyield.api import check_shop
    from nestyield.starter import starter_files

    block = README.partition("<!-- least -->")[2].partition("<!-- end of least -->")[0]
    (tmp_path / "shop.toml").write_text(re.findall(r"```toml\n(.*?)```", block, re.DOTALL)[0])
    (tmp_path / "rack.csv").write_text(re.findall(r"```text\n(.*?)```", block, re.DOTALL)[0])
    (tmp_path / "lap-steel.dxf").write_bytes(starter_files("mm")["lap-steel.dxf"])
    shop, findings = check_shop(tmp_path)
    assert shop is not None
    assert [f.code for f in findings] == ["D006"]
    for left_out in ("units", "rack", "diameter", "travel_x", "travel_y", "drawing", "thickness", "part ="):
        text = (tmp_path / "shop.toml").read_text()
        (tmp_path / "shop.toml").write_text(
            "".join(line for line in text.splitlines(keepends=True) if not line.startswith(left_out))
        )
        assert check_shop(tmp_path)[0] is None, left_out
        (tmp_path / "shop.toml").write_text(text)


def test_reference_of_the_readme_is_made_from_the_tables() -> None:
    """Keys, columns, roles, kinds, woods, layers and codes are those of the code (refresh_readme.py --reference)."""
    from nestyield.reference.page import filled

    assert filled(README) == README


def test_reference_names_every_code_and_column() -> None:
    """Each code that findings can have, and each column and kind, has its row in the README."""
    from nestyield.audit.codes import CODES as audit
    from nestyield.intake.problems import CODES as intake
    from nestyield.intake.tables import DEFECTS, RACK

    for code, rule in {**audit, **intake}.items():
        assert f"| {code} | {rule} |" in README
    for column in (*RACK, *DEFECTS):
        assert f"| {column.name} | {column.doc} |" in README


def test_readme_has_three_parts() -> None:
    """The job, the daily round, the reference; the first five minutes come first."""
    assert re.findall(r"^## (.+)$", README, re.MULTILINE) == ["The job", "The daily round", "Reference"]
    assert README.index("### The first five minutes") < README.index("### What it does in pictures")


def test_works_without_development_packages() -> None:
    """The library and the command line import with nothing that only developers install."""
    code = (
        "import sys\n"
        "for name in ('pytest', 'hypothesis', 'scipy', 'jsonschema', 'pypdf', 'matplotlib', 'resvg_py', 'cv2'):\n"
        "    sys.modules[name] = None\n"
        "import pkgutil, importlib, nestyield\n"
        "for found in pkgutil.walk_packages(nestyield.__path__, 'nestyield.'):\n"
        "    if not found.name.endswith('__main__'):\n"
        "        importlib.import_module(found.name)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr


def test_importing_the_package_is_cheap() -> None:
    """import nestyield brings in neither numpy nor pydantic."""
    code = "import sys, nestyield; print(sorted({'numpy', 'pydantic', 'shapely'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"

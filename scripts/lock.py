"""Print exact versions of everything that the tests and checks need, from the environment that runs this.

.venv/test/bin/python scripts/lock.py > scripts/requirements-dev.txt
"""

from __future__ import annotations

import re
from importlib.metadata import distribution

from packaging.requirements import Requirement


def closure(root: str, extras: set[str]) -> dict[str, str]:
    """Return name -> version of everything below a distribution, itself left out."""
    found: dict[str, str] = {}
    seen: set[tuple[str, frozenset[str]]] = set()
    todo: list[tuple[str, set[str]]] = [(root, extras)]
    while todo:
        name, wanted = todo.pop()
        key = re.sub(r"[-_.]+", "-", name).lower()
        if (key, frozenset(wanted)) in seen:
            continue
        seen.add((key, frozenset(wanted)))
        dist = distribution(name)
        if key != root:
            found[key] = dist.version
        for line in dist.requires or []:
            requirement = Requirement(line)
            marker = requirement.marker
            if marker is None or any(marker.evaluate({"extra": e}) for e in wanted | {""}):
                todo.append((requirement.name, set(requirement.extras)))
    return found


print(
    "# Exact versions for development and CI; made by scripts/lock.py. Users get the ranges in pyproject.toml."
)
for package, version in sorted(closure("nestyield", {"test", "dev"}).items()):
    print(f"{package}=={version}")

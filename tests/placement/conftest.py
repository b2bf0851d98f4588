"""Makes the random cases of the study importable as ``study_exact``."""

import importlib.util
import sys
from pathlib import Path

_PATH = Path(__file__).parents[2] / "scripts" / "study_exact.py"
_SPEC = importlib.util.spec_from_file_location("study_exact", _PATH)
study_exact = importlib.util.module_from_spec(_SPEC)
sys.modules["study_exact"] = study_exact
_SPEC.loader.exec_module(study_exact)

_THINGS = importlib.util.spec_from_file_location("things", Path(__file__).with_name("things.py"))
things = importlib.util.module_from_spec(_THINGS)
sys.modules["things"] = things
_THINGS.loader.exec_module(things)

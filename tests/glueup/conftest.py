"""Makes the planted racks of the study importable as ``study_glueup``."""

import importlib.util
import sys
from pathlib import Path

_PATH = Path(__file__).parents[2] / "scripts" / "study_glueup.py"
_SPEC = importlib.util.spec_from_file_location("study_glueup", _PATH)
study_glueup = importlib.util.module_from_spec(_SPEC)
sys.modules["study_glueup"] = study_glueup
_SPEC.loader.exec_module(study_glueup)

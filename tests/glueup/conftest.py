"""Makes the planted racks of the study importable as ``study_glueup``, and two worked boards as ``boards``."""

import importlib.util
import sys
from pathlib import Path


def _load(name, path):
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


study_glueup = _load("study_glueup", Path(__file__).parents[2] / "scripts" / "study_glueup.py")
boards = _load("boards", Path(__file__).with_name("boards.py"))

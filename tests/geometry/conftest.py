"""Makes the zoo of shapes importable as ``geometry_zoo``."""

import importlib.util
import sys
from pathlib import Path

_SPEC = importlib.util.spec_from_file_location("geometry_zoo", Path(__file__).with_name("zoo.py"))
geometry_zoo = importlib.util.module_from_spec(_SPEC)
sys.modules["geometry_zoo"] = geometry_zoo
_SPEC.loader.exec_module(geometry_zoo)

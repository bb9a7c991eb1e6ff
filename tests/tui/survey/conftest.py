"""The helpers of the workbench's tests, of the survey's, and the invented layouts."""

import sys
from pathlib import Path

_TESTS = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(_TESTS / folder) for folder in ("tui", "jobs", "survey")]

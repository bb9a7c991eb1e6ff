"""The command line, run in this process with its output caught."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from workbench.cli.main import main


@dataclass(frozen=True)
class Answer:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def cardwright(capsys: pytest.CaptureFixture[str]) -> Callable[..., Answer]:
    """`cardwright("menu", folder)`: exit code and output; nobody sits at the terminal."""

    def run(*words: object) -> Answer:
        code = main([str(word) for word in words])
        out, err = capsys.readouterr()
        return Answer(code, out, err)

    return run

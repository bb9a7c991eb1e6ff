"""The child process with limits: what it says comes back, what it does too much of stops it alone."""

from __future__ import annotations

import pytest

from workbench.host.worker import WorkerError, run_limited

MODULES = {
    "says": "import sys; sys.stdout.write(' '.join(sys.argv[1:]))",
    "eats": "held = bytearray(3 << 30); held[::4096] = b'x' * len(held[::4096])",
    "spins": "while True: pass",
    "writes": "import sys\nwhile True: sys.stdout.buffer.write(bytes(1 << 16))",
    "fails": "raise SystemExit('no')",
}


@pytest.fixture
def modules(tmp_path, monkeypatch):
    for name, code in MODULES.items():
        (tmp_path / f"child_{name}.py").write_text(code)
    monkeypatch.syspath_prepend(str(tmp_path))


@pytest.mark.usefixtures("modules")
def test_its_answer_comes_back():
    """Arguments go in, standard output comes out."""
    assert run_limited("child_says", ["one", "two words"]) == b"one two words"


@pytest.mark.usefixtures("modules")
@pytest.mark.parametrize("name", ["eats", "spins", "writes", "fails"])
def test_too_much_of_anything_stops_the_child_alone(name):
    """Memory, time (of the processor, or by the clock on a busy host), output, a failure: a sentence."""
    with pytest.raises(WorkerError, match=r"256 MiB or 1 s|took longer than 3 s"):
        run_limited(f"child_{name}", [], memory=256 << 20, seconds=1, output=1 << 20)

"""Who keeps a volume busy, held against programs that really do."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from workbench.host.leaving.holders import find_holders

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
_WAIT = "import sys; {}; print('ready', flush=True); sys.stdin.read()"


@pytest.mark.parametrize(
    "hold",
    [
        "f = open('{}/file')",
        "import os; os.chdir('{}')",
        "import mmap; f = open('{}/file', 'rb'); m = mmap.mmap(f.fileno(), 0, prot=1); f.close()",
    ],
)
def test_a_program_is_named_with_what_it_holds(tmp_path, hold):
    """By an open file, its folder, or a mapping."""
    (tmp_path / "file").write_text("x")
    code = _WAIT.format(hold.format(tmp_path))
    with subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as child:
        assert child.stdout is not None and child.stdin is not None
        child.stdout.readline()
        found = {one.pid: one.path for one in find_holders(str(tmp_path)).holders}
        child.stdin.close()
    assert found[child.pid].startswith(str(tmp_path))


def test_a_name_that_only_begins_alike_is_no_holder(tmp_path):
    """`/media/CARD2` does not hold `/media/CARD`."""
    (tmp_path / "card2").mkdir()
    handle = os.open(tmp_path / "card2", os.O_RDONLY)
    try:
        assert os.getpid() not in {one.pid for one in find_holders(str(tmp_path / "card")).holders}
    finally:
        os.close(handle)

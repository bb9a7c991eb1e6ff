"""Runs one of our modules in a child process with limits on memory, time and output.

Starting a second interpreter costs more than decoding a splash, so this is for content whose reader is
large or rarely used; the common formats stay in process, behind limits on what they may claim.
"""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Sequence

from workbench.errors import CardwrightError

_CHILD = (
    "import json, sys; sys.path[:] = json.loads(sys.argv.pop(1)); "
    "from workbench.host.worker import enter_limits; "
    "enter_limits(*map(int, (sys.argv.pop(1), sys.argv.pop(1), sys.argv.pop(1)))); "
    "import runpy; runpy.run_module(sys.argv.pop(1), run_name='__main__')"
)


class WorkerError(CardwrightError):
    """The child process was stopped by a limit, or died."""

    kind = "worker"


def run_limited(
    module: str, arguments: Sequence[str], *, memory: int = 1 << 30, seconds: int = 30, output: int = 1 << 29
) -> bytes:
    """What `python -m module` writes to standard output.

    Args:
        memory: bytes of address space. seconds: of processor time; three times that by the clock.
        output: most bytes that it may write anywhere.

    Raises:
        WorkerError: a limit stopped it, or it failed.
    """
    import subprocess
    import tempfile

    command = child_command(module, arguments, memory=memory, seconds=seconds, output=output)
    with tempfile.TemporaryFile() as answer:
        try:
            ended = subprocess.run(
                command,
                stdin=subprocess.DEVNULL,
                stdout=answer,
                stderr=subprocess.DEVNULL,
                timeout=3 * seconds,
                check=False,
            )
        except subprocess.TimeoutExpired as error:
            raise WorkerError(f"it took longer than {3 * seconds} s and was stopped") from error
        except OSError as error:
            raise WorkerError(f"no child process could be started: {error.strerror}") from error
        if ended.returncode != 0:
            raise WorkerError(
                f"it needed more than {memory >> 20} MiB or {seconds} s, or made its reader fail"
            )
        answer.seek(0)
        return answer.read()


def child_command(
    module: str, arguments: Sequence[str], *, memory: int, seconds: int, output: int
) -> list[str]:
    """The words that start `python -m module` in a child that puts these limits on itself first."""
    limits = (str(memory), str(seconds), str(output))
    return [sys.executable, "-c", _CHILD, json.dumps(sys.path), *limits, module, *arguments]


def enter_limits(memory: int, seconds: int, output: int) -> None:
    """Limit this process, where the system can (POSIX setrlimit); used by the child on itself."""
    try:
        import resource
    except ImportError:  # Windows has no such limits; the clock still stops the child
        return
    limits = {
        resource.RLIMIT_AS: memory,
        resource.RLIMIT_CPU: seconds,
        resource.RLIMIT_FSIZE: output,
        resource.RLIMIT_CORE: 0,
    }
    for limit, most in limits.items():
        with contextlib.suppress(OSError, ValueError):  # macOS refuses RLIMIT_AS; the others still hold
            resource.setrlimit(limit, (most, most))

"""Judges shell scripts: `sh -n` where there is an `sh`, else the tree's own errors. No script is ever run."""

from __future__ import annotations

import re
import shutil
import subprocess

from workbench.errors import ManifestError
from workbench.manifests.byte_lines import broken_at, decode, split_lines
from workbench.manifests.positions import named, refused
from workbench.manifests.shell_script import Script

_SHELL_SECONDS = 10


def judge_script(raw: bytes, path: str, script: Script) -> ManifestError | None:
    """What is wrong with a script, or None."""
    shell = shutil.which("sh")
    if shell is None:
        if not script.errors:
            return None
        return broken_at(
            raw, script.errors[0][0], path, "the shell's grammar does not allow what stands here"
        )
    try:
        done = subprocess.run(
            [shell, "-n"],
            input=raw,
            capture_output=True,
            timeout=_SHELL_SECONDS,
            check=False,
            env={"LC_ALL": "C"},
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        return refused(path, None, f"the shell could not check it ({error})", "edit it by hand")
    if done.returncode == 0:
        return None
    return _complaint(raw, path, decode(done.stderr))


def _complaint(raw: bytes, path: str, said: str) -> ManifestError:
    """The shell's own words as an error of ours (`sh: 3: Syntax error: …`, or `line 3: …`)."""
    found = re.search(r"(?:line )?(\d+): (.*)", said)
    lines = split_lines(raw)
    number = min(int(found[1]), len(lines)) if found and lines else 1
    what = found[2].strip() if found else "the shell refuses it"
    text = decode(raw[lines[number - 1].start : lines[number - 1].end]) if lines else ""
    message = (
        f"{named(path)}, line {number}: the shell refuses this script ({what}). "
        "The file was left as it is; correct that line."
    )
    return ManifestError(message, path=path or None, line=number, column=1, text=text)

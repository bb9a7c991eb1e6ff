"""`splash put` as a whole process beside ImageMagick's convert piped to gzip, for the same picture and panel.

Prints medians and ratios; asserts nothing about time. Both read the picture, fit it into 640×480, write a BMP
and gzip it; ours also turns it, brings it to 16 bits, keeps what it replaces and syncs.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import practice_cards
import pytest
from installed import command
from PIL import Image

ROUNDS = 9
PICTURES = {
    "drawing 800x500 PNG": ((800, 500), "png"),
    "screen 1920x1080 PNG": ((1920, 1080), "png"),
    "photo 4000x3000 JPEG": ((4000, 3000), "jpg"),
}


def _make_picture(folder: Path, size: tuple[int, int], suffix: str) -> Path:
    """Soft shades with some grain, so that nothing packs to nothing."""
    grain = Image.effect_noise((size[0] // 4, size[1] // 4), 24).resize(size)
    bands = [Image.linear_gradient("L").resize(size), Image.radial_gradient("L").resize(size), grain]
    path = folder / f"picture.{suffix}"
    Image.merge("RGB", bands).save(path)
    return path


def _timed(run: Callable[[], None]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


@pytest.mark.bench
@pytest.mark.parametrize("name", PICTURES)
def test_splash_put_beside_convert_and_gzip(name, tmp_path, practice_card, capsys):
    """Medians of alternating runs; the plan alone (`--dry-run`) is shown apart from the whole."""
    convert = shutil.which("convert-im6.q16") or shutil.which("convert")
    if convert is None:
        pytest.skip("ImageMagick is not installed")
    picture, card = _make_picture(tmp_path, *PICTURES[name]), practice_card("fernway")
    surroundings = {**os.environ, "PYTHONPYCACHEPREFIX": str(tmp_path / "compiled")}
    surroundings.pop("PYTHONDONTWRITEBYTECODE", None)
    colours = iter(f"#0000{turn:02x}" for turn in range(1, 256))

    def put(*words: str) -> None:
        start = [*command(), "splash", str(card), "put", str(picture)]
        profile = ["--profile", str(practice_cards.profile_path("fernway"))]
        # Another background each time: the same splash again would be no work.
        run = [*start, "--background", next(colours), *profile, *words]
        subprocess.run(
            run, cwd=practice_cards.FIXTURES.parent, env=surroundings, check=True, capture_output=True
        )

    def convert_and_pack() -> None:
        fit = "-resize 640x480 -background black -gravity center -extent 640x480"
        pipe = f'"{convert}" "{picture}" {fit} bmp3:- | gzip -9 > "{tmp_path}/theirs.bmp.gz"'
        subprocess.run(["sh", "-c", pipe], check=True)

    put("--dry-run")
    put("--yes")
    convert_and_pack()
    ours, plans, theirs = [], [], []
    for _ in range(ROUNDS):
        theirs.append(_timed(convert_and_pack))
        plans.append(_timed(lambda: put("--dry-run")))
        ours.append(_timed(lambda: put("--yes")))
    whole, plan, other = (1000 * statistics.median(times) for times in (ours, plans, theirs))
    with capsys.disabled():
        print(
            f"\n{name}: splash put {whole:.0f} ms ({whole / other:.2f} x), plan alone {plan:.0f} ms "
            f"({plan / other:.2f} x), convert | gzip {other:.0f} ms"
        )
    assert (tmp_path / "theirs.bmp.gz").stat().st_size > 1000

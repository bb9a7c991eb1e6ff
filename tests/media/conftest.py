"""Clips that several tests look at, made once; property tests do not fail because a machine was slow."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("media", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("media")


@pytest.fixture(scope="session")
def clip(tmp_path_factory):
    """`clip("odd.mkv")`: a sample by its name; without av or ffmpeg the test is skipped with the reason."""
    folder: Path = tmp_path_factory.mktemp("clips")

    def find(name: str) -> Path:
        must = bool(os.environ.get("CARDWRIGHT_REQUIRE_REAL"))
        if not must:
            pytest.importorskip("av", reason="av is not installed (extra `clip`)")
            pytest.importorskip("numpy", reason="numpy is not installed (extra `clip`)")
        import clip_samples

        if clip_samples.FFMPEG is None:
            assert not must, "ffmpeg has to be installed here"
            pytest.skip("ffmpeg is not installed")
        return clip_samples.make_sample(name, folder)

    return find


@pytest.fixture
def render(tmp_path):
    """`render(path, …)`: the report and the folder of a render in this process, for a panel of 64×48."""
    from fractions import Fraction

    from workbench.media.render_order import RenderOrder
    from workbench.media.rendering import render as carry_out

    def run(source, panel=(64, 48), delay=Fraction(1, 25), **wishes):
        folder = tmp_path / "rendered"
        folder.mkdir()
        return carry_out(
            RenderOrder(source, panel, delay, **wishes), folder, lambda _done, _total: None
        ), folder

    return run

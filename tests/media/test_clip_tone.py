"""High dynamic range: the curves against their standards' own values, and what becomes of them."""

from __future__ import annotations

import pytest

from workbench.media.clip_tone import bring_down, hlg_light, pq_light

np = pytest.importorskip("numpy", reason="numpy is not installed (extra `clip`)")


@pytest.mark.parametrize(
    ("signal", "light"), [(0.0, 0), (0.508078, 100), (0.580689, 203), (0.751827, 1000), (1, 10000)]
)
def test_pq(signal, light):
    """SMPTE ST 2084; 58 % is 203 cd/m2 (ITU-R BT.2408, table 1)."""
    assert pq_light(signal) == pytest.approx(light, rel=1e-3, abs=1e-9)


@pytest.mark.parametrize(("signal", "light"), [(0.0, 0), (0.5, 1 / 12), (1.0, 1.0)])
def test_hlg(signal, light):
    """ITU-R BT.2100, table 5."""
    assert hlg_light(signal) == pytest.approx(light, rel=1e-6)


def test_hlg_white_is_that_of_pq():
    """75 % is 203 cd/m2 on a screen of 1000 (ITU-R BT.2408): the screen's gamma of 1.2 is in it."""
    assert 1000 * hlg_light(0.75) ** 1.2 == pytest.approx(203, rel=0.01)


@pytest.mark.parametrize("curve", ["PQ", "HLG"])
def test_greys_rise_and_stay_grey(curve):
    """From black to white without a step back, no colour added, highlights still told apart."""
    ramp = np.repeat(np.linspace(0, 65535, 256).astype(np.uint16), 3)[None, :]
    shown = bring_down(ramp, curve).reshape(-1, 3).astype(int)
    assert (shown.max(axis=1) - shown.min(axis=1)).max() <= 2
    assert (np.diff(shown[:, 1]) >= 0).all() and shown[0].max() == 0 and shown[-1].min() >= 254
    white, brighter = (
        shown[round(255 * signal), 1] for signal in ((0.58, 0.72) if curve == "PQ" else (0.75, 0.95))
    )
    assert 200 < white < brighter < 255

"""What common boot loaders do with a splash, as far as it decides what may be written.

Facts: U-Boot, drivers/video/video_bmp.c, cmd/bmp.c and their Kconfig. A device's own loader may differ, so a
file that is there and works is stronger evidence than any rule here.
"""

from __future__ import annotations

from workbench.media.kind import SplashKind

USUAL_UNPACKED_LIMIT = 0x100000
"""VIDEO_LOGO_MAX_SIZE's default: largest gunzipped BMP, unless the board says otherwise."""


def is_sheared(kind: SplashKind) -> bool:
    """Whether the loader's row step misses the file's: it skips (-width mod 4) bytes, whatever the depth.

    Real padding differs for 16 bits at every width off a multiple of 4, for 24 bits where the rest is 1 or 3.
    """
    if kind.container != "bmp" or kind.bits not in (8, 16, 24):
        return False
    real = -(kind.width * kind.bits // 8) % 4
    return real != -kind.width % 4


def find_doubts(kind: SplashKind, unpacked_limit: int | None = None) -> tuple[str, ...]:
    """What common loaders do not show, as sentences; empty for the safe kinds.

    Args:
        unpacked_limit: bytes that this device's loader is known to unpack.
    """
    limit = unpacked_limit or USUAL_UNPACKED_LIMIT
    doubts = []
    if is_sheared(kind):
        doubts.append(
            f"a width of {kind.width} is no multiple of 4, "
            f"and common boot loaders shear a BMP of {kind.bits} bits then"
        )
    if kind.container == "bmp" and kind.rows == "top-down":
        doubts.append("common boot loaders do not read a BMP whose rows run from the top")
    if kind.is_run_length:
        doubts.append("common boot loaders read run-length packed BMPs only where they were built for it")
    if kind.gzip and kind.unpacked > limit:
        doubts.append(
            f"{kind.unpacked:,} bytes unpacked are more than common boot loaders take, which is {limit:,}"
        )
    return tuple(doubts)

"""What a splash is made of: container, packing, depth, masks, row order, size.

A kind says enough to write another picture that the same device reads the same way.
"""

from __future__ import annotations

from typing import Literal, get_args

from workbench.values import dataclass

Container = Literal["bmp", "png", "jpeg", "raw"]
Rows = Literal["bottom-up", "top-down"]
Channels = tuple[int, int, int, int]
"""Bit masks of red, green, blue and alpha in a pixel's little-endian number; alpha 0 where there is none."""

CONTAINERS: tuple[str, ...] = get_args(Container)
NO_CHANNELS: Channels = (0, 0, 0, 0)
MASKS: dict[str, Channels] = {
    "565": (0xF800, 0x07E0, 0x001F, 0),
    "555": (0x7C00, 0x03E0, 0x001F, 0),
    "888": (0xFF0000, 0x00FF00, 0x0000FF, 0),
    "8888": (0xFF0000, 0x00FF00, 0x0000FF, 0xFF000000),
    "565-swapped": (0x001F, 0x07E0, 0xF800, 0),
    "555-swapped": (0x001F, 0x03E0, 0x7C00, 0),
    "8888-swapped": (0x0000FF, 0x00FF00, 0xFF0000, 0xFF000000),
}
"""The layouts that have a name; swapped means red in blue's place.

A 16-bit BMP without masks means 5-5-5 (Microsoft, BITMAPINFOHEADER).
"""

_TITLES = {"bmp": "BMP", "png": "PNG", "jpeg": "JPEG", "raw": "raw pixels"}


@dataclass(frozen=True, slots=True)
class SplashKind:
    """One kind of splash, with the size of the picture as it is stored (after its turn)."""

    container: Container
    width: int
    height: int
    bits: int
    """Per pixel: 1, 4, 8 (palette), 16, 24, 32."""
    masks: str | None = None
    """Name of the layout that the file itself states (`565`, `555`, `888`, `8888`, `other`), or None."""
    rows: Rows = "top-down"
    gzip: bool = False
    header_size: int = 0
    """BMP: bytes of the second header, 40, 52, 56, 108 or 124."""
    channels: Channels = NO_CHANNELS
    """16 and 32 bits: the layout that holds, stated or understood."""
    colours: int = 0
    """Palette entries in the file."""
    resolution: tuple[int, int] = (0, 0)
    """BMP: pixels per metre across and down, as stated."""
    is_run_length: bool = False
    """BMP packed by runs (RLE8, RLE4): read, not written."""
    size: int = 0
    """Bytes on the card; 0 while none exists."""
    unpacked: int = 0
    """Bytes after gunzip; the same as `size` where it is not gzip."""

    def describe(self) -> str:
        """One line for a person: `512×384 BMP, 24 bits, bottom-up, 589,878 bytes`."""
        parts = [f"{self.width}×{self.height} {_TITLES[self.container]}", self._depth()]
        if self.container == "bmp":
            parts.append(self.rows)
        if self.is_run_length:
            parts.append("run-length packed")
        if self.gzip:
            parts.append("gzip")
        if self.size:
            unpacked = f" ({self.unpacked:,} unpacked)" if self.gzip else ""
            parts.append(f"{self.size:,} bytes{unpacked}")
        return ", ".join(parts)

    def _depth(self) -> str:
        depth = "1 bit" if self.bits == 1 else f"{self.bits} bits"
        if self.bits == 16 and self.container in ("bmp", "raw"):
            widths = "-".join(str(mask.bit_count()) for mask in self.channels[:3])
            return f"{depth} {widths}"
        if self.bits == 32 and self.channels[3]:
            return f"{depth} with alpha"
        return depth


def name_masks(channels: Channels) -> str:
    """The layout's name: `565`, `555`, `888`, `8888`, or `other`."""
    for name, known in MASKS.items():
        if channels == known:
            return name
    return "other"

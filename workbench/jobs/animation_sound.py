"""How long a boot sound on a card plays, from its file alone: nothing is decoded.

WAV by its header (RIFF), MP3 by its frame headers (ISO/IEC 11172-3, 2.4.2.3), OGG Vorbis and Opus by the last
page's granule position (RFC 3533, section 6).
"""

from __future__ import annotations

import io
import wave
from fractions import Fraction

from workbench.errors import MediaError

_RATES = {3: (44100, 48000, 32000), 2: (22050, 24000, 16000), 0: (11025, 12000, 8000)}
_KBITS_1 = (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
_KBITS_2 = (0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160)
"""Layer III: kilobits a second of MPEG-1, and of MPEG-2 and 2.5."""


def measure_sound(raw: bytes, name: str) -> Fraction | None:
    """Seconds that a sound file plays; None where its kind is not known.

    Raises:
        MediaError: it is torn.
    """
    if raw[:4] == b"RIFF":
        return _measure_wav(raw, name)
    if raw[:4] == b"OggS":
        return _measure_ogg(raw)
    if raw[:3] == b"ID3" or (len(raw) > 1 and raw[0] == 0xFF and raw[1] & 0xE0 == 0xE0):
        return _measure_mp3(raw)
    return None


def _measure_wav(raw: bytes, name: str) -> Fraction | None:
    try:
        with wave.open(io.BytesIO(raw)) as sound:
            return Fraction(sound.getnframes(), sound.getframerate())
    except wave.Error as error:
        if "unknown format" in str(error):
            return None
        raise MediaError(f"the sound {name} is torn: {error}") from error
    except (EOFError, ZeroDivisionError) as error:
        raise MediaError(f"the sound {name} is torn: it ends early") from error


def _measure_ogg(raw: bytes) -> Fraction | None:
    last = raw.rfind(b"OggS")
    granule = int.from_bytes(raw[last + 6 : last + 14], "little", signed=True)
    vorbis = raw.find(b"\x01vorbis", 0, 512)
    if granule < 0:
        return None
    if vorbis >= 0:
        rate = int.from_bytes(raw[vorbis + 12 : vorbis + 16], "little")
        return Fraction(granule, rate) if rate else None
    opus = raw.find(b"OpusHead", 0, 512)
    if opus < 0:
        return None
    skipped = int.from_bytes(raw[opus + 10 : opus + 12], "little")
    return Fraction(max(0, granule - skipped), 48000)  # RFC 7845: always counted at 48 kHz


def _measure_mp3(raw: bytes) -> Fraction | None:
    at, samples, rate = _skip_tag(raw), 0, 0
    while at + 4 <= len(raw):
        header = _read_header(raw[at : at + 4])
        if header is None:
            if samples:
                break
            at += 1
            continue
        size, count, rate = header
        if not _is_info(raw[at : at + min(size, 200)]):
            samples += count
        at += size
    return Fraction(samples, rate) if rate else None


def _skip_tag(raw: bytes) -> int:
    """Where an ID3v2 tag ends (id3.org, section 3.1: seven bits a byte)."""
    if raw[:3] != b"ID3" or len(raw) < 10:
        return 0
    size = 0
    for byte in raw[6:10]:
        size = size << 7 | byte & 0x7F
    return size + 10


def _read_header(head: bytes) -> tuple[int, int, int] | None:
    """Bytes, samples and rate of one frame of layer III; None where it is none."""
    version, layer = head[1] >> 3 & 3, head[1] >> 1 & 3
    kbits, rate = head[2] >> 4, head[2] >> 2 & 3
    if (
        head[0] != 0xFF
        or head[1] & 0xE0 != 0xE0
        or layer != 1
        or version == 1
        or rate == 3
        or not 0 < kbits < 15
    ):
        return None
    hertz = _RATES[version][rate]
    per = 1152 if version == 3 else 576
    bits = (_KBITS_1 if version == 3 else _KBITS_2)[kbits] * 1000
    return per // 8 * bits // hertz + (head[2] >> 1 & 1), per, hertz


def _is_info(frame: bytes) -> bool:
    """Whether a frame holds a table for seeking and no sound (common practice, no standard)."""
    return b"Xing" in frame or b"Info" in frame

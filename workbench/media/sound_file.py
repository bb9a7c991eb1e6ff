"""Stores samples as MP3, WAV or Ogg so that the first sample heard is the first one given, and reads them
back.

MP3 begins late: its encoder and every decoder together put 1105 samples in front, and few small players take
them off again. Here whole frames are taken off instead, which costs the first 13 ms their full strength and
is in time on any player. That needs frames which stand for themselves (no bit reservoir).
"""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator
from contextlib import suppress
from fractions import Fraction
from typing import Any

import numpy as np

from workbench.errors import MediaError
from workbench.media.render_order import SoundContainer
from workbench.media.sound_shape import LAYOUTS, fade_sound
from workbench.media.sound_source import to_floats

_DELAY = 1105
"""LAME's 576 and a decoder's 529."""
_LONG_FRAME, _SHORT_FRAME = 1152, 576
_LONG_FROM = 32000
"""Rates from which a frame is a long one: MPEG-1 layer III."""
_MP3_RATES = (8000, 11025, 12000, 16000, 22050, 24000, 32000, 44100, 48000)
_FEWEST = 2
"""Frames by which libav, and others that look twice, know an MP3 for what it is."""
_MP3_OPTIONS = {"reservoir": "0", "compression_level": "7"}
"""The quicker of LAME's ways: with this many bits to spend it takes half the time and is not heard."""
_TURNED_DOWN, _TURNED_DOWN_LESS, _LESS_FROM = 0.95, 0.97, 160_000
"""What LAME multiplies all it is given by, so that nothing overshoots, and from how many bits a second it
does so less: undone, because the peak is watched here."""
_TAPER = Fraction(5, 1000)
"""Seconds of fade where the last frame would end within a sound."""
_OGG_RATE = 192_000
_PIECE = 4096


def encode_sound(samples: Any, rate: int, container: SoundContainer) -> bytes:
    """An array of n × channels as a whole file, the same bytes for the same samples.

    Raises:
        MediaError: the container knows no such rate, or this libav has no encoder for it.
    """
    if container == "wav":
        return _encode_wav(samples, rate)
    return _encode_mp3(samples, rate) if container == "mp3" else _encode_ogg(samples, rate)


def decode_sound(encoded: bytes, container: SoundContainer | None = None) -> tuple[Any, int]:
    """What a player makes of the file: an array of n × channels, and its rate."""
    import av

    with av.open(io.BytesIO(encoded), "r", format=container) as opened:
        stream = opened.streams.audio[0]
        pieces = [to_floats(frame) for frame in opened.decode(stream)]
        return np.concatenate(pieces, axis=1).T, stream.codec_context.sample_rate


def _encode_wav(samples: Any, rate: int) -> bytes:
    stored = io.BytesIO()
    with wave.open(stored, "wb") as file:
        file.setnchannels(samples.shape[1])
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(np.round(np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return stored.getvalue()


def _encode_mp3(samples: Any, rate: int) -> bytes:
    if rate not in _MP3_RATES:
        near = min(_MP3_RATES, key=lambda known: abs(known - rate))
        raise MediaError(f"MP3 knows no rate of {rate:,} samples a second; the nearest is {near:,}")
    size = _LONG_FRAME if rate >= _LONG_FROM else _SHORT_FRAME
    fill = -_DELAY % size
    frames = max(_FEWEST, round(len(samples) / size))
    samples = _cut(samples, frames * size, rate)
    channels = samples.shape[1]
    late = np.concatenate([np.zeros((fill, channels)), samples, np.zeros((3 * size, channels))])
    bits = _mp3_bits(rate, channels)
    late /= _TURNED_DOWN if bits < _LESS_FROM else _TURNED_DOWN_LESS
    context = _open_encoder("libmp3lame", rate, channels, bits, _MP3_OPTIONS)
    packets = list(_encode(context, late, rate, size))
    dropped = (_DELAY + fill) // size
    return b"".join(packets[dropped : dropped + frames])


def _mp3_bits(rate: int, channels: int) -> int:
    """Bits a second: generous, since a short sound is small anyway, and within what each rate allows."""
    if rate >= _LONG_FROM:
        return 96_000 * channels
    return (48_000 if rate > 12000 else 32_000) * channels


def _cut(samples: Any, length: int, rate: int) -> Any:
    """Exactly that long: filled up with silence, or cut off and faded where it would end in the middle."""
    if len(samples) <= length:
        return np.concatenate([samples, np.zeros((length - len(samples), samples.shape[1]))])
    cut = samples[:length].copy()
    fade_sound(cut, rate, Fraction(0), _TAPER)
    return cut


def _encode_ogg(samples: Any, rate: int) -> bytes:
    import av

    codec, options = _ogg_codec()
    if codec == "vorbis" and samples.shape[1] == 1:
        # libav's own Vorbis encoder knows two channels only; both carry the same then.
        samples = np.repeat(samples, 2, axis=1)
    stored = io.BytesIO()
    with av.open(stored, "w", format="ogg", container_options={"fflags": "+bitexact"}) as container:
        stream: Any = container.add_stream(codec, rate=rate, options=options | {"flags": "+bitexact"})
        context = stream.codec_context
        context.layout, context.format, context.bit_rate = LAYOUTS[samples.shape[1]], "fltp", _OGG_RATE
        for frame in _frames(samples, rate, _PIECE):
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return stored.getvalue()


def _ogg_codec() -> tuple[str, dict[str, str]]:
    """The better Vorbis encoder, if this libav has it, else its own, which it calls experimental."""
    from av.codec.codec import Codec, UnknownCodecError

    with suppress(UnknownCodecError):
        Codec("libvorbis", "w")
        return "libvorbis", {}
    with suppress(UnknownCodecError):
        Codec("vorbis", "w")
        return "vorbis", {"strict": "experimental"}
    raise MediaError("this installation of PyAV has no encoder for Ogg Vorbis; MP3 and WAV can be made")


def _open_encoder(codec: str, rate: int, channels: int, bits: int, options: dict[str, str]) -> Any:
    from av.codec.codec import UnknownCodecError
    from av.codec.context import CodecContext

    try:
        context: Any = CodecContext.create(codec, "w")
    except UnknownCodecError as error:
        raise MediaError(f"this installation of PyAV has no encoder {codec}; a WAV can be made") from error
    context.sample_rate, context.layout, context.format = rate, LAYOUTS[channels], "fltp"
    context.bit_rate, context.time_base, context.options = bits, Fraction(1, rate), options
    return context


def _encode(context: Any, samples: Any, rate: int, size: int) -> Iterator[bytes]:
    for frame in _frames(samples, rate, size):
        yield from (bytes(packet) for packet in context.encode(frame))
    yield from (bytes(packet) for packet in context.encode(None))


def _frames(samples: Any, rate: int, size: int) -> Iterator[Any]:
    from av import AudioFrame

    layout = LAYOUTS[samples.shape[1]]
    for at in range(0, len(samples), size):
        piece = np.ascontiguousarray(samples[at : at + size].T, np.float32)
        frame = AudioFrame.from_ndarray(piece, format="fltp", layout=layout)
        frame.sample_rate, frame.pts, frame.time_base = rate, at, Fraction(1, rate)
        yield frame

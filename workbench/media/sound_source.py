"""Reads the sound of a file through libav, in time with its pictures: gaps become silence, overlaps are cut.

What is read has no end that a file could claim: never more than the seconds that were asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from fractions import Fraction
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from workbench.errors import MediaError
from workbench.values import dataclass

if TYPE_CHECKING:
    from av.container import InputContainer

_TOLERANCE = Fraction(1, 50)
"""Seconds that a time stamp may be off before it is taken for a gap: containers round them, to 1 ms and
worse."""
_FAR = 30
"""Seconds after which it is worth to seek and not to decode all that comes before."""
_GUESSING = ("mp3", "aac", "ac3")
"""Formats without an index, which seek to about the place."""
_INSTEAD = ". Nothing was made; choose another sound, or none"
_RATES = (1_000, 768_000)
"""Lowest and highest samples a second: what claims more would take for ever to be brought to another rate."""
_HIGHEST = 8
"""What floating-point samples are cut off at: 18 dB over full scale, and no sound any more."""
_USUAL = dict(enumerate(("mono", "stereo", "2.1", "4.0", "5.0", "5.1", "6.1", "7.1"), start=1))
"""What libav takes a number of channels for that is all it knows of them."""
_DAMAGE = 100
"""Packets that cannot be decoded before the rest is given up."""


@dataclass(frozen=True, slots=True)
class SoundPiece:
    """Samples that follow those of the piece before."""

    samples: Any
    """Channels × n, floats, full scale 1.0."""
    rate: int
    layout: str
    """The channels' arrangement, by libav's name."""


class SoundSource:
    """The sound of one file: of several streams that which is marked as the default, else the first that
    fits."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.damaged = False
        """Whether some of it could not be decoded."""
        self.heard = False
        """Whether any of it lay in the part that was asked for."""

    def read(self, begin: Fraction | None, length: Fraction) -> Iterator[SoundPiece]:
        """Its sound from `begin` (seconds on the file's own clock; None for its first sample), `length`
        seconds.

        It ends early where the sound does. Raises:
            MediaError: no sound in it, or none that can be decoded.
        """
        with reading_sound(self._path), _opened(self._path) as container:
            yield from self._in_time(self._decode(container, begin), begin, length)

    def _decode(self, container: InputContainer, begin: Fraction | None) -> Iterator[Any]:
        from av.error import FFmpegError

        stream = choose_stream(container, self._path)
        if begin is not None and begin > _FAR and container.format.name not in _GUESSING:
            with suppress(FFmpegError):  # What cannot seek is decoded from where it stands.
                container.seek(int((begin - 1) * 1_000_000))
        packets, failures, decoded = container.demux(stream), 0, False
        while failures < _DAMAGE:
            try:
                packet = next(packets)
            except (StopIteration, EOFError):
                break
            except (FFmpegError, LookupError):  # PyAV trips over streams that turn up on the way.
                self.damaged = True
                break
            try:
                frames = packet.decode()
            except FFmpegError:
                self.damaged, failures = True, failures + 1
                continue
            decoded = decoded or bool(frames)
            yield from frames
        if not decoded:
            raise MediaError(
                f"{self._path} claims to have sound, but none of it can be decoded{_INSTEAD}",
                path=str(self._path),
            )

    def _in_time(
        self, frames: Iterator[Any], begin: Fraction | None, length: Fraction
    ) -> Iterator[SoundPiece]:
        """What stands at its time, as one run of samples without gaps."""
        done = Fraction(0)
        for frame in frames:
            if done >= length:
                return
            if not frame.samples or not frame.sample_rate:
                continue
            rate = frame.sample_rate
            if not _RATES[0] <= rate <= _RATES[1]:
                raise MediaError(
                    f"{self._path} claims {rate:,} samples a second, which no sound has{_INSTEAD}",
                    path=str(self._path),
                )
            if begin is None:
                begin = _time_of(frame) or Fraction(0)
            time = _time_of(frame)
            early = Fraction(0) if time is None else done - (time - begin)
            if done and abs(early) < _TOLERANCE:
                early = Fraction(0)
            samples, layout = _arrange(to_floats(frame), frame.layout.name)
            if early < 0:
                for silence in _silence(min(-early, length - done), rate, len(samples)):
                    yield SoundPiece(silence, rate, layout)
                    done += Fraction(silence.shape[1], rate)
            room = max(0, round((length - done) * rate))
            samples = samples[:, max(0, round(early * rate)) :][:, :room]
            if samples.shape[1]:
                self.heard = True
                yield SoundPiece(samples, rate, layout)
                done += Fraction(samples.shape[1], rate)


def find_sound(path: Path) -> tuple[int, int] | None:
    """Samples a second and channels of a file's sound; None where it has none.

    Raises:
        MediaError: libav cannot read the file.
    """
    with reading_sound(path), _opened(path) as container:
        if not container.streams.audio:
            return None
        context = choose_stream(container, path).codec_context
        return context.sample_rate, context.channels


def choose_stream(container: InputContainer, path: Path) -> Any:
    """The stream marked as the default, else the one that libav finds best."""
    from av.stream import Disposition

    streams = container.streams.audio
    if not streams:
        raise MediaError(f"there is no sound in {path}{_INSTEAD}", path=str(path))
    marked = next((each for each in streams if each.disposition & Disposition.default), None)
    return marked or container.streams.best("audio") or streams[0]


def to_floats(frame: Any) -> Any:
    """A decoded frame as channels × n floats, full scale 1.0."""
    import numpy as np

    samples = frame.to_ndarray()
    if not frame.format.is_planar:
        samples = samples.reshape(-1, len(frame.layout.channels)).T
    kind = samples.dtype
    if kind == np.uint8:
        return (samples.astype(np.float32) - 128) / 128
    if kind.kind == "i":
        return (samples / float(2 ** (8 * kind.itemsize - 1))).astype(np.float32)
    samples = samples.astype(np.float32, copy=False)
    if float(np.vdot(samples, samples)) <= _HIGHEST**2 * samples.size:
        return samples
    # Damaged floating-point sound decodes to no numbers, which no filter would ever get rid of again.
    return np.nan_to_num(samples, nan=0.0, posinf=0.0, neginf=0.0).clip(-_HIGHEST, _HIGHEST)


@contextmanager
def reading_sound(path: Path) -> Iterator[None]:
    """Whatever libav trips over inside becomes one sentence about that file."""
    from av.error import FFmpegError

    try:
        yield
    except (FFmpegError, ValueError, LookupError, ArithmeticError, RuntimeError) as error:
        because = getattr(error, "strerror", None) or str(error)
        raise MediaError(f"{path} cannot be read as sound: {because}{_INSTEAD}", path=str(path)) from error
    except MemoryError as error:
        raise MediaError(
            f"the sound of {path} needs more memory than there is{_INSTEAD}", path=str(path)
        ) from error


@contextmanager
def _opened(path: Path | IO[bytes]) -> Iterator[InputContainer]:
    import av

    where = str(path) if isinstance(path, Path) else path
    with av.open(where, "r", metadata_errors="replace") as container:
        yield container


def _arrange(samples: Any, layout: str) -> tuple[Any, str]:
    """Channels that a file does not say the arrangement of: in the usual one, or mixed if there is none."""
    if not layout.endswith("channels"):
        return samples, layout
    if usual := _USUAL.get(len(samples)):
        return samples, usual
    return samples.mean(axis=0, keepdims=True), "mono"


def _time_of(frame: Any) -> Fraction | None:
    return None if frame.pts is None or frame.time_base is None else frame.pts * frame.time_base


def _silence(seconds: Fraction, rate: int, channels: int) -> Iterator[Any]:
    """In pieces of a second at most."""
    import numpy as np

    left = round(seconds * rate)
    while left > 0:
        yield np.zeros((channels, min(left, rate)), np.float32)
        left -= rate

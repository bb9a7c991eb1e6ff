"""The standard library's JSON scanner without the package around it.

`import json` compiles patterns and loads the writer, and takes a short command as long as judging a dozen
manifests. What does the work is one C module; on an interpreter without it the package stands in.
"""

from __future__ import annotations

from collections.abc import Callable

from workbench.typed import Any

try:
    from _json import encode_basestring, encode_basestring_ascii, make_scanner, scanstring
except ImportError:
    from json.decoder import JSONDecoder, scanstring  # type: ignore[attr-defined,no-redef]
    from json.encoder import encode_basestring, encode_basestring_ascii

    def make_scanner(settings: Any) -> Any:  # type: ignore[no-redef]
        return JSONDecoder(parse_constant=settings.parse_constant).scan_once  # type: ignore[attr-defined]


__all__ = ["encode_basestring", "encode_basestring_ascii", "read_document", "scan_value", "scanstring"]

_SPACE = " \t\n\r"


def _make(parse_constant: Callable[[str], Any]) -> Callable[[str, int], tuple[Any, int]]:
    settings: Any = _Settings(parse_constant)
    return make_scanner(settings)


class _Settings:
    """What `json.JSONDecoder` tells the scanner by its attributes."""

    strict = True
    object_hook = None
    object_pairs_hook = None
    parse_float = float
    parse_int = int

    def __init__(self, parse_constant: Callable[[str], Any]) -> None:
        self.parse_constant = parse_constant


scan_value = _make(float)
"""The value that starts at an index of a well-formed text, and where it ends."""


def read_document(text: str, parse_constant: Callable[[str], Any]) -> Any:
    """What the text says, as `json.JSONDecoder(parse_constant=…).decode` has it: of a key twice the last.

    Raises:
        json.JSONDecodeError: it is no JSON.
        ValueError: a number of more digits than Python takes.
        RecursionError: it is nested too deeply.
    """
    start = len(text) - len(text.lstrip(_SPACE))
    try:
        data, end = _make(parse_constant)(text, start)
    except (StopIteration, SystemError):
        return _say_error(text, parse_constant)
    return data if not text[end:].strip(_SPACE) else _say_error(text, parse_constant)


def _say_error(text: str, parse_constant: Callable[[str], Any]) -> Any:
    """Read it once more with the package, whose error the C module has no name for before it is loaded."""
    from json import JSONDecoder

    return JSONDecoder(parse_constant=parse_constant).decode(text)

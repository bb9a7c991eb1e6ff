"""Tells a manifest's format by its content; the name only settles what the content leaves open."""

from __future__ import annotations

import re
import tomllib
from codecs import BOM_UTF16_BE, BOM_UTF16_LE

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.document import MAX_BYTES, Format

_HINTS: dict[str, Format] = {
    "json": "json",
    "toml": "toml",
    "ini": "ini",
    "cfg": "ini",
    "conf": "keyvalue",
    "env": "keyvalue",
    "properties": "keyvalue",
    "sh": "shell",
    "xml": "xml",
    "txt": "lines",
    "lst": "lines",
    "m3u": "lines",
    "m3u8": "lines",
}
_OF_LINES: frozenset[Format] = frozenset(("ini", "keyvalue", "lines", "shell"))
"""Formats in which a line in another encoding than UTF-8 is carried along as it is."""
_CONTROLS = late_pattern(rb"[\x00-\x08\x0b\x0e-\x1a\x1c-\x1f]")
_SHELLS = frozenset(("sh", "ash", "bash", "dash", "ksh", "mksh", "zsh"))
_EXTRAS = late_pattern(r"(?:\s++|//[^\r\n]*|/\*(?s:.*?)\*/)*+")
_XML = late_pattern(r"\s*<(?:\?xml|!--|!DOCTYPE|[^\W\d])")
_XML_ENCODING = late_pattern(rb"<\?xml[^>]*encoding\s*=")
_SECTION = late_pattern(r"[ \t]*\[[^\r\n]*\][ \t]*(?:[#;][^\r\n]*)?\r?$", re.MULTILINE)
_PAIR = late_pattern(r"[ \t]*[^\s=:#;\[][^\r\n=:]*[=:]")
_COMMAND = late_pattern(
    r"^[ \t]*(?:(?:exec|export|cd|set|then|fi|done|esac|do|return|exit|trap|shift)\b"
    r"|(?:if|while|for|case) .|\. /)",
    re.MULTILINE,
)


def detect_format(name: str, raw: bytes) -> Format | None:
    """The format of a file called `name`; None where it is no text, too large, or a program of another kind.

    A malformed file still has a format, so that its fault can be shown.
    """
    if len(raw) > MAX_BYTES:
        return None
    if raw[:2] in (BOM_UTF16_LE, BOM_UTF16_BE):  # of all formats, only XML's readers take it
        return "xml" if _XML.match(raw.decode("utf-16", "replace")) else None
    if _CONTROLS.search(raw):
        return None
    hint = _HINTS.get(name.rpartition(".")[2].lower()) if "." in name else None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        if _XML_ENCODING.match(raw):
            return "xml"
        if hint not in _OF_LINES:
            return None
        text = raw.decode("utf-8-sig", "surrogateescape")
    if text.startswith("#!"):
        return "shell" if _interpreter(text) in _SHELLS else None
    if not text.strip():
        return hint
    return _by_structure(text, raw, hint) or _by_lines(text, hint)


def _interpreter(text: str) -> str:
    """The program that the first line asks for, `env` looked through."""
    words = text[2:].split("\n", 1)[0].split()
    names = [word.rpartition("/")[2] for word in words if not word.startswith("-")]
    if names[:1] == ["env"]:
        del names[0]
    return names[0] if names else ""


def _by_structure(text: str, raw: bytes, hint: Format | None) -> Format | None:
    """XML and JSON, which show by their first sign."""
    if _XML.match(text):
        return "xml"
    start = _EXTRAS.match(text).end()  # type: ignore[union-attr]
    if text.startswith("{", start):
        return None if hint == "shell" else "json"
    if text.startswith("[", start):
        is_ini = hint in ("ini", "toml") or _SECTION.match(text, start)
        return "json" if hint == "json" or _is_json(raw) or not is_ini else None
    return "json" if hint == "json" and not _PAIR.match(text) else None


def _is_json(raw: bytes) -> bool:
    from workbench.manifests.json_judge import judge_json

    try:
        judge_json(raw, "")
    except ManifestError:
        return False
    return True


def _by_lines(text: str, hint: Format | None) -> Format:
    """Formats of lines: sections make INI or TOML, pairs key=value, commands a script, else plain lines."""
    if hint == "lines":
        return hint
    lines = [line for line in text.splitlines() if line.strip() and line.lstrip()[0] not in "#;"]
    pairs = sum(1 for line in lines if _PAIR.match(line))
    if _SECTION.search(text) and hint != "shell":
        if hint in ("ini", "toml"):
            return hint
        return "toml" if _is_toml(text) else "ini"
    if hint == "shell" or (_COMMAND.search(text) and pairs < len(lines)):
        return "shell"
    if lines and pairs == len(lines):
        return hint if hint in ("ini", "toml", "keyvalue") else "keyvalue"
    return hint or "lines"


def _is_toml(text: str) -> bool:
    try:
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return False
    return True

"""A manifest of any format as plain nested data, shaped so that its keys are the tokens of a selector.

Judged as strictly as for an edit; what is no well-formed manifest is a note, never a crash.
"""

from __future__ import annotations

from typing import Any

from workbench.errors import ManifestError
from workbench.manifests.document import Format
from workbench.manifests.selector import split_pointer

Plain = Any
"""Nested dicts, lists and strings; numbers and the like where the format has them."""

WORDS = "#word"
LINES = "#line"


def read_plain(raw: bytes, format: Format, path: str) -> Plain:
    """The data of a manifest.

    Raises:
        ManifestError: it is malformed, too large or nested too deeply.
    """
    match format:
        case "json":
            from workbench.manifests.json_judge import judge_json

            return judge_json(raw, path).data
        case "toml":
            return _read_toml(raw, path)
        case "xml":
            return _read_xml(raw, path)
        case "lines":
            return _read_lines(raw)
        case "shell":
            return _read_shell(raw, path)
        case _:
            return _read_keyed(raw, format, path)


def _read_toml(raw: bytes, path: str) -> Plain:
    import tomllib

    from workbench.manifests.toml_reader import read_toml

    try:
        return read_toml(raw.decode("utf-8-sig").replace("\r\n", "\n"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise ManifestError(f"{path} is no well-formed TOML: {error}", path=path) from error


def _read_xml(raw: bytes, path: str) -> Plain:
    from workbench.jobs.survey.quick_plain import read_quick_xml
    from workbench.manifests.xml_judge import judge_xml
    from workbench.manifests.xml_walk import find_all_texts

    quick = read_quick_xml(raw)
    if quick is not None:
        return quick
    root: dict[str, Plain] = {}
    for found in find_all_texts(judge_xml(raw, path)):
        here: dict[str, Plain] = root
        *tokens, last = split_pointer(found.pointer)
        for name, number in zip(tokens[::2], tokens[1::2], strict=True):
            same = here.setdefault(name, [])
            # An element without texts of its own leaves a gap in the count of its siblings.
            same += ({} for _ in range(int(number) + 1 - len(same)))
            here = same[int(number)]
        here.setdefault(last, found.text)
    return root


def _read_lines(raw: bytes) -> Plain:
    text = raw.decode("utf-8-sig", "replace")
    has_tags = text.startswith("#EXTM3U")
    lines = (line.strip() for line in text.split("\n"))
    return {LINES: [line for line in lines if line and not (has_tags and line.startswith("#"))]}


def _read_shell(raw: bytes, path: str) -> Plain:
    from workbench.manifests.shell_document import open_shell

    data: dict[str, Plain] = {WORDS: []}
    for node in open_shell(raw, path).find(None):
        if node.role == "word":
            data[WORDS].append(node.text)
        elif node.role == "assignment":
            data[split_pointer(node.pointer)[0]] = node.text
    return data


def _read_keyed(raw: bytes, format: Format, path: str) -> Plain:
    from workbench.jobs.survey.quick_plain import read_quick_ini
    from workbench.manifests.opening import open_document

    quick = read_quick_ini(raw) if format == "ini" else None
    if quick is not None:
        return quick
    data: dict[str, Plain] = {}
    for node in open_document(raw, format, path).find(None):
        tokens = split_pointer(node.pointer)
        if node.role == "section":
            data.setdefault(tokens[0], {})
        elif node.role == "value":
            here = data if len(tokens) == 1 else data.setdefault(tokens[0], {})
            here[tokens[-1]] = node.text
    return data

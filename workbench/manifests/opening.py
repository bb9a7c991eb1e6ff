"""Opens a manifest of any format, and makes edits that are judged before anyone gets them.

Each format's module is imported when its first document is opened.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from types import MappingProxyType

from workbench.errors import ManifestError
from workbench.manifests.document import MAX_BYTES, Document, Edit, Format, Node, Value, apply_edits
from workbench.manifests.positions import named, refused
from workbench.manifests.selector import Selector

_NOTHING: Mapping[str, str] = MappingProxyType({})


def open_document(
    raw: bytes, format: Format, path: str = "", variables: Mapping[str, str] = _NOTHING
) -> Document:
    """Judge the bytes as that format and open them; `variables` serve shell scripts.

    Raises:
        ManifestError: malformed (with path, line, column and the line's text), over `MAX_BYTES`, or
            nested deeper than `MAX_DEPTH`.
    """
    if len(raw) > MAX_BYTES:
        problem = f"it is over {MAX_BYTES // 1024 // 1024} MiB and is not taken as a manifest"
        raise refused(path, None, problem, "look at what wrote it")
    match format:
        case "json":
            from workbench.manifests.json_document import open_json

            return open_json(raw, path)
        case "toml":
            from workbench.manifests.toml_document import open_toml

            return open_toml(raw, path)
        case "ini":
            from workbench.manifests.ini_document import open_ini

            return open_ini(raw, path)
        case "keyvalue":
            from workbench.manifests.keyvalue_document import open_keyvalue

            return open_keyvalue(raw, path)
        case "shell":
            from workbench.manifests.shell_document import open_shell

            return open_shell(raw, path, variables)
        case "xml":
            from workbench.manifests.xml_document import open_xml

            return open_xml(raw, path)
        case "lines":
            from workbench.manifests.lines_document import open_lines

            return open_lines(raw, path)
    raise ManifestError(f"{format!r} is no format of a manifest.")


def find_matching(
    document: Document,
    at: Selector | None,
    could_match: Callable[[str], bool],
    *,
    keys: bool | None = None,
) -> Iterator[Node]:
    """The document's `find`, without nodes whose text could not match; much cheaper where few do.

    Args:
        could_match: where it holds for one of several texts, it has to hold for all of them joined by
            line ends too; so it can be asked about many at once.
        keys: only keys are asked for, or none; where that costs more than it spares, both are found.
    """
    find = getattr(document, "find_matching", None)
    if find is None:
        return (node for node in document.find(at) if could_match(node.text))
    found: Iterator[Node] = (
        find(at, could_match, keys) if document.format == "toml" else find(at, could_match)
    )
    return found


def edit_document(
    document: Document,
    edits: Iterable[Edit],
    *,
    path: str = "",
    variables: Mapping[str, str] = _NOTHING,
    expect: Mapping[str, Value] = MappingProxyType({}),
) -> bytes:
    """The document's bytes with the edits made, judged again.

    Args:
        expect: Values that the edited document must hold, by pointer.

    Raises:
        ManifestError: the result is malformed, could not be edited any more, or holds something else than
            `expect` says; the document itself is untouched.
    """
    return edit_and_open(document, edits, path=path, variables=variables, expect=expect).raw


def edit_and_open(
    document: Document,
    edits: Iterable[Edit],
    *,
    path: str = "",
    variables: Mapping[str, str] = _NOTHING,
    expect: Mapping[str, Value] = MappingProxyType({}),
) -> Document:
    """As `edit_document`; the edited document, opened to be judged, is given out as well."""
    edits = tuple(edits)
    edited = apply_edits(document.raw, edits)
    try:
        reopened = open_document(edited, document.format, path, variables)
        check_editable = getattr(reopened, "check_editable", None)
        if check_editable is not None:
            check_editable()
        wrong = [pointer for pointer, value in expect.items() if reopened.get(pointer) != value]
    except ManifestError as error:
        raise _spoilt(path, error.message, error) from error
    if wrong:
        line = 1 + document.raw.count(b"\n", 0, min((edit.start for edit in edits), default=0))
        raise _spoilt(path, f"line {line}: {wrong[0]!r} would not hold what was asked for", None, line)
    return reopened


def _spoilt(path: str, because: str, cause: ManifestError | None, line: int | None = None) -> ManifestError:
    return ManifestError(
        f"{named(path)} was left as it is: the edit would spoil it ({because}).",
        path=path or None,
        line=cause.line if cause else line,
        column=cause.column if cause else None,
        text=cause.text if cause else None,
    )

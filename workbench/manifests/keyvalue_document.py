"""Key=value files: one `NAME=value` a line, spaced or not, quoted or not; comments with `#` or `;`."""

from __future__ import annotations

from workbench.manifests.document import Format
from workbench.manifests.keyed_document import KeyedDocument


def open_keyvalue(raw: bytes, path: str = "") -> KeyvalueDocument:
    """Open a key=value file.

    Raises:
        ManifestError: a line is neither empty, a comment, nor a key with a value.
    """
    return KeyvalueDocument(raw, path)


class KeyvalueDocument(KeyedDocument):
    """Data: `/NAME`, each value a string."""

    format: Format = "keyvalue"
    is_ini = False

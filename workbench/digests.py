"""SHA-256 of a file's content, in hex.

`hashlib` loads OpenSSL, which takes a short command as long as hashing a megabyte without it; from there on
OpenSSL is several times as fast. So the first megabyte is hashed by the interpreter's own module.
"""

from __future__ import annotations

from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    from hashlib import sha256 as _own
else:
    try:
        from _sha256 import sha256 as _own  # CPython 3.11
    except ImportError:
        try:
            from _sha2 import sha256 as _own  # CPython 3.12 and later
        except ImportError:
            from hashlib import sha256 as _own

_MEGABYTE = 1024 * 1024
_hashed = 0


def sha256_hex(content: bytes) -> str:
    """The digest as 64 lower-case hexadecimal digits."""
    global _hashed
    _hashed += len(content)
    if _hashed <= _MEGABYTE:
        return _own(content).hexdigest()
    from hashlib import sha256

    return sha256(content).hexdigest()

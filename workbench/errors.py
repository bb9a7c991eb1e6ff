"""The one tree of errors. Every error that a person can cause says what happened, to which file,
what was left untouched, and what to do next; the faces print `message` as it is.
"""

from __future__ import annotations

from workbench.typed import ClassVar


class CardwrightError(Exception):
    """Something was refused or failed; nothing on a card has changed (exit code 1)."""

    kind: ClassVar[str] = "refused"
    exit_code: ClassVar[int] = 1

    def __init__(self, message: str, *, path: str | None = None, line: int | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.path = path
        """Where: `VOLUME:PATH` on a card, or a host path."""
        self.line = line
        """1-based line in that file."""


class UsageError(CardwrightError):
    """The command's words are off, or a question cannot be asked without a terminal."""

    kind = "usage"
    exit_code = 2


class AmbiguousCardError(UsageError):
    """Two cards answer to one name."""

    kind = "ambiguous-card"


class CardError(CardwrightError):
    """A card, volume, folder or file is not there, or cannot be read."""

    kind = "card"


class ProfileError(CardwrightError):
    """A profile says something that the schema does not allow."""

    kind = "profile"


class EntryError(CardwrightError):
    """No such entry, or more than one fits."""

    kind = "entry"


class OrderRefusedError(EntryError):
    """The order that was asked for cannot be had on this card."""

    def __init__(self, message: str, *, nearest: tuple[str, ...] = (), path: str | None = None) -> None:
        super().__init__(message, path=path)
        self.nearest = nearest
        """The present names in the nearest order that can be had; empty where none was looked for."""


class NameRefusedError(CardwrightError):
    """A name that would not survive on the card."""

    kind = "name"

    def __init__(
        self, message: str, *, suggestion: str | None = None, path: str | None = None, line: int | None = None
    ) -> None:
        super().__init__(message, path=path, line=line)
        self.suggestion = suggestion
        """A legal name close to the one refused, or None."""


class ManifestError(CardwrightError):
    """A manifest is malformed, or an edit of it was refused."""

    kind = "manifest"

    def __init__(
        self,
        message: str,
        *,
        path: str | None = None,
        line: int | None = None,
        column: int | None = None,
        text: str | None = None,
    ) -> None:
        super().__init__(message, path=path, line=line)
        self.column = column
        """1-based column, counted in characters."""
        self.text = text
        """The line itself, without its line ending."""


class MediaError(CardwrightError):
    """A picture or sound is not what it claims, or the device could not show it."""

    kind = "media"


class PreflightError(CardwrightError):
    """A plan cannot be carried out as the card is now; nothing was written."""

    kind = "preflight"


class FullVolumeError(PreflightError):
    """A volume has no room for a plan; nothing was written."""

    keep_on_helps = False
    """Whether it would fit if what it replaces were kept on this computer."""


class LedgerError(CardwrightError):
    """The card's record of changes cannot be read or does not agree with itself."""

    kind = "ledger"


class ConflictError(CardwrightError):
    """An undo would lose what came later."""

    kind = "conflict"


class UnfinishedChangeError(CardwrightError):
    """The card has a change that began and did not end, or this one failed after it had begun."""

    kind = "unfinished"
    exit_code = 3

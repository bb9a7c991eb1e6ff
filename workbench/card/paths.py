"""Places on a card. A `VolumePath` is checked once, here; whoever holds one may join it to a root."""

from __future__ import annotations

from workbench.errors import CardError
from workbench.values import dataclass

LEDGER_FOLDER = ".cardwright"
"""The ledger's own folder at the root of each volume: never listed, walked or named by a job."""

ASIDE = f"{LEDGER_FOLDER}/aside"
"""Where a plan may move things for a moment (swaps, case-only renames, setting a directory order)."""


@dataclass(frozen=True, order=True, slots=True)
class VolumePath:
    """One place: the volume's role in the profile, and a path below its root (`""` is the root)."""

    volume: str
    path: str
    """Relative, `/` between components, no `.` or `..`, no empty component."""

    def __post_init__(self) -> None:
        around = f"/{self.path}/"
        if self.path and ("//" in around or "/./" in around or "/../" in around):
            raise CardError(
                f"{self.path!r} is not a path below a volume; nothing was changed", path=str(self)
            )
        if "\0" in self.path:
            raise CardError("a path cannot hold a NUL character; nothing was changed", path=self.volume)

    @classmethod
    def parse(cls, text: str) -> VolumePath:
        """Read `VOLUME:PATH`."""
        volume, colon, path = text.partition(":")
        if not colon or not volume:
            raise CardError(f"{text!r} is not of the form VOLUME:PATH; nothing was changed", path=text)
        return cls(volume, path.strip("/"))

    def __str__(self) -> str:
        return f"{self.volume}:{self.path}"

    @property
    def name(self) -> str:
        """The last component; `""` for the root."""
        return self.path.rpartition("/")[2]

    @property
    def parent(self) -> VolumePath:
        """The folder that holds it; the root's parent is the root."""
        return VolumePath(self.volume, self.path.rpartition("/")[0])

    def child(self, name: str) -> VolumePath:
        """The place called `name` in this folder (`name` may be a relative path)."""
        return VolumePath(self.volume, f"{self.path}/{name}" if self.path else name)

    def with_name(self, name: str) -> VolumePath:
        """The place beside this one called `name`."""
        return self.parent.child(name)

    def is_below(self, folder: VolumePath) -> bool:
        """Whether it lies in `folder`, at any depth (a place is not below itself)."""
        if self.volume != folder.volume:
            return False
        return not folder.path or self.path.startswith(folder.path + "/")

    @property
    def is_in_ledger(self) -> bool:
        """Whether it is the ledger's folder or in it."""
        return self.path == LEDGER_FOLDER or self.path.startswith(LEDGER_FOLDER + "/")

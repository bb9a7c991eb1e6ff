"""A card and its volumes, as found. Values only: finding is `discovery`, reading is `disk_tree`.

A volume that is absent (at home in a drawer, a file system that this host cannot mount) stays in the
card, marked so: absent is not the same as empty.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from workbench.card.profile import NamesRule, Profile
from workbench.errors import CardError
from workbench.shown import shown
from workbench.typed import Literal
from workbench.values import dataclass

CardSource = Literal["removable", "device", "folder"]

NOWHERE = Path("/dev/null/absent")
"""The root of an absent volume: it cannot exist, so that a slip fails instead of reading the host."""


@dataclass(frozen=True, slots=True)
class Volume:
    """One mounted file system of a card, or a folder that stands for one."""

    role: str
    """Its role in the profile; without a profile, its label."""
    root: Path
    label: str = ""
    filesystem: str = ""
    """As the host names it: `vfat`, `exfat`, `fuseblk`, `ext4` …; `""` where unknown."""
    device: str = ""
    """The block device (`/dev/sdb1`), or `""` for a folder without one."""
    size_bytes: int = 0
    free_bytes: int = 0
    """Bytes that this user may still fill."""
    cluster_bytes: int = 4096
    """Allocation unit: a file takes whole ones."""
    read_only: bool = False
    host_names: NamesRule = "exact"
    """How the HOST tells names apart there: `fat` ignores case, `exact` does not."""
    present: bool = True
    case_probed: bool = False
    """False: nothing there could tell, `host_names` was taken from the file system's type."""
    longest_name: int = 255
    """The longest name that the host's file system takes, in bytes (its NAME_MAX)."""
    options: tuple[str, ...] = ()
    """Mount options."""

    @classmethod
    def absent(cls, role: str, *, label: str = "", device: str = "") -> Volume:
        """A volume of the profile that is not there now."""
        return cls(role, NOWHERE, label=label, device=device, present=False)


@dataclass(frozen=True, slots=True)
class Card:
    """One removable medium: its volumes by role, and the profile that it matches."""

    name: str
    """What a person calls it: a volume label, or the folder's name."""
    volumes: Mapping[str, Volume]
    profile: Profile | None
    source: CardSource
    """`device`: the running system's own card, of which only the profile's paths are offered."""
    notes: tuple[str, ...] = ()
    """Sentences worth showing: a partition that is not mounted, a case rule that was assumed."""

    def volume(self, role: str) -> Volume:
        """The volume in that role.

        Raises:
            CardError: the card has no such volume, or it is absent.
        """
        found = self.volumes.get(role)
        if found is None:
            known = ", ".join(map(shown, self.volumes)) or "none"
            raise CardError(
                f"the card {shown(self.name)} has no volume {shown(role)!r}; it has: {known}", path=f"{role}:"
            )
        if not found.present:
            raise CardError(
                f"the volume {shown(role)!r} of the card {shown(self.name)} is absent; "
                "nothing was changed. Mount it, or name it with --volume ROLE=PATH.",
                path=f"{role}:",
            )
        return found

    @property
    def present(self) -> tuple[Volume, ...]:
        """The volumes that are there."""
        return tuple(volume for volume in self.volumes.values() if volume.present)

    @property
    def absent(self) -> tuple[Volume, ...]:
        """The volumes that the profile knows and that are not there."""
        return tuple(volume for volume in self.volumes.values() if not volume.present)

"""Makes a `Volume` of a folder that is there: its label, sizes, read-only state and case rule."""

from __future__ import annotations

import os
from pathlib import Path

from workbench.card.case_probe import probe_case
from workbench.card.mounts import Mount
from workbench.card.volumes import Volume

_ST_RDONLY = 1
_LARGEST_CLUSTER = 32 * 1024 * 1024
"""exFAT's largest allocation unit (specification 9.2); a host that says more means something else."""


def measure_volume(role: str, root: Path, mount: Mount | None, label: str = "") -> Volume:
    """The volume at `root`, which lies on `mount`."""
    size, free, cluster, read_only, longest = _measure_space(os.fspath(root))
    filesystem = mount.filesystem if mount else ""
    rule, probed = probe_case(os.fspath(root), filesystem)
    return Volume(
        role=role,
        root=root,
        label=label or root.name or os.fspath(root),
        filesystem=filesystem,
        device=mount.device if mount and mount.device.startswith("/dev/") else "",
        size_bytes=size,
        free_bytes=free,
        cluster_bytes=cluster,
        read_only=read_only or (mount is not None and mount.is_read_only) or not os.access(root, os.W_OK),
        host_names=rule,
        case_probed=probed,
        longest_name=longest,
        options=mount.options if mount else (),
    )


def _measure_space(root: str) -> tuple[int, int, int, bool, int]:
    """Size, free bytes, allocation unit, read-only, longest name in bytes; zeros where it cannot be asked."""
    try:
        if not hasattr(os, "statvfs"):
            import shutil

            usage = shutil.disk_usage(root)
            return usage.total, usage.free, 4096, False, 255
        found = os.statvfs(root)
        unit = found.f_frsize or found.f_bsize or 4096
        preferred = os.stat(root).st_blksize
    except OSError:
        return 0, 0, 4096, False, 255
    cluster = max(unit, preferred) if preferred <= _LARGEST_CLUSTER else unit
    read_only = bool(found.f_flag & _ST_RDONLY)
    return found.f_blocks * unit, found.f_bavail * unit, cluster, read_only, found.f_namemax or 255

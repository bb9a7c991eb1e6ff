"""A practice card and packs for it, made by the standard library."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path

import practice_cards

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.profile import Profile
from workbench.card.profile_reader import read_profile
from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.changes.brought import find_pack, read_traces
from workbench.changes.plan import Plan
from workbench.changes.taking_out import plan_taking_out
from workbench.jobs.packs.adding import plan_add_pack
from workbench.jobs.packs.looking import Answers, look
from workbench.jobs.packs.parts import PackLook
from workbench.jobs.packs.removing import plan_remove_pack


class PackCard:
    """A card in a folder."""

    def __init__(self, device: str, folder: Path) -> None:
        self.device = device
        self.folder = practice_cards.lay_out(device, folder)
        self.profile: Profile = read_profile(practice_cards.profile_path(device))

    @property
    def card(self) -> Card:
        return open_card(str(self.folder), [self.profile])

    @property
    def tree(self) -> DiskTree:
        return DiskTree(self.card)

    def look(self, source: Path, **answers: object) -> PackLook:
        return look(
            self.tree,
            self.profile,
            source,
            answers=Answers(**answers),
            traces=read_traces(self.card),
        )

    def plan(self, source: Path, decisions: Mapping[str, str] | None = None, **answers: object) -> Plan:
        return plan_add_pack(self.tree, self.profile, self.look(source, **answers), decisions)

    def add(self, source: Path, decisions: Mapping[str, str] | None = None, **answers: object) -> int:
        return apply(self.card, self.plan(source, decisions, **answers)).number

    def removal(self, name: str) -> Plan:
        traces = read_traces(self.card)
        brought = find_pack(traces, name)
        taken = plan_taking_out(self.card, brought, traces)
        return plan_remove_pack(self.tree, self.profile, taken, brought.entries)

    def remove(self, name: str) -> Plan:
        plan = self.removal(name)
        if plan.steps:
            apply(self.card, plan)
        return plan

    def seen(self) -> dict:
        return practice_cards.read_device(self.device, self.folder)

    def names(self, menu: int = 0) -> list[str]:
        return [entry["name"] for entry in self.seen()["menus"][menu]["entries"]]


def make_zip(path: Path, files: Mapping[str, bytes]) -> Path:
    """A zip with these members, in this order, under exactly these names."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in files.items():
            one = zipfile.ZipInfo("x")
            one.filename = name  # the constructor would cut at a NUL
            made.writestr(one, content)
    path.write_bytes(held.getvalue())
    return path

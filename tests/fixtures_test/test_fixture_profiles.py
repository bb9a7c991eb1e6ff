"""The practice profiles against their cards: they load, and every manifest they name opens."""

from __future__ import annotations

import re
from fnmatch import translate

import pytest
from practice_cards import DEVICES, FIXTURES, profile_path, roles

from workbench.card.profile_reader import read_profile
from workbench.manifests.opening import open_document


def fitting(pattern) -> list:
    """The card's files that a pattern of a profile could mean: placeholders and `**` as anything."""
    rule = re.sub(r"\{[a-z_]+\}", "*", pattern.path)
    return lambda path: re.match(translate(rule), path) is not None


def manifests(name: str) -> list[tuple[str, str]]:
    """Path and format of every file of the card that a reference or label rule covers."""
    profile = read_profile(profile_path(name))
    found = []
    for role in roles(name):
        root = FIXTURES / "cards" / name / role
        paths = [str(item.relative_to(root)) for item in sorted(root.rglob("*")) if item.is_file()]
        for menu in profile.menus:
            for rule in (*menu.references, *((menu.label,) if menu.label else ())):
                if rule.file.volume == role:
                    fits = fitting(rule.file)
                    found += [(f"{name}/{role}/{path}", rule.format) for path in paths if fits(path)]
    return sorted(set(found))


@pytest.mark.parametrize("name", DEVICES)
def test_profile_loads(name):
    """A practice profile is valid, and names its device."""
    profile = read_profile(profile_path(name))
    assert profile.name == name.capitalize()
    assert set(profile.volumes) == set(roles(name))


def test_profiles_differ_in_every_convention():
    """Formats, orders, entries, splash kinds and volumes differ on purpose."""
    profiles = [read_profile(profile_path(name)) for name in DEVICES]
    assert len({profile.menus[-1].order for profile in profiles}) == 3
    assert len({profile.panel.width * profile.panel.rotate for profile in profiles}) == 2
    kinds = [tuple(sorted(profile.splashes[0].kind.items())) for profile in profiles]
    assert len(set(kinds)) == 3
    formats = [{rule.format for menu in p.menus for rule in menu.references} - {"lines"} for p in profiles]
    assert not formats[0] & formats[1] and not formats[1] & formats[2] and not formats[0] & formats[2]


@pytest.mark.parametrize("name", DEVICES)
def test_every_rule_covers_a_file(name):
    """No reference rule of a practice profile is idle."""
    profile = read_profile(profile_path(name))
    for menu in profile.menus:
        for rule in menu.references:
            fits, root = fitting(rule.file), FIXTURES / "cards" / name / rule.file.volume
            assert any(fits(str(item.relative_to(root))) for item in root.rglob("*")), rule


@pytest.mark.parametrize("name", DEVICES)
def test_every_manifest_opens_and_keeps_its_bytes(name):
    """Each manifest under a rule is well formed in the rule's format; opened, it is what it was."""
    covered = manifests(name)
    assert len(covered) >= 10
    for path, format in covered:
        raw = (FIXTURES / "cards" / path).read_bytes()
        document = open_document(raw, format, path, {"STORE": "/mnt/store"})
        assert document.raw == raw
        assert list(document.find(None))

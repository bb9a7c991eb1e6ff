"""The manifest job on a practice card: plans touch only what was asked, and spoil nothing."""

from __future__ import annotations

import json

import practice_cards
import pytest

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.card.profile_reader import read_profile
from workbench.changes.plan import Write
from workbench.errors import CardError, ManifestError
from workbench.jobs import edit

REGISTER = VolumePath("data", "house/register.json")
SCRIPT = VolumePath("data", "shelf/Boats/begin")


@pytest.fixture
def profile():
    return read_profile(practice_cards.profile_path("larkspur"))


@pytest.fixture
def tree(practice_card, profile):
    return DiskTree(open_card(str(practice_card("larkspur")), (profile,), profile))


def _only_write(plan) -> Write:
    (step,) = plan.steps
    assert isinstance(step, Write)
    return step


def test_a_set_changes_only_its_span(tree, profile):
    """Every byte outside the edit stays."""
    before = tree.read(REGISTER)
    write = _only_write(edit.plan_set(tree, profile, REGISTER, "/things/Boats/says", 'A "new" label'))
    (changed,) = write.edits
    assert write.content[: changed.start] == before[: changed.start]
    assert write.content[changed.start + len(changed.new) :] == before[changed.end :]
    assert json.loads(changed.new) == 'A "new" label'


def test_the_same_value_again_is_no_step(tree, profile):
    """Nothing to write is said so."""
    value = edit.get_value(edit.read_manifest(tree, profile, REGISTER), "/things/Boats/says")
    plan = edit.plan_set(tree, profile, REGISTER, "/things/Boats/says", value)
    assert plan.steps == ()
    assert plan.notes


@pytest.mark.parametrize(
    ("act", "error"),
    [
        (lambda t, p: edit.plan_set(t, p, REGISTER, "/nowhere/x", 1), ManifestError),
        (lambda t, p: edit.plan_set(t, p, VolumePath("data", "none.json"), "/x", 1), CardError),
        (lambda t, p: edit.plan_delete(t, p, REGISTER, "/things/nobody"), ManifestError),
        (lambda t, p: edit.plan_mend(t, p, VolumePath("data", "house/lately.txt")), ManifestError),
        (lambda t, p: edit.read_manifest(t, p, VolumePath("system", "greet/hello.bmp")), ManifestError),
    ],
)
def test_what_cannot_be_done_is_said(act, error, tree, profile):
    """A sentence, no plan."""
    with pytest.raises(error):
        act(tree, profile)


def test_a_text_that_would_spoil_a_script_is_refused_unless_forced(tree, profile):
    """`sh -n` judges: an unclosed quote is no script any more."""
    after = tree.read(SCRIPT) + b"echo 'unclosed\n"
    with pytest.raises(ManifestError):
        edit.plan_text(tree, profile, SCRIPT, after)
    assert _only_write(edit.plan_text(tree, profile, SCRIPT, after, force=True)).content == after


def test_every_ruled_manifest_is_listed_once(tree, profile):
    """Plain files and globs, scripts too, sorted."""
    listed = edit.list_manifests(tree, profile)
    assert len(listed) == len(set(listed))
    assert {REGISTER, SCRIPT} <= set(listed)

"""Turns what a survey concludes into findings: lines of a profile, each with its reason and its evidence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from workbench.card.paths import VolumePath
from workbench.jobs.survey.analysis import Analysis, MenuFindings
from workbench.jobs.survey.animations import as_table
from workbench.jobs.survey.draft_media import draft_animation, draft_splash
from workbench.jobs.survey.entry_files import EntryFiles
from workbench.jobs.survey.evidence import Witness
from workbench.jobs.survey.findings import Evidence, Finding, Line
from workbench.jobs.survey.labels import LabelGuess
from workbench.jobs.survey.names_style import PrefixGuess, find_prefix
from workbench.jobs.survey.places import fold
from workbench.jobs.survey.profile_text import make_line
from workbench.jobs.survey.reading import Reading
from workbench.jobs.survey.roster import MenuGuess
from workbench.jobs.survey.rules import RuleGuess
from workbench.jobs.survey.splashes import read_size

_MOST_SHOWN = 3
_ALL_SEEN = 400
"""Of more files of one sort only a share is read."""


def draft_findings(
    name: str, reading: Reading, analysis: Analysis, rotate: int, asked_rotate: bool
) -> tuple[Finding, ...]:
    """Every finding, in the order of the profile."""
    witness = Witness(reading)
    heading = Finding(
        "profile",
        (),
        (make_line("schema", 1, "the version of this format"), make_line("name", name, "what to call it")),
        "The profile's own lines.",
        0.9,
    )
    return (
        heading,
        _draft_panel(analysis, rotate, asked_rotate),
        *_draft_volumes(reading, analysis, witness),
        *_draft_variables(analysis, witness),
        *(one for menu in analysis.menus for one in _draft_menu(reading, analysis, menu, witness)),
        *(draft_splash(splash) for splash in analysis.splashes),
        *draft_animation(analysis.animation, witness),
    )


def _draft_panel(analysis: Analysis, rotate: int, asked: bool) -> Finding:
    panel = analysis.panel
    if panel is None:
        return Finding(
            "panel",
            ("panel",),
            (
                make_line("width", 640, "no picture says it: correct this"),
                make_line("height", 480, "no picture says it: correct this"),
            ),
            "No picture of a whole panel was found; the size is only a place holder.",
            0.1,
        )
    width, height = panel.width, panel.height
    if rotate in (90, 270):
        width, height = height, width
    why = f"as wide as {panel.at}" if panel.at else "as wide as the frames of the animation"
    lines = [
        make_line("width", width, why if rotate in (0, 180) else f"as high as {panel.at} is stored, turned"),
        make_line("height", height, "the other side of the same picture"),
    ]
    if rotate:
        lines.append(make_line("rotate", rotate, "as you answered: pictures are stored turned"))
    evidence = (Evidence(panel.at, None, f"{panel.width}×{panel.height}"),) if panel.at else ()
    sure = panel.confidence if asked or width >= height else min(panel.confidence, 0.6)
    because = f"Pictures of the whole panel are stored as {panel.width}×{panel.height}."
    return Finding("panel", ("panel",), tuple(lines), because, sure, evidence)


# Volumes and variables


def _draft_volumes(reading: Reading, analysis: Analysis, witness: Witness) -> Iterator[Finding]:
    for volume in reading.places.volumes:
        identify = find_identity(reading, analysis, volume)
        lines = [make_line("identify", list(identify), "what a card has to hold to be taken for this one")]
        votes = analysis.routes.mount_votes.get(volume)
        mount = analysis.routes.mounts.get(volume)
        evidence: tuple[Evidence, ...] = ()
        sure = 0.9
        if votes is not None and mount is not None:
            count = votes.count[mount]
            lines.append(
                make_line(
                    "device_path", mount, f"in front of {count} path{'s' * (count > 1)} that lead there"
                )
            )
            seen = votes.seen[mount]
            evidence = tuple(witness.of_chain(one.site, one.chain, one.text) for one in seen)
            sure = min(0.99, 0.6 + 0.1 * count)
        if _tells_case(reading, volume):
            lines.append(make_line("names", "exact", "two names there differ by case alone"))
        because = f"The volume {volume} is told by {', '.join(identify)}"
        because += (
            f", and the device has it at {mount}." if mount else "; nothing says where the device has it."
        )
        yield Finding(f"volumes.{volume}", ("volumes", volume), tuple(lines), because, sure, evidence)


def find_identity(reading: Reading, analysis: Analysis, volume: str) -> tuple[str, ...]:
    """Up to two paths that tell a volume: a menu's folder and a manifest, else a splash, else anything."""
    found: list[str] = []
    for one in analysis.menus:
        if one.menu.volume == volume:
            root = one.menu.root.partition("/{parent}")[0].replace("{parent}", "")
            found += [f"{root}/"] if root else []
            break
    for one in analysis.menus:
        rules = [rule for rule in one.rules if rule.read.site.shape.volume == volume]
        rules.sort(key=lambda rule: -len(rule.read.entries))
        plain = [rule.read.site.shape.pattern for rule in rules if rule.read.site.shape.is_plain]
        found += plain[:1]
        if plain:
            break
    found += [splash.at.path for splash in analysis.splashes if splash.at.volume == volume][:1]
    if not found:
        listing = reading.places.find(volume, "")
        for name, is_folder in sorted(listing.listing if listing else (), key=lambda one: not one[1]):
            if name[:1] != ".":
                found.append(f"{name}/" if is_folder else name)
                break
    return tuple(dict.fromkeys(found))[:2] or (".cardwright-no-such-name",)


def _tells_case(reading: Reading, volume: str) -> bool:
    return any(
        len({name.upper() for name, _ in folder.listing}) < len(folder.listing)
        for folder in reading.places.folders
        if folder.volume == volume
    )


def _draft_variables(analysis: Analysis, witness: Witness) -> Iterator[Finding]:
    for name, value in sorted(analysis.routes.variables.items()):
        votes = analysis.routes.variable_votes[name]
        seen = votes.seen[value]
        evidence = tuple(witness.of_chain(one.site, one.chain, one.text) for one in seen)
        line = make_line(name, value, f"${name}/… leads to what is there only so")
        because = f"Texts start with ${name}, and what follows is there if that is {value}."
        yield Finding(
            f"variables.{name}",
            ("variables",),
            (line,),
            because,
            min(0.95, 0.5 + 0.1 * votes.count[value]),
            evidence,
        )


# Menus


def _draft_menu(
    reading: Reading, analysis: Analysis, one: MenuFindings, witness: Witness
) -> Iterator[Finding]:
    menu = one.menu
    place = ("menus", menu.id)
    total = len(menu.names)
    what = "folders" if menu.kind == "folders" else "files"
    lines = [
        make_line("id", menu.id, "what to call this menu"),
        make_line("root", f"{menu.volume}:{menu.root}", _say_named(menu, what)),
    ]
    if menu.kind == "files":
        lines.append(make_line("entries", "files", "what is named are files"))
        globs = [f"*.{suffix}" if suffix else "*" for suffix in menu.suffixes]
        lines.append(make_line("match", globs, "the suffixes of the files that are named"))
    hidden = _hidden(reading, analysis, one)
    if hidden:
        lines.append(
            make_line("hide", [".*", *hidden], "no entries: pictures or lists of the menu lie there")
        )
    because = f"{menu.title}: {_say_named(menu, what)}, in {menu.sites} kinds of places."
    sure = min(0.99, 0.4 + 0.4 * menu.named / max(total, 1) + 0.05 * menu.sites)
    if not menu.sites:
        because, sure = f"{menu.title}: no text names what lies there; {_say_named(menu, what)}.", 0.5
    rivals = tuple(f'root = "{rival}"' for rival in menu.rivals)
    yield Finding(
        f"menus.{menu.id}", place, tuple(lines), because, sure, tuple(_menu_evidence(one, witness)), rivals
    )
    yield _draft_order(analysis, menu.id, place)
    yield from _draft_prefix(find_prefix(menu), menu.id, place)
    if one.label is not None:
        yield _draft_label(one, one.label, place, witness)
    companions = [files for files in one.files if not files.is_picture]
    if companions:
        yield _draft_companions(menu.id, companions, place)
    for rule in one.rules:
        yield _draft_rule(menu.id, rule, (*place, "references"), witness)
    yield from _draft_pictures(reading, one, (*place, "pictures"))


def _say_named(menu: MenuGuess, what: str) -> str:
    total = len(menu.names)
    if not menu.sites:
        return f"{menu.named} of its {total} {what} go with pictures of their names, or hold the same things"
    if total > _ALL_SEEN:
        return f"its {what} are named elsewhere: {menu.named:,} of those that were looked for"
    return f"{menu.named} of its {total} {what} are named elsewhere"


def _hidden(reading: Reading, analysis: Analysis, one: MenuFindings) -> list[str]:
    """Children of the root that are no entries: what goes with the menu lies in them."""
    menu = one.menu
    if menu.kind != "folders":
        return []
    places = reading.places
    needed = {(files.volume, files.pattern) for files in one.files}
    needed |= {(rule.read.site.shape.volume, rule.read.site.shape.pattern) for rule in one.rules}
    needed |= {(splash.at.volume, splash.at.path) for splash in analysis.splashes}
    if analysis.animation is not None:
        needed.add((analysis.animation.volume, analysis.animation.folder + "/x"))
    for other in analysis.menus:
        needed.add((other.menu.volume, other.menu.root + "/x"))
    found: list[str] = list(menu.hide)
    for home in menu.homes:
        folder = places.folders[home]
        for name in places.children(home, folders=True):
            path = folder.child(name) + "/"
            if name not in found and any(v == folder.volume and p.startswith(path) for v, p in needed):
                found += [] if _is_named(one, home, name) else [name]
    return found


def _is_named(one: MenuFindings, home: int, name: str) -> bool:
    return any((home, fold(name)) in rule.read.entries for rule in one.rules)


def _menu_evidence(one: MenuFindings, witness: Witness) -> Iterator[Evidence]:
    best = sorted(one.rules, key=lambda rule: -len(rule.read.entries))[:_MOST_SHOWN]
    for rule in best:
        hit = rule.read.hits[0]
        yield witness.of_chain(rule.read.site, hit.chain, hit.text)


def _draft_order(analysis: Analysis, menu_id: str, place: tuple[str, ...]) -> Finding:
    doubt = analysis.order
    order = doubt.left[0] if doubt.left else "bytes"
    others = tuple(f'order = "{one}"' for one in doubt.left[1:])
    if doubt.pair is not None:
        why, sure = "not asked yet: the commonest", 0.3
    elif analysis.asked:
        why, sure = "as you answered", 0.95
    else:
        why, sure = "every order lists these names alike", 0.7
    line = make_line("order", order, why)
    because = f"How the device sorts cannot be seen on the card: {why}."
    return Finding(f"menus.{menu_id}.order", place, (line,), because, sure, (), others)


def _draft_prefix(prefix: PrefixGuess | None, menu_id: str, place: tuple[str, ...]) -> Iterator[Finding]:
    if prefix is None:
        return
    why = f"{prefix.count} names start so: {prefix.example}"
    value = {"style": prefix.style, "separator": prefix.separator}
    yield Finding(
        f"menus.{menu_id}.prefix", place, (make_line("prefix", value, why),), f"{why}.", prefix.confidence
    )


def _draft_label(one: MenuFindings, label: LabelGuess, place: tuple[str, ...], witness: Witness) -> Finding:
    value = as_table(
        file=label.file,
        format=label.site.shape.format,
        at=label.at,
        key=label.key,
        **({"is": label.form} if label.form else {}),
        otherwise="name",
    )
    count = len({key for key, _, _ in label.pairs})
    example = next(((key, text) for key, text, _ in label.pairs if text != one.menu.names[key]), None)
    why = f"texts beside {count} entries, like their names"
    if example is not None:
        why += f": {example[1].strip()[:40]}"
    evidence = tuple(
        witness.of_chain(label.site, chain, text) for _, text, chain in label.pairs[:_MOST_SHOWN]
    )
    return Finding(
        f"menus.{one.menu.id}.label",
        place,
        (make_line("label", value, why),),
        f"What the device shows seems to stand there: {why}.",
        min(0.95, 0.3 + 0.6 * label.likeness),
        evidence,
        one.other_labels,
    )


def _draft_companions(menu_id: str, companions: Sequence[EntryFiles], place: tuple[str, ...]) -> Finding:
    value = [f"{files.volume}:{files.pattern}" for files in companions]
    counts = ", ".join(f"{len(files.claimed)} of {files.beside}" for files in companions)
    why = f"{counts} files there bear the name of an entry"
    return Finding(
        f"menus.{menu_id}.companions",
        place,
        (make_line("companions", value, why),),
        f"{why}: they go where it goes.",
        0.8,
        tuple(_file_evidence(companions)),
    )


def _file_evidence(files: Iterable[EntryFiles]) -> Iterator[Evidence]:
    for one in files:
        path = next(iter(one.found.values()))
        yield Evidence(VolumePath(one.volume, path), None, path.rpartition("/")[2])


def _draft_rule(menu_id: str, rule: RuleGuess, place: tuple[str, ...], witness: Witness) -> Finding:
    read, site = rule.read, rule.read.site
    count, total = len(read.hits), len(site.samples)
    example = read.hits[0]
    files = len(site.shape.manifests)
    where = f"{files} files of one shape" if files > 1 else "this file"
    lines = [
        make_line("file", rule.file, f"{where} name{'' if files > 1 else 's'} entries here"),
        make_line("format", site.shape.format, "told by its content"),
    ]
    if rule.at is not None:
        lines.append(make_line("at", rule.at, f"{count} of {total} {_noun(rule, total)} there name an entry"))
    if (rule.form is not None and rule.form != "{entry}") or rule.at is None:
        words = " ".join(example.text.split())[:50]
        lines.append(make_line("is", rule.form or "{entry}", f"as in {words}"))
    because = (
        f"{count} of {total} {_noun(rule, total)} in {rule.file} name an entry, as in {example.text[:60]}."
    )
    evidence = tuple(witness.of_chain(site, hit.chain, hit.text) for hit in read.hits[:_MOST_SHOWN])
    key = ":".join(filter(None, (rule.file, rule.at, rule.form)))
    return Finding(
        f"menus.{menu_id}.references.{key}", place, tuple(lines), because, rule.confidence, evidence
    )


def _noun(rule: RuleGuess, count: int) -> str:
    if rule.read.site.is_key:
        return "keys" if count != 1 else "key"
    return "texts" if count != 1 else "text"


def _draft_pictures(reading: Reading, one: MenuFindings, place: tuple[str, ...]) -> Iterator[Finding]:
    sized = []
    for files in one.files:
        if files.is_picture:
            size, share = _common_size(reading, files)
            sized.append((size[0] * size[1] if size else 1 << 40, size, share, files))
    sized.sort(key=lambda found: found[0])
    for number, (_, size, share, files) in enumerate(sized):
        kind = _picture_kind(number, size)
        pattern = f"{files.volume}:{files.pattern}"
        why = f"{len(files.found)} of {files.beside} pictures there bear the name of an entry"
        lines: list[Line] = [
            make_line("kind", kind, "the smallest of them" if number == 0 else "the larger ones"),
            make_line("path", pattern, why),
        ]
        if size is not None:
            said = "all that were looked at" if share == 1.0 else "most that were looked at"
            lines.append(make_line("size", list(size), f"the size of {said}"))
        yield Finding(
            f"menus.{one.menu.id}.pictures.{files.pattern}",
            place,
            tuple(lines),
            f"{why}.",
            0.9,
            tuple(_file_evidence([files])),
        )


def _picture_kind(number: int, size: tuple[int, int] | None) -> str:
    if number == 0:
        return "icon" if size is None or max(size) <= 160 or size[0] == size[1] else "art"
    return "art" if number == 1 else f"art-{number}"


def _common_size(reading: Reading, files: EntryFiles) -> tuple[tuple[int, int] | None, float]:
    from collections import Counter

    paths = list(files.found.values())
    step = max(1, len(paths) // 12)
    sizes = [read_size(reading.tree, VolumePath(files.volume, path)) for path in paths[::step][:12]]
    counts = Counter(size for size in sizes if size is not None)
    if not counts:
        return None, 0.0
    size, count = counts.most_common(1)[0]
    return (size, count / len(sizes)) if count >= 0.8 * len(sizes) else (None, 0.0)

"""Reads the plain command line: whole words and whole options, each as the command asks for it.

argparse takes longer to be imported than to do anything (it brings message catalogues and the locale along),
and most command lines need nothing of what it knows. Whatever is not plain, an abbreviation, a mistake, a
call for help, is left to it, with all that it says.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from workbench.typed import Any

YES_OR_NO = "yes_or_no"
"""The action of an option that has `--no-` in front where it is not wanted."""

_ACTIONS = ("store", "store_true", "append", YES_OR_NO)
_SEVERAL = ("+", "*", 2)
"""`nargs` of options that take several words: how many is for argparse to say, once one is given."""
_KNOWN = frozenset(("action", "choices", "default", "dest", "help", "metavar", "nargs", "type"))


class _NotPlain(Exception):
    """argparse has to read this."""


class PlainArguments:
    """The read values by name, as `argparse.Namespace` has them."""

    def __init__(self, values: dict[str, Any]) -> None:
        self.__dict__.update(values)


def read_plain(add_arguments: Callable[[Any], None], words: Sequence[str]) -> PlainArguments | None:
    """The words as the arguments that `add_arguments` adds; None where they are not plain."""
    wishes = _Wishes()
    try:
        add_arguments(wishes)
        return PlainArguments(wishes.read(words))
    except _NotPlain:
        return None


class _Wishes:
    """Stands in for the parser to which a command adds its arguments."""

    def __init__(self) -> None:
        self._values: dict[str, Any] = {}
        """By name; the defaults to begin with."""
        self._options: dict[str, tuple[str, dict[str, Any]]] = {}
        self._places: list[tuple[str, dict[str, Any]]] = []
        self._choices: list[_Choice] = []

    def __getattr__(self, name: str) -> Any:
        raise _NotPlain  # whatever else a parser can do

    def add_argument_group(self, _title: str) -> _Wishes:
        return self  # a group matters to the help alone

    def add_mutually_exclusive_group(self, *, required: bool = False) -> _Choice:
        self._choices.append(_Choice(self, required))
        return self._choices[-1]

    def add_argument(self, *names: str, **settings: Any) -> None:
        if names[0].startswith("-") and settings.get("nargs") in _SEVERAL:
            name = names[-1].lstrip("-").replace("-", "_")
            if "dest" in settings or "type" in settings or settings.get("default") is not None:
                raise _NotPlain
            self._values[name] = None
            return
        name = settings.get("dest", names[-1].lstrip("-").replace("-", "_"))
        action, default = settings.get("action", "store"), settings.get("default")
        if (
            action not in _ACTIONS
            or settings.get("nargs") not in (None, "?")
            or not _KNOWN.issuperset(settings)
        ):
            raise _NotPlain
        if "type" in settings and isinstance(default, str):  # it would be brought to that type
            raise _NotPlain
        self._values[name] = False if action == "store_true" else default
        if names[0].startswith("-"):
            self._options |= dict.fromkeys(names, (name, settings))
            if action == YES_OR_NO:
                self._options |= {f"--no-{one[2:]}": (name, settings | {"is": False}) for one in names}
        else:
            self._places.append((name, settings))

    def read(self, words: Sequence[str]) -> dict[str, Any]:
        """The values, where every word is plain.

        Raises:
            _NotPlain: a word is not.
        """
        if any(not choice.is_made(words) for choice in self._choices):
            raise _NotPlain
        plain: list[str] = []
        waiting = list(reversed(words))
        while waiting:
            word = waiting.pop()
            if not word.startswith("-"):
                plain.append(word)
                continue
            if word not in self._options:
                raise _NotPlain
            name, settings = self._options[word]
            if settings.get("action") in ("store_true", YES_OR_NO):
                self._values[name] = settings.get("is", True)
                continue
            if not waiting:
                raise _NotPlain
            value = _check(waiting.pop(), settings)
            is_list = settings.get("action") == "append"
            self._values[name] = [*(self._values[name] or ()), value] if is_list else value
        self._place(plain)
        return self._values

    def _place(self, words: list[str]) -> None:
        """Each word to its place; those that may be left out come last."""
        may_miss = [settings.get("nargs") == "?" for _, settings in self._places]
        if may_miss != sorted(may_miss) or not may_miss.count(False) <= len(words) <= len(may_miss):
            raise _NotPlain
        for (name, settings), word in zip(self._places, words, strict=False):
            self._values[name] = _check(word, settings)


class _Choice:
    """Options of which one may be given."""

    def __init__(self, wishes: _Wishes, is_required: bool) -> None:
        self._wishes, self._is_required = wishes, is_required
        self._names: list[tuple[str, ...]] = []

    def __getattr__(self, name: str) -> Any:
        raise _NotPlain

    def add_argument(self, *names: str, **settings: Any) -> None:
        if not all(name.startswith("-") for name in names):
            raise _NotPlain
        self._names.append(names)
        self._wishes.add_argument(*names, **settings)

    def is_made(self, words: Sequence[str]) -> bool:
        """Whether the words hold one of them, or none where none has to be."""
        given = sum(any(name in words for name in names) for names in self._names)
        return given == 1 or (given == 0 and not self._is_required)


def _check(word: str, settings: dict[str, Any]) -> str:
    """A value that is taken as it is."""
    if word.startswith("-") or "type" in settings or word not in settings.get("choices", (word,)):
        raise _NotPlain
    return word

"""Plain data as an edit should leave it: the model that an edited document is compared with."""

from __future__ import annotations

from workbench.late_pattern import late_pattern
from workbench.manifests.document import Value
from workbench.typed import Any

_INDEX = late_pattern(r"0|[1-9][0-9]{0,9}")


def value_at(data: Value, path: tuple[str, ...]) -> Value:
    """The value at a path.

    Raises:
        KeyError: there is none.
    """
    for token in path:
        if isinstance(data, dict) and token in data:
            data = data[token]
        elif isinstance(data, list) and _INDEX.fullmatch(token) and int(token) < len(data):
            data = data[int(token)]
        else:
            raise KeyError(token)
    return data


def has_value(data: Value, path: tuple[str, ...]) -> bool:
    """Whether there is a value at a path."""
    try:
        value_at(data, path)
    except KeyError:
        return False
    return True


def with_value(data: Value, path: tuple[str, ...], value: Value) -> Value:
    """A copy with another value at a path that exists, or under a new key."""
    if not path:
        return value
    data, parent = _opened(data, path[:-1])
    parent[int(path[-1]) if isinstance(parent, list) else path[-1]] = value
    return data


def with_item(data: Value, path: tuple[str, ...], value: Value) -> Value:
    """A copy with a new item in a list, before the index that the path ends in (`-`: at the end)."""
    items: list[Any]
    data, items = _opened(data, path[:-1])
    items.insert(len(items) if path[-1] == "-" else int(path[-1]), value)
    return data


def without_value(data: Value, path: tuple[str, ...]) -> Value:
    """A copy without the member or item at a path."""
    data, parent = _opened(data, path[:-1])
    del parent[int(path[-1]) if isinstance(parent, list) else path[-1]]
    return data


def with_key(data: Value, path: tuple[str, ...], key: str) -> Value:
    """A copy with the member at a path under another key."""
    data, parent = _opened(data, path[:-1])
    parent[key] = parent.pop(path[-1])
    return data


def is_same(one: Value, other: Value) -> bool:
    """Whether two values are equal in kind too (`1` is neither `True` nor `1.0`; NaN is NaN)."""
    waiting = [(one, other)]
    while waiting:
        left, right = waiting.pop()
        if type(left) is not type(right):
            return False
        if isinstance(left, dict):
            if left.keys() != right.keys():
                return False
            waiting += ((value, right[key]) for key, value in left.items())
        elif isinstance(left, list):
            if len(left) != len(right):
                return False
            waiting += zip(left, right, strict=True)
        elif left != right and not (left != left and right != right):
            return False
    return True


def copy_data(data: Value) -> Value:
    """A copy that can be changed and leaves this one as it is."""
    if type(data) is dict:
        return {key: copy_data(item) if type(item) in (dict, list) else item for key, item in data.items()}
    if type(data) is list:
        return [copy_data(item) if type(item) in (dict, list) else item for item in data]
    return data


def _opened(data: Value, path: tuple[str, ...]) -> tuple[Value, Any]:
    """The data with what stands on the way to a place copied, the place itself too; and that place.

    Everything beside the way is shared with the data that was given.

    Raises:
        KeyError: there is no such place.
    """
    found = data = _shallow(data)
    for token in path:
        value_at(found, (token,))
        key = int(token) if isinstance(found, list) else token
        found[key] = _shallow(found[key])
        found = found[key]
    return data, found


def _shallow(data: Value) -> Value:
    return data.copy() if isinstance(data, dict | list) else data

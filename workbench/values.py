"""`dataclass`, `field` and `replace` as the standard library has them, made later.

The standard decorator compiles six methods a class when a module is imported, about a millisecond each time:
on a hundred values that is most of the start of a short command. Here nothing is compiled until a number of
instances have been made, and comparing, hashing and showing are shared. Type checkers see the standard ones.
What the standard module asks of its own (`fields`, `asdict`, `replace`, pickling) works on these too.
"""

from __future__ import annotations

from workbench.typed import TYPE_CHECKING

__all__ = ["dataclass", "field", "replace"]

if TYPE_CHECKING:
    from dataclasses import dataclass, field, replace
else:
    import operator

    _MISSING = object()
    _FEW = 64
    """Instances whose making costs less than compiling what would make them faster."""

    class _Field:
        """What `field(...)` was told."""

        __slots__ = ("compare", "default", "factory", "repr")

        def __init__(self, default, factory, show, compare):
            self.default, self.factory, self.repr, self.compare = default, factory, show, compare

    def field(*, default=_MISSING, default_factory=_MISSING, repr=True, compare=True):
        """A field with a default made anew for each instance, or left out of comparing or showing."""
        return _Field(default, default_factory, repr, compare)

    def dataclass(cls=None, /, *, frozen=False, slots=False, order=False, eq=True):
        """The standard decorator, as far as it is used here: no inherited fields, no `init=False`."""
        if cls is None:
            return lambda made: _make(made, frozen, slots, order, eq)
        return _make(cls, frozen, slots, order, eq)

    def replace(instance, /, **changes):
        """The same value with some fields changed."""
        for name in instance.__match_args__:
            if name not in changes:
                changes[name] = getattr(instance, name)
        return type(instance)(**changes)

    def _make(cls, frozen, slots, order, eq):
        fields = _read_fields(cls)
        members = dict(cls.__dict__) if slots else {}
        members["__match_args__"] = tuple(fields)
        members["_value_fields"] = fields
        members["__dataclass_fields__"] = _StandardFields()
        members["__init__"] = _make_first_init(fields, frozen)
        members.setdefault("__repr__", cls.__dict__.get("__repr__", _show))
        _add_comparing(members, fields, frozen, order, eq)
        if frozen:
            members["__setattr__"] = members["__delattr__"] = _refuse
        if slots:
            return _make_slotted(cls, members, fields)
        for name, member in members.items():
            setattr(cls, name, member)
        for name, told in fields.items():
            if isinstance(cls.__dict__.get(name), _Field):
                if told.default is _MISSING:
                    delattr(cls, name)
                else:
                    setattr(cls, name, told.default)
        return cls

    def _read_fields(cls):
        fields = {}
        for name, kind in cls.__annotations__.items():
            if not (isinstance(kind, str) and kind.startswith(("ClassVar", "typing.ClassVar"))):
                told = cls.__dict__.get(name, _MISSING)
                fields[name] = told if isinstance(told, _Field) else _Field(told, _MISSING, True, True)
        return fields

    def _make_slotted(cls, members, fields):
        for name in (*fields, "__dict__", "__weakref__"):
            members.pop(name, None)
        members["__slots__"] = tuple(fields)
        members["__getstate__"], members["__setstate__"] = _get_state, _set_state
        members["__qualname__"] = cls.__qualname__
        return type(cls)(cls.__name__, cls.__bases__, members)

    def _add_comparing(members, fields, frozen, order, eq):
        if not eq:
            return
        names = [name for name, told in fields.items() if told.compare]
        key = operator.attrgetter(*names) if names else lambda _: ()

        def is_equal(self, other):
            return key(self) == key(other) if other.__class__ is self.__class__ else NotImplemented

        members["__eq__"] = is_equal
        members["__hash__"] = (lambda self: hash(key(self))) if frozen else None
        if order:
            for sign in ("lt", "le", "gt", "ge"):
                members[f"__{sign}__"] = _make_order(key, getattr(operator, sign))

    def _make_order(key, compare):
        def is_so(self, other):
            return compare(key(self), key(other)) if other.__class__ is self.__class__ else NotImplemented

        return is_so

    def _make_first_init(fields, frozen):
        """An `__init__` that goes through the fields, and compiles a fast one once many were made."""
        left = _FEW

        def __init__(self, *values, **named):
            nonlocal left
            left -= 1
            cls = type(self)
            if left >= 0 and _fill(self, fields, values, named):
                if hasattr(cls, "__post_init__"):
                    self.__post_init__()
                return
            real = _compile_init(cls, fields, frozen)
            cls.__init__ = real
            real(self, *values, **named)

        return __init__

    def _fill(instance, fields, values, named):
        """Set every field; false where the values are not those that are asked for."""
        given = dict(zip(fields, values, strict=False)) | named
        if len(given) != len(values) + len(named) or not given.keys() <= fields.keys():
            return False
        for name, told in fields.items():
            if name in given:
                value = given[name]
            elif told.factory is not _MISSING:
                value = told.factory()
            elif told.default is not _MISSING:
                value = told.default
            else:
                return False
            object.__setattr__(instance, name, value)
        return True

    def _compile_init(cls, fields, frozen):
        parts, body, scope = ["self"], [], {"_set": object.__setattr__, "_missing": _MISSING}
        for name, told in fields.items():
            if told.factory is not _MISSING:
                scope[f"_make_{name}"] = told.factory
                parts.append(f"{name}=_missing")
                body.append(f" if {name} is _missing: {name} = _make_{name}()")
            elif told.default is not _MISSING:
                scope[f"_default_{name}"] = told.default
                parts.append(f"{name}=_default_{name}")
            else:
                parts.append(name)
            body.append(f" {_name_setter(cls, name, scope)}{name})" if frozen else f" self.{name} = {name}")
        if hasattr(cls, "__post_init__"):
            body.append(" self.__post_init__()")
        exec(f"def __init__({', '.join(parts)}):\n" + ("\n".join(body) or " pass"), scope)
        made = scope["__init__"]
        made.__qualname__ = f"{cls.__qualname__}.__init__"
        return made

    def _name_setter(cls, name, scope):
        """The beginning of a call that sets a field; a slot's own descriptor does it in half the time."""
        if "__slots__" not in cls.__dict__:
            return f"_set(self, {name!r}, "
        scope[f"_set_{name}"] = cls.__dict__[name].__set__
        return f"_set_{name}(self, "

    class _StandardFields:
        """`__dataclass_fields__`, made by the standard library when it asks for it."""

        def __get__(self, instance, cls):
            import dataclasses

            listed = []
            for name, told in cls._value_fields.items():
                told_so = {"default": told.default, "default_factory": told.factory}
                known = {key: value for key, value in told_so.items() if value is not _MISSING}
                listed.append(
                    (name, object, dataclasses.field(repr=told.repr, compare=told.compare, **known))
                )
            made = dataclasses.make_dataclass(cls.__name__, listed, eq=False)
            return made.__dict__["__dataclass_fields__"]

    def _show(self):
        shown = (f"{name}={getattr(self, name)!r}" for name, told in self._value_fields.items() if told.repr)
        return f"{type(self).__qualname__}({', '.join(shown)})"

    def _refuse(_self, name, *_):
        from dataclasses import FrozenInstanceError

        raise FrozenInstanceError(f"cannot change field {name!r}")

    def _get_state(self):
        return [getattr(self, name) for name in self.__match_args__]

    def _set_state(self, state):
        for name, value in zip(self.__match_args__, state, strict=True):
            object.__setattr__(self, name, value)

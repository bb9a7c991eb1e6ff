"""udisks2 over D-Bus: unmounting without the rights of root, and switching a drive off.

Source: the udisks2 reference (interfaces org.freedesktop.UDisks2.Manager, .Filesystem, .Block, .Drive).
"""

from __future__ import annotations

from typing import Any

from workbench.host.leaving.means import SECONDS, LeaveError

_SERVICE = "org.freedesktop.UDisks2"
_NOT_HERE = (
    "org.freedesktop.DBus.Error.ServiceUnknown",
    "org.freedesktop.DBus.Error.NameHasNoOwner",
    "org.freedesktop.DBus.Error.UnknownMethod",
    "org.freedesktop.DBus.Error.Spawn.ExecFailed",
    "org.freedesktop.DBus.Error.Spawn.ServiceNotFound",
)
_DENIED = ("NotAuthorized", "NotAuthorizedCanObtain", "NotAuthorizedDismissed")


def connect() -> Udisks | None:
    """udisks on the system's bus; None where either is missing."""
    try:
        from jeepney.io.blocking import open_dbus_connection
    except ImportError:
        return None
    try:
        connection = open_dbus_connection(bus="SYSTEM")
    except (OSError, KeyError, ValueError, RuntimeError):
        return None
    found = Udisks(connection)
    if found.answers():
        return found
    found.close()
    return None


class Udisks:
    """The service, by one connection."""

    name = "udisks"

    def __init__(self, connection: Any) -> None:
        self._connection = connection

    def answers(self) -> bool:
        """Whether the service is there, or can be started."""
        try:
            self._ask("/org/freedesktop/UDisks2/Manager", f"{_SERVICE}.Manager", "Version")
        except _RefusedError:
            return False
        return True

    def close(self) -> None:
        """Let the connection go."""
        self._connection.close()

    def unmount(self, device: str, point: str) -> None:
        try:
            self._call(self._resolve(device), f"{_SERVICE}.Filesystem", "Unmount", "a{sv}", ({},))
        except _RefusedError as error:
            raise LeaveError(_explain(error), path=point, busy=error.name.endswith(".DeviceBusy")) from error

    def power_off(self, device: str) -> str:
        try:
            drive = self._ask(self._resolve(device), f"{_SERVICE}.Block", "Drive")
            if drive == "/":
                return ""
            if self._ask(drive, f"{_SERVICE}.Drive", "CanPowerOff"):
                self._call(drive, f"{_SERVICE}.Drive", "PowerOff", "a{sv}", ({},))
                return "The drive was switched off."
            if self._ask(drive, f"{_SERVICE}.Drive", "Ejectable"):
                self._call(drive, f"{_SERVICE}.Drive", "Eject", "a{sv}", ({},))
                return "The medium was ejected."
        except _RefusedError as error:
            raise LeaveError(_explain(error), path=device) from error
        return ""

    def _resolve(self, device: str) -> str:
        """The service's own path of a block device (`ResolveDevice`, since udisks 2.7.3)."""
        wanted = {"path": ("s", device)}
        found = self._call(
            "/org/freedesktop/UDisks2/Manager",
            f"{_SERVICE}.Manager",
            "ResolveDevice",
            "a{sv}a{sv}",
            (wanted, {}),
        )
        if not found[0]:
            raise _RefusedError("", f"udisks does not know the device {device}")
        return str(found[0][0])

    def _ask(self, path: str, interface: str, name: str) -> Any:
        found = self._call(path, "org.freedesktop.DBus.Properties", "Get", "ss", (interface, name))
        return found[0][1]

    def _call(
        self, path: str, interface: str, method: str, signature: str, body: tuple[Any, ...]
    ) -> tuple[Any, ...]:
        from jeepney import DBusAddress, HeaderFields, MessageType, new_method_call

        address = DBusAddress(path, bus_name=_SERVICE, interface=interface)
        try:
            reply = self._connection.send_and_get_reply(
                new_method_call(address, method, signature, body), timeout=SECONDS
            )
        except (OSError, TimeoutError) as error:
            raise _RefusedError("", f"udisks did not answer ({error or 'no answer'})") from error
        if reply.header.message_type == MessageType.error:
            name = str(reply.header.fields.get(HeaderFields.error_name, ""))
            raise _RefusedError(name, str(reply.body[0]) if reply.body else name)
        return tuple(reply.body)


class _RefusedError(Exception):
    """An error that the service, or the bus, answered with."""

    def __init__(self, name: str, said: str) -> None:
        super().__init__(said)
        self.name = name


def _explain(error: _RefusedError) -> str:
    last = error.name.rpartition(".")[2]
    if last == "DeviceBusy":
        return "a program still uses it"
    if last in _DENIED:
        return "you are not allowed to; nobody gave the password that udisks asks for"
    return f"udisks says: {str(error).strip().splitlines()[0] if str(error).strip() else error.name}"

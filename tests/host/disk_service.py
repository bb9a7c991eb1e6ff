"""A stand-in for udisks2 on a private D-Bus: owns its name, answers as its reference says, notes every call.

`python disk_service.py JOURNAL REFUSAL POWER` with REFUSAL `none`, `DeviceBusy` or `NotAuthorized`, POWER
`can-power-off`, `ejectable` or `neither`. It really unmounts what it is asked to where `umount` can.
"""

from __future__ import annotations

import subprocess
import sys

from jeepney import HeaderFields, MessageType, message_bus, new_error, new_method_return
from jeepney.io.blocking import open_dbus_connection

NAME = "org.freedesktop.UDisks2"
BLOCK = "/org/freedesktop/UDisks2/block_devices/card1"
DRIVE = "/org/freedesktop/UDisks2/drives/reader"


def serve(journal: str, refusal: str, power: str) -> None:
    connection = open_dbus_connection(bus="SYSTEM")
    reply = connection.send_and_get_reply(message_bus.RequestName(NAME))
    assert reply.body == (1,), reply.body
    properties = {
        "Version": ("s", "2.10.1"),
        "Drive": ("o", DRIVE),
        "CanPowerOff": ("b", power == "can-power-off"),
        "Ejectable": ("b", power == "ejectable"),
    }
    device = ""
    print("ready", flush=True)
    while True:
        message = connection.receive()
        if message.header.message_type != MessageType.method_call:
            continue
        fields = message.header.fields
        method, path = fields[HeaderFields.member], fields[HeaderFields.path]
        with open(journal, "a") as file:
            file.write(f"{method} {path}\n")
        if method == "Get":
            answer = new_method_return(message, "v", (properties[message.body[1]],))
        elif method == "ResolveDevice":
            device = message.body[0]["path"][1]
            answer = new_method_return(message, "ao", ([BLOCK] if device.startswith("/dev/") else [],))
        elif method == "Unmount" and refusal != "none":
            answer = new_error(message, f"{NAME}.Error.{refusal}", "s", ("no",))
        else:
            if method == "Unmount":
                subprocess.run(["umount", device], capture_output=True, check=False)
            answer = new_method_return(message)
        connection.send(answer)


if __name__ == "__main__":
    serve(*sys.argv[1:])

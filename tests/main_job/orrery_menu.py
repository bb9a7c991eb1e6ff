"""Orrery's menu process, as a program apart (stdlib only): reads its list at start, writes it back at exit.

`orrery_menu.py ROOT PIDFILE`. SIGUSR1 is a person who looks at a piece: it counts in memory alone, and is
answered in a file beside PIDFILE. SIGTERM ends it properly, and only then is `almanac/seen.toml` written.
It makes `almanac/index.cache` where that is missing or stale.
"""

import os
import re
import signal
import sys


def main(root: str, pidfile: str) -> None:
    seen, cache = os.path.join(root, "almanac/seen.toml"), os.path.join(root, "almanac/index.cache")
    looks = 0
    with open(f"{pidfile}.looks", "w") as file:
        file.write("0")

    def look(*_: object) -> None:
        nonlocal looks
        looks += 1
        with open(f"{pidfile}.looks", "w") as file:
            file.write(str(looks))

    def end(*_: object) -> None:
        again = re.sub(
            rb"(?m)^times = (\d+)$", lambda found: b"times = %d" % (int(found[1]) + looks), text, count=1
        )
        with open(seen, "wb") as file:
            file.write(again)
        os.unlink(pidfile)
        os._exit(0)

    signal.signal(signal.SIGUSR1, look)
    signal.signal(signal.SIGTERM, end)
    with open(seen, "rb") as file:
        text = file.read()
    names = sorted(os.listdir(os.path.join(root, "sky")))
    wanted = "".join(f"{name}\0" for name in names if not name.startswith(".")).encode()
    try:
        with open(cache, "rb") as file:
            cached = file.read()
    except OSError:
        cached = b""
    if sorted(cached.split(b"\0")) != sorted(wanted.split(b"\0")):
        with open(cache, "wb") as file:
            file.write(wanted)
    with open(f"{pidfile}.new", "w") as file:
        file.write(str(os.getpid()))
    os.rename(f"{pidfile}.new", pidfile)
    while True:
        signal.pause()


if __name__ == "__main__":
    main(*sys.argv[1:])

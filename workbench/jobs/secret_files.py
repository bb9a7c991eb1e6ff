"""Files that look as if they held a password, a token or a network key. A guess, made by name and by content.

They are named to the person and left out of what leaves the card, unless asked for.
"""

from __future__ import annotations

from workbench.late_pattern import late_pattern

SECRET_HEAD = 64 * 1024
"""So many bytes of a file are looked into."""

_NAMES = late_pattern(
    r"(?i)id_(rsa|dsa|ecdsa|ed25519)|.*\.(pem|key|p12|pfx|ppk|kdbx|keystore|jks|ovpn|nmconnection)"
    r"|wpa_supplicant.*|\.netrc|\.pgpass|\.htpasswd|\.git-credentials|\.npmrc|\.pypirc|shadow-?"
    r"|ssh_host_.*_key|.*\.psk"
)
_WORDS = late_pattern(
    r"(?i)(?:^|[^a-z])(passwords?|passwd|passphrase|secrets?|credentials?|api[-_ ]?keys?|auth[-_ ]?tokens?"
    r"|access[-_ ]?tokens?|wifi[-_ ]?keys?)(?:[^a-z]|$)"
)
_PRIVATE_KEY = late_pattern(r"-----BEGIN (?:[A-Z ]+ )?PRIVATE KEY-----")
_SETTING = late_pattern(
    r"(?im)^[ \t{,<]*[\"']?(?:[a-z0-9]+[-_. ])*(password|passwd|passphrase|psk|pre_shared_key|wpa_psk"
    r"|api_?key|secret|access_?token|auth_?token|refresh_?token|client_?secret)[\"']?[ \t]*[:=>][ \t]*[\"']?"
    r"([^\s\"',;}<]{3,})"
)
_EMPTY = ("null", "none", "false", "true")
_TOLD_BY = (b"pass", b"psk", b"secret", b"token", b"key")
"""One of these stands in every text that the patterns above find; most files have none of them."""
_IN_NAMES = (
    *("pass", "pwd", "secret", "credential", "key", "token", "id_", "wpa_", "shadow", ".pem", ".p12", ".pfx"),
    *(".ppk", ".kdbx", ".jks", ".ovpn", ".nmconnection", ".netrc", ".npmrc", ".pypirc", ".psk"),
)


def find_secret(path: str, head: bytes) -> str:
    """Why a file looks secret, as the end of a sentence that starts with its path; else empty."""
    name = path.rpartition("/")[2]
    folded = name.lower()
    if any(word in folded for word in _IN_NAMES):
        if _NAMES.fullmatch(name):
            return "is called as keys and passwords are"
        if found := _WORDS.search(name):
            return f"has {found[1].lower()!r} in its name"
    if b"\0" in head[:1024]:
        return ""
    low = head[:SECRET_HEAD].lower()
    if not any(word in low for word in _TOLD_BY):
        return ""
    text = head[:SECRET_HEAD].decode("utf-8", "replace")
    if _PRIVATE_KEY.search(text):
        return "holds a private key"
    for found in _SETTING.finditer(text):
        if found[2].lower() not in _EMPTY:
            line = text.count("\n", 0, found.start(1)) + 1
            return f"sets {found[1].lower()!r} in line {line}"
    return ""

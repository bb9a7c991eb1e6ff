"""Packs: archives or folders that mirror the trees of volumes. Looked into, added, taken out, made."""

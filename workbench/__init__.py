"""Cardwright: a workbench for the storage card of a small Linux handheld."""

__version__ = "0.1.0"

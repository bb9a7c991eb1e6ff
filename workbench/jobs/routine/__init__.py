"""Routines: recorded wishes that can be carried out on other cards.

`wish` says what can be wished, `routine_file` reads and writes the TOML list, `carrying` plans it on a card.
"""

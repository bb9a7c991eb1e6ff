"""The README's table of keys is the registry's."""

from pathlib import Path

from workbench.tui.key_table import key_table


def test_the_readme_lists_every_key():
    """Made anew with `python -m workbench.tui.key_table`."""
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    table = readme.partition("<!-- keys: begin -->")[2].partition("<!-- keys: end -->")[0].strip()
    assert table == key_table()

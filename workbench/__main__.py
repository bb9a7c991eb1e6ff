"""`python -m workbench` is the command `cardwright`."""

from workbench.cli.main import main

if __name__ == "__main__":
    raise SystemExit(main())

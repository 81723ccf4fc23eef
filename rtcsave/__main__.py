"""`python -m rtcsave`: the command."""

from rtcsave.cli.main import entry

if __name__ == "__main__":
    entry()

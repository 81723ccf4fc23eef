"""`python -m rtcsave`: the command."""

import sys

from rtcsave.cli.main import main

if __name__ == "__main__":
    sys.exit(main())

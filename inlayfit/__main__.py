"""`python -m inlayfit` is the command `inlayfit`."""

import sys

from inlayfit.cli import main

if __name__ == "__main__":
    sys.exit(main())

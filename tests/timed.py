"""A reading that must be over within two seconds of work, whatever the file holds."""

from __future__ import annotations

import time
from pathlib import Path

from inlayfit.drawing import Drawing
from inlayfit.read import read_drawing

SECONDS = 2.0


def timed_reading(path: Path) -> Drawing:
    """Return the drawing; what is refused must be refused as soon. Processor time, which other work does not add to."""
    begin = time.process_time()
    try:
        return read_drawing(path)
    finally:
        assert time.process_time() - begin < SECONDS

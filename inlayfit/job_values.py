"""What the tables of a job share: lengths as they are written, dotted keys, choices."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import msgspec

from inlayfit.errors import JobError, nearest_of

Length = str | float  # as written: "1/32in", "0.8 mm", or a bare number of millimetres
Factor = Annotated[float, msgspec.Meta(gt=0, le=1e6)]


def dotted(source: str, path: str) -> str:
    """Return what names a key in errors: the file, and the key in it."""
    return f"{source}: {path}" if path else source


def one_of(name: str, known: Sequence[str], where: str) -> str:
    """Return the name.

    Raises:
        JobError: it is none of those that are known.
    """
    if name not in known:
        raise JobError(f"{name!r} is none of the choices", where=where, remedy=nearest_of(name, known))
    return name

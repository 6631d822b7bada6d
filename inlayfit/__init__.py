"""Artwork in, inlay pieces and pockets that fit out, and the gap proved before any shell is cut.

The public names load when they are first used, so that a command which needs no geometry starts at once.
No module is called `fit` or `check`: an import of one would take the place of the function of that name.
"""

from __future__ import annotations

TYPE_CHECKING = False  # as type checkers know it; `typing` itself would cost more than all else here
if TYPE_CHECKING:
    from inlayfit.checker import check
    from inlayfit.cutters import Bit, Kerf
    from inlayfit.drawing import Drawing
    from inlayfit.errors import InlayfitError
    from inlayfit.read import read_drawing
    from inlayfit.recipe import fit

    __version__: str

__all__ = ["Bit", "Drawing", "InlayfitError", "Kerf", "__version__", "check", "fit", "read_drawing"]

_HOMES = {
    "Bit": "inlayfit.cutters",
    "Drawing": "inlayfit.drawing",
    "InlayfitError": "inlayfit.errors",
    "Kerf": "inlayfit.cutters",
    "check": "inlayfit.checker",
    "fit": "inlayfit.recipe",
    "read_drawing": "inlayfit.read",
}


def __getattr__(name: str) -> object:
    """Load a public name (PEP 562)."""
    if name == "__version__":
        from importlib.metadata import version  # noqa: PLC0415  # asks the disk: only who wants it pays

        value: object = version("inlayfit")
    elif name in _HOMES:
        from importlib import import_module  # noqa: PLC0415

        value = getattr(import_module(_HOMES[name]), name)
    else:
        raise AttributeError(f"module 'inlayfit' has no attribute {name!r}")
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names with what is loaded already."""
    return sorted({*globals(), *__all__})

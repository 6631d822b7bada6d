"""The picture that `look`, `check` and `fit` draw where one is asked for: SVG, or PNG where a renderer is there."""

from __future__ import annotations

from pathlib import Path

from inlayfit.cli.options import Parser
from inlayfit.errors import JobError

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Sequence

    from inlayfit.drawing import Drawing
    from inlayfit.findings import Finding
    from inlayfit.report.places import Place
    from inlayfit.write.picture import Seams

INSTALL = "pip install 'inlayfit[png]'"


def add_picture_option(options: Parser, shows: str) -> None:
    """Add the option; `shows` is what the picture shows."""
    options.add_argument("--picture", type=Path, metavar="FILE.svg", help=f"draw {shows} here (SVG, or PNG)")


def check_picture(picture: Path | None, *sources: Path) -> None:
    """Refuse to draw over what is read, or into a file that claims to be something else.

    Raises:
        JobError: it would be one of both, or a PNG without the package that makes it.
    """
    if picture is None:
        return
    suffix = picture.suffix.lower()
    if suffix not in {".svg", ".png"}:
        raise JobError(
            f"the picture is an SVG or a PNG, not {picture.suffix!r}", where="--picture", remedy="name it FILE.svg"
        )
    if picture.resolve() in {source.resolve() for source in sources}:
        raise JobError("the picture would replace the drawing", where="--picture", remedy="give another name")
    if suffix == ".png" and not _renders():
        raise JobError("nothing here makes a PNG", where="--picture", remedy=f"name it FILE.svg, or {INSTALL}")


def drawn(
    picture: Path | None, drawing: Drawing, findings: Sequence[Finding] = (), seams: Seams | None = None
) -> list[tuple[str, str]]:
    """Draw the picture if there is to be one, and return it as (path, kind).

    Raises:
        WriteError: it cannot be written.
    """
    if picture is None:
        return []
    from inlayfit.report.places import places_of
    from inlayfit.write.files import write_file
    from inlayfit.write.picture import Told, picture_bytes

    told = [Told(text=_words(place), at=(place.worst.x, place.worst.y)) for place in places_of(findings)]
    svg = picture_bytes(drawing, told, seams)
    write_file(picture, _png(svg) if picture.suffix.lower() == ".png" else svg)
    return [(str(picture), "picture")]


def _words(place: Place) -> str:
    worst = place.worst
    return f"{worst.name}: {worst.message}" if worst.name else worst.message


def _renders() -> bool:
    from importlib.util import find_spec

    return find_spec("resvg_py") is not None


def _png(svg: bytes) -> bytes:
    import resvg_py

    return bytes(resvg_py.svg_to_bytes(svg_string=svg.decode()))

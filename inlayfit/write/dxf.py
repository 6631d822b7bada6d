"""A sheet as DXF R2010 in millimetres: closed polylines with bulges, lines, labels as text, a layer each kind."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager

import ezdxf
import numpy as np
from ezdxf.colors import RGB, rgb2int
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new

from inlayfit.arcs import ArcRing
from inlayfit.sheet import GUIDE, LAYER_COLOURS, Label, Sheet, plain_text

MILLIMETRES = 4
"""$INSUNITS. Source: DXF reference, HEADER section."""


def dxf_bytes(sheet: Sheet) -> bytes:
    """Return the file; the same sheet gives the same bytes."""
    with _without_time_stamps():
        document = new("R2010", units=MILLIMETRES)
        document.header["$MEASUREMENT"] = 1
        document.header.custom_vars.append("Title", plain_text(sheet.title))
        for name in sheet.layer_names:
            colour, number = LAYER_COLOURS[name]
            document.layers.add(name, color=number, true_color=rgb2int(RGB.from_hex(colour)))
        for name in sheet.layer_names:
            for ring in sheet.layers.get(name, ()):
                _add_ring(document, name, ring)
            for line in sheet.lines.get(name, ()):
                document.modelspace().add_line((line.x1, line.y1), (line.x2, line.y2), dxfattribs={"layer": name})
        for label in sheet.labels:
            _add_label(document, Label(*label))
        text = io.StringIO()
        document.write(text)
    return text.getvalue().encode(document.output_encoding)


def _add_ring(document: Drawing, layer: str, ring: ArcRing) -> None:
    vertices = np.column_stack([ring.points, ring.bulges]).tolist()
    document.modelspace().add_lwpolyline(vertices, format="xyb", close=True, dxfattribs={"layer": layer})


def _add_label(document: Drawing, label: Label) -> None:
    text = plain_text(label.text).replace("%%", "%%%%%%")  # two are a code, %%% is one of them as a sign
    document.modelspace().add_text(text, height=label.height, dxfattribs={"layer": GUIDE}).set_placement(
        (label.x, label.y), align=TextEntityAlignment.MIDDLE_CENTER
    )


@contextmanager
def _without_time_stamps() -> Iterator[None]:
    options = ezdxf.options
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before

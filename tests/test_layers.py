"""Who may import whom: the house has one direction, and start-up stays light."""

from __future__ import annotations

import ast
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "inlayfit"

LAYERS = [
    {"errors", "choices"},
    {"units"},
    {
        "cutters",
        "findings",
        "drawing",
        "fretboard",
        "board",
        "stocks",
        "wood_part",
        "blanks",
        "stack",
        "woods",
        "season",
        "glues",
        "feeds",
    },
    {"read"},
    {"parallel", "offset", "regions", "arcs", "arc_breaks", "arc_joints", "arc_fitting", "toolpath"},
    {
        "seam",
        "first_cells",
        "cells",
        "plan",
        "edge_grid",
        "walls",
        "gap",
        "place_spots",
        "sites",
        "webs",
        "spots",
        "miss",
        "outlines",
        "discs",
        "touches",
        "runs",
        "left",
        "sides",
        "ladder",
    },
    {"layout_raster", "layout_search", "layout_settle", "layout_tight", "layout_bench"},
    {"halves", "remarks", "joint_remarks", "depth", "inlaid", "settings"},
    {
        "checker",
        "recipe",
        "expected",
        "expected_remarks",
        "marker_shapes",
        "markers",
        "marker_depth",
        "board_remarks",
        "setups",
    },
    {"board_recipe", "layout"},
    {"sheet"},
    {"half_sheets"},
    {"board_sheets", "blank_sheets"},
    {"programs"},
    {"write", "readback", "readback_program"},
    {"report", "job", "job_board", "job_blanks", "job_expected", "job_machine", "job_part", "job_stocks", "job_values"},
    {"cli"},
    {"__main__"},
]
"""From the ground up: a module imports from its own layer and from those below."""

HEIGHT = {name: height for height, names in enumerate(LAYERS) for name in names}

ONLY_IN = {
    "ezdxf": {"read/dxf*.py", "write/dxf.py", "readback.py"},
    "svgpathtools": {"readback.py"},
    "lxml": {"read/*.py"},
    "tinycss2": {"read/*.py"},
    "cssselect2": {"read/*.py"},
    "manifold3d": {
        "read/sweep.py",
        "offset.py",
        "first_cells.py",
        "cells.py",
        "seam.py",
        "plan.py",
        "regions.py",
        "miss.py",
    },
    "rich": {"report/terminal.py", "report/board_terminal.py", "report/blank_terminal.py", "cli/*.py"},
    "msgspec": {"job*.py"},
    "tomllib": {"job.py"},
    "argparse": {"cli/*.py"},
    "fontTools": {"read/fonts.py"},
    "brotli": {"read/fonts.py"},
    "scipy": set(),
    "pyclipper": set(),
    "matplotlib": set(),
}
"""Libraries that live in a few files alone, so that each can be changed there."""

FILES_ONLY_IN = ("read/", "write/", "cli/", "readback.py", "readback_program.py", "report/page/resources.py")
"""The only places that touch files; the last reads what lies beside it in the package."""

FILE_CALLS = {"open", "read_text", "write_text", "read_bytes", "write_bytes", "mkdir", "unlink", "readfile", "saveas"}

MODULES = sorted(PACKAGE.rglob("*.py"))
LAYERED = [path for path in MODULES if path != PACKAGE / "__init__.py"]
"""The public names come from everywhere, when they are asked for."""


def name_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def part_of(path: Path) -> str:
    """Return the top module or package that a file belongs to."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports_of(path: Path) -> list[str]:
    """Return the dotted names that a file imports, wherever in it, apart from those for the type checker."""
    found: list[str] = []
    for node in _running(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative imports hide the direction"
            found += [
                f"{node.module}.{alias.name}" if node.module == "inlayfit" else str(node.module) for alias in node.names
            ]
    return found


def _running(node: ast.AST) -> list[ast.AST]:
    """Return all nodes below, without what stands under `if TYPE_CHECKING`."""
    nodes: list[ast.AST] = []
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and isinstance(child.test, ast.Name) and child.test.id == "TYPE_CHECKING":
            nodes += [inner for other in child.orelse for inner in (other, *_running(other))]
        else:
            nodes += [child, *_running(child)]
    return nodes


@pytest.mark.parametrize("path", LAYERED, ids=name_of)
def test_a_file_imports_only_from_its_own_layer_and_those_below(path: Path) -> None:
    own = HEIGHT[part_of(path)]
    above = [
        name
        for name in imports_of(path)
        if name.startswith("inlayfit.") and HEIGHT.get(name.split(".")[1], len(LAYERS)) > own
    ]
    if part_of(path) == "cli":  # through the public names, as anybody else
        above = [name for name in above if name.split(".")[1] not in {"fit", "check", "read_drawing", "__version__"}]
    assert not above


def test_no_module_imports_itself_in_a_circle() -> None:
    names = {path: ".".join(("inlayfit", *path.relative_to(PACKAGE).with_suffix("").parts)) for path in LAYERED}
    homes = {name.removesuffix(".__init__"): name for name in names.values()}
    graph = {name: {homes[other] for other in imports_of(path) if other in homes} for path, name in names.items()}
    assert len(list(TopologicalSorter(graph).static_order())) == len(graph)


@pytest.mark.parametrize("library", ONLY_IN)
def test_a_library_lives_only_where_it_belongs(library: str) -> None:
    strangers = [
        name_of(path)
        for path in MODULES
        if any(name.split(".")[0] == library for name in imports_of(path))
        and not any(path.match(f"inlayfit/{pattern}") for pattern in ONLY_IN[library])
    ]
    assert not strangers


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_only_the_edges_touch_files(path: Path) -> None:
    if name_of(path).startswith(FILES_ONLY_IN):
        return
    calls = [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)]
    names = {getattr(call.func, "attr", getattr(call.func, "id", "")) for call in calls}
    assert not names & FILE_CALLS


def test_no_module_takes_the_name_of_a_public_function() -> None:
    """`import inlayfit.fit` would put a module where the function stands."""
    assert not {"fit", "check", "read_drawing"} & {part_of(path) for path in MODULES}


def test_every_module_has_its_layer() -> None:
    assert {part_of(path) for path in MODULES} - {"__init__"} <= HEIGHT.keys()


def test_every_module_says_what_it_is_for() -> None:
    silent = [name_of(path) for path in MODULES if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))]
    assert not silent


def test_no_file_is_over_four_hundred_lines() -> None:
    long = {name_of(path): lines for path in MODULES if (lines := len(path.read_text("utf-8").splitlines())) > 400}
    assert not long


def test_the_test_sees_an_import_that_goes_up(tmp_path: Path) -> None:
    """The judge itself is tried: both kinds of import are seen, those for the type checker are not."""
    file = tmp_path / "offset.py"
    file.write_text(
        "TYPE_CHECKING = False\nif TYPE_CHECKING:\n    from inlayfit.cli import main\n"
        "from inlayfit import cli\ndef f():\n    import inlayfit.report.summary\n",
        encoding="utf-8",
    )
    assert imports_of(file) == ["inlayfit.cli", "inlayfit.report.summary"]

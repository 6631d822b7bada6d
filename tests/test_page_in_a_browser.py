"""The page as a maker meets it: in a browser, at the bench and on a phone, by hand and by keys, by day and by night."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import numpy as np
import pdfplumber
import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from inlayfit.cli import main
from inlayfit.cli.folder import document
from inlayfit.expected import Premises, expect
from inlayfit.recipe import Fit
from inlayfit.report.page import page_bytes
from inlayfit.sheet import Sheet
from inlayfit.units import MM_PER_INCH
from tests.browser import DESK, PHONE, Watch, axe_source, chromium
from tests.heavy import FINDINGS, heavy_fit, heavy_sheet
from tests.made_up import a_finding, a_fit, a_piece, a_pocket, square_sheet

DEMO = Path(__file__).resolve().parent.parent / "demo"
SIZES = pytest.mark.parametrize("size", [DESK, PHONE], ids=["bench", "phone"])
LIGHTS = pytest.mark.parametrize("light", ["light", "dark"])
NASTY = "<script>alert(1)</script>"
OPEN_S, FRAME_MS = 2.0, 34.0
"""What a heavy page may take to open, and a frame of it while it is moved: two of a screen that shows 60 a second."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as started:
        yield started


@pytest.fixture(scope="module")
def heron(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the page of the tour's emblem, which has a season."""
    out = tmp_path_factory.mktemp("heron") / "out"
    assert main(["fit", str(DEMO / "heron-emblem.toml"), "--out", str(out)]) == 0
    return out / "report.html"


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a page of two pieces, with findings of each kind; every name in it wants to be a script."""
    made = a_fit()
    kinds = [("loss", 0.9), ("warning", 0.2), ("warning", None), ("note", None)]
    spots = [(0.0, 0.0), (20.0, 20.0), (30.0, 5.0), (40.0, 15.0), (20.0, 0.0), (30.0, 15.0)]
    findings = tuple(
        a_finding(name=NASTY, message=f"{NASTY} {number}", remedy=NASTY, x=x, y=y, severity=severity, reach_mm=reach)
        for number, ((x, y), (severity, reach)) in enumerate(zip(spots, [*kinds, *kinds[:2]], strict=True))
    )
    squares = [region.polygon for region in made.drawing.regions]
    fit = a_fit(
        pieces=tuple(a_piece(f"{NASTY} {index}", square, index) for index, square in enumerate(squares)),
        pockets=tuple(a_pocket(f"{NASTY} {index}", square, index) for index, square in enumerate(squares)),
        findings=findings,
    )
    return written(fit, square_sheet(fit, title=NASTY), tmp_path_factory.mktemp("odd"), NASTY)


@pytest.fixture(scope="module")
def heavy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    fit = heavy_fit()
    sheet = heavy_sheet(fit)
    assert sum(ring.bulges.size for rings in sheet.layers.values() for ring in rings) >= 50_000
    return written(fit, sheet, tmp_path_factory.mktemp("heavy"), "garden")


def written(fit: Fit, sheet: Sheet, folder: Path, job: str) -> Path:
    expected = expect(fit, Premises())
    report = document(
        fit, [("report.html", "page")], NASTY if folder.name.startswith("odd") else "made", expected, None
    )
    (folder / "report.json").write_text(json.dumps(report), encoding="utf-8")
    (folder / "report.html").write_bytes(page_bytes(fit, report, sheet, expected))
    return folder / "report.html"


@pytest.fixture
def opened(browser: Browser) -> Iterator:
    """Give a function that opens a page, and see at the end that it complained of nothing and asked for nothing."""
    contexts: list[BrowserContext] = []
    watches: list[Watch] = []

    def open_page(path: Path, size: dict, **more) -> Page:
        context = browser.new_context(viewport=size, **{"reduced_motion": "reduce"} | more)
        context.set_default_timeout(10_000)
        contexts.append(context)
        page = context.new_page()
        watches.append(Watch(page, path))
        page.on("dialog", lambda dialog: (watches[-1].told.append(f"dialog: {dialog.message}"), dialog.dismiss()))
        page.goto(path.as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert [watch.told for watch in watches] == [[]] * len(watches)
    assert [watch.asked for watch in watches] == [[]] * len(watches)


FIGURE = "document.getElementById('figure')"
MATRIX = f"(({{a, d, e, f}}) => [a, d, e, f])({FIGURE}.getScreenCTM())"
SETTLED = f"""
() => new Promise((done) => {{
  const look = () => {FIGURE}.style.transform === "" ? done() : requestAnimationFrame(look);
  setTimeout(look, 40);
}})
"""


def report_of(path: Path) -> dict:
    return json.loads(path.with_name("report.json").read_text(encoding="utf-8"))


def settled(page: Page) -> None:
    """Wait until the drawing is painted where it was moved to."""
    page.evaluate(SETTLED)


def scale(page: Page) -> float:
    """Return px per mm as the browser sees it."""
    return page.evaluate(MATRIX)[0]


def on_screen(page: Page, *spots: tuple[float, float]) -> list[tuple[float, float]]:
    """Return where spots of the drawing (mm, y up) are on the screen, by the browser's own matrix."""
    a, d, e, f = page.evaluate(MATRIX)
    return [(a * x + e, -d * y + f) for x, y in spots]


def under(page: Page, left: float, top: float) -> tuple[float, float]:
    """Return which spot of the drawing lies under one of the screen."""
    a, d, e, f = page.evaluate(MATRIX)
    return (left - e) / a, -(top - f) / d


def stage_box(page: Page) -> dict:
    box = page.locator("#stage").bounding_box()
    assert box is not None
    return box


def is_on_stage(page: Page, x: float, y: float) -> bool:
    ((left, top),) = on_screen(page, (x, y))
    box = stage_box(page)
    return box["x"] <= left <= box["x"] + box["width"] and box["y"] <= top <= box["y"] + box["height"]


# -- it opens, and asks for nothing ---------------------------------------------------------------------------------


@SIZES
def test_the_page_opens_without_a_word_and_without_a_request(heron: Path, size: dict, opened) -> None:
    page = opened(heron, size)
    settled(page)
    assert page.locator("#figure").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"], "nothing sticks out at the side"
    report = report_of(heron)
    assert is_on_stage(page, 0, 0)
    assert is_on_stage(page, *report["size_mm"])


@SIZES
@LIGHTS
def test_no_rule_of_accessibility_is_broken(heron: Path, size: dict, light: str, opened) -> None:
    """Source of the rules: axe-core, which tests against WCAG 2.2 A and AA and common practice."""
    page = opened(heron, size, color_scheme=light)
    settled(page)
    page.locator(".lot a").first.click()
    page.evaluate("document.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
    page.evaluate(axe_source())
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert len(found["passes"]) > 20
    assert [(broken["id"], [node["html"] for node in broken["nodes"]]) for broken in found["violations"]] == []


def test_day_and_night_can_be_chosen(odd: Path, opened) -> None:
    page = opened(odd, DESK, color_scheme="light")
    paper = "getComputedStyle(document.body).backgroundColor"
    day = page.evaluate(paper)
    page.locator("#light").select_option("night")
    night = page.evaluate(paper)
    page.locator("#light").select_option("day")
    assert page.evaluate(paper) == day != night


# -- switches and findings ------------------------------------------------------------------------------------------


def is_shown(page: Page, selector: str) -> bool:
    return page.evaluate(f"getComputedStyle(document.querySelector('{selector}')).display !== 'none'")


@SIZES
def test_every_switch_works_by_hand_and_by_key(odd: Path, size: dict, opened) -> None:
    page = opened(odd, size)
    keys = [box.get_attribute("id").removeprefix("show-") for box in page.locator(".switches input").all()]
    assert keys == ["drawing", "pocket", "piece", "paths", "seam", "findings", "names"]
    for key in keys:
        box = page.locator(f"#show-{key}")
        layer = "#GUIDE text" if key == "names" else f".layer-{key}"
        first = is_shown(page, layer)
        assert first == box.is_checked() == (key != "paths")
        page.locator(f"label:has(#show-{key})").click()
        assert is_shown(page, layer) != first
        box.focus()
        page.keyboard.press("Space")
        assert is_shown(page, layer) == first


@SIZES
def test_every_finding_works_by_hand_and_by_key(odd: Path, size: dict, opened) -> None:
    page = opened(odd, size)
    page.evaluate("document.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
    links = page.locator(".lot a").all()
    assert len(links) == 6
    for link in links:
        for act in (link.click, lambda link=link: link.press("Enter")):
            page.locator("#zoom-all").dispatch_event("click")
            settled(page)
            before = scale(page)
            act()
            settled(page)
            x, y = (float(link.get_attribute(f"data-{axis}")) for axis in "xy")
            assert is_on_stage(page, x, y)
            assert scale(page) > 1.5 * before
            assert page.locator("#card").is_visible()
            assert link.inner_text() in page.locator("#card-text").inner_text()
            assert link.get_attribute("aria-current") == "true"
            box = stage_box(page)
            assert box["y"] < size["height"] / 2, "the drawing is in sight"
            page.locator("#card-close").click()
            assert not page.locator("#card").is_visible()


def test_pins_and_keys_go_through_the_findings(odd: Path, opened) -> None:
    page = opened(odd, DESK)
    settled(page)
    page.locator("#mark-3 .pin").click()
    assert page.locator("#place-3").get_attribute("aria-current") == "true"
    page.locator("#stage").focus()
    page.keyboard.press("n")
    assert page.locator("#place-4").get_attribute("aria-current") == "true"
    page.keyboard.press("p")
    page.keyboard.press("p")
    assert page.locator("#place-2").get_attribute("aria-current") == "true"
    page.locator("#card-next").click()
    page.locator("#card-list").click()
    assert page.evaluate("document.activeElement.id") == "place-3"
    page.locator("#stage").press("Escape")
    assert not page.locator("#card").is_visible()
    assert page.locator("[aria-current]").count() == 0


# -- the view -------------------------------------------------------------------------------------------------------


def test_the_view_follows_wheel_drag_keys_and_buttons(odd: Path, opened) -> None:
    page = opened(odd, DESK)
    settled(page)
    whole, box = scale(page), stage_box(page)
    x, y = box["x"] + box["width"] / 3, box["y"] + box["height"] / 2
    spot = under(page, x, y)
    page.mouse.move(x, y)
    page.mouse.wheel(0, -300)
    settled(page)
    assert scale(page) > 1.5 * whole
    assert on_screen(page, spot)[0] == pytest.approx((x, y), abs=1), "what lies under the pointer stays there"
    page.mouse.down()
    page.mouse.move(x + 60, y + 25, steps=5)
    page.mouse.up()
    settled(page)
    assert on_screen(page, spot)[0] == pytest.approx((x + 60, y + 25), abs=1)
    page.locator("#stage").focus()
    page.keyboard.press("ArrowLeft")
    settled(page)
    assert on_screen(page, spot)[0] == pytest.approx((x + 120, y + 25), abs=1)
    for keys, buttons in (("+", "#zoom-in"), ("-", "#zoom-out")):
        before = scale(page)
        page.locator("#stage").press(keys)
        settled(page)
        by_key = scale(page) / before
        page.locator(buttons).click()
        settled(page)
        assert scale(page) / before == pytest.approx(by_key**2, rel=1e-3)
        assert (by_key > 1) == (keys == "+")
    page.locator("#stage").press("0")
    settled(page)
    assert scale(page) == pytest.approx(whole, rel=1e-3)


def test_two_fingers_zoom(odd: Path, opened) -> None:
    page = opened(odd, PHONE, has_touch=True)
    settled(page)
    before, box = scale(page), stage_box(page)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    hand = page.context.new_cdp_session(page)

    def touch(kind: str, *spots: tuple[float, float]) -> None:
        points = [{"x": at[0], "y": at[1], "id": number} for number, at in enumerate(spots)]
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", (x - 30, y), (x + 30, y))
    for spread in range(35, 95, 5):
        touch("touchMove", (x - spread, y), (x + spread, y))
    touch("touchEnd")
    settled(page)
    assert scale(page) / before == pytest.approx(3, rel=0.2)


# -- the gap along the seam -----------------------------------------------------------------------------------------

GAP = re.compile(r"(-?\d+\.\d{4}) mm \((-?\d+\.\d{2}) thou\)")


def told_gap(text: str) -> float:
    """Return the gap in mm that a line tells; its thousandths of an inch must be the same."""
    found = GAP.search(text)
    assert found, text
    assert float(found[2]) == pytest.approx(float(found[1]) / MM_PER_INCH * 1000, abs=0.005 + 1e-9)
    return float(found[1])


def test_the_value_under_the_pointer_is_that_of_the_report(heron: Path, opened) -> None:
    page = opened(heron, DESK)
    page.locator("#place-1").click()
    page.locator("#card-close").click()
    settled(page)
    samples = [(*sample, piece["name"]) for piece in report_of(heron)["pieces"] for sample in piece["gap"]["along"]]
    spots = np.array(on_screen(page, *(sample[:2] for sample in samples)))
    box = stage_box(page)
    corner, size = np.array((box["x"], box["y"])), np.array((box["width"], box["height"]))
    inside = np.flatnonzero(np.all((spots > corner + 5) & (spots < corner + size - 90), axis=1))
    tried = 0
    for index in inside[::3]:
        left, top = np.round(spots[index])
        page.mouse.move(left, top)
        told = page.locator("#tip").inner_text()
        near = np.flatnonzero(np.hypot(*(spots - (left, top)).T) < 1.5)
        assert (told_gap(told), told.partition(":")[0]) in [samples[other][2:] for other in near]
        tried += 1
    assert tried > 3


@SIZES
def test_the_seam_can_be_walked_with_the_keys(heron: Path, size: dict, opened) -> None:
    page = opened(heron, size)
    pieces = report_of(heron)["pieces"]
    page.locator("#walk-piece").select_option("2")
    page.locator("#walk-place").focus()
    for step in range(1, 6):
        page.keyboard.press("ArrowRight")
        x, y, gap = pieces[2]["gap"]["along"][step]
        told = page.locator("#readout").inner_text()
        assert told.startswith(f"{pieces[2]['name']}: ")
        assert told.endswith(f"at {x:.3f}, {y:.3f}")
        assert told_gap(told) == gap
        assert f"{gap:.4f} mm" in page.locator("#walk-place").get_attribute("aria-valuetext")
    page.locator("#stage").press(".")
    assert told_gap(page.locator("#readout").inner_text()) == pieces[2]["gap"]["along"][6][2]
    page.locator("#stage").press(",")
    assert told_gap(page.locator("#readout").inner_text()) == pieces[2]["gap"]["along"][5][2]


# -- much to show ---------------------------------------------------------------------------------------------------

RECORD = """
() => {
  window.seen = [];
  const see = (now) => { seen.push(now); window.seeing = requestAnimationFrame(see); };
  requestAnimationFrame(see);
}
"""


@SIZES
def test_a_heavy_design_opens_soon_and_moves_smoothly(heavy: Path, size: dict, opened) -> None:
    page = opened(heavy, size)
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    assert page.locator(".lot a").count() == FINDINGS
    assert page.evaluate("performance.now()") / 1000 < OPEN_S
    settled(page)
    box = stage_box(page)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.wait_for_timeout(300)
    page.mouse.move(x, y)
    page.mouse.down()
    page.evaluate(RECORD)
    for step in range(60):
        page.mouse.move(x + step, y + step / 2)
    frames = page.evaluate("(cancelAnimationFrame(seeing), seen)")
    page.mouse.up()
    lengths = np.diff(frames)
    assert len(lengths) > 10
    assert np.median(lengths) <= FRAME_MS, "most frames are in time"
    assert np.percentile(lengths, 90) <= 3 * FRAME_MS, "and hardly one is missed"


# -- names, and no script -------------------------------------------------------------------------------------------


def test_a_name_that_wants_to_be_a_script_stays_a_name(odd: Path, opened) -> None:
    page = opened(odd, DESK)
    settled(page)
    assert page.locator("h1").inner_text() == NASTY
    assert page.title().startswith(NASTY)
    assert page.locator("#walk-piece option").first.text_content() == f"{NASTY} 0"
    assert page.locator("#pieces tbody th").first.inner_text() == f"{NASTY} 0"
    x, y, _ = report_of(odd)["pieces"][0]["gap"]["along"][9]
    page.mouse.move(*on_screen(page, (x, y))[0])
    assert page.locator("#tip").inner_text().startswith(f"{NASTY} 0: ")
    page.locator("#place-1").click()
    assert NASTY in page.locator("#card-text").inner_text()
    assert page.locator("script").count() == 2


def test_without_script_the_page_still_shows_all_of_it(heron: Path, browser: Browser) -> None:
    context = browser.new_context(viewport=DESK, java_script_enabled=False)
    page = context.new_page()
    page.goto(heron.as_uri())
    report = report_of(heron)
    box = page.locator("#figure").bounding_box()
    assert box is not None
    assert box["width"] > 500
    assert page.locator("#pieces tbody tr").count() == len(report["pieces"])
    assert page.locator("#place-1").is_visible()
    assert not page.locator("#zoom-in").is_visible(), "what would do nothing is not shown"
    assert page.locator(".layer-seam").is_visible()
    page.locator("label:has(#show-seam)").click()
    assert not page.locator(".layer-seam").is_visible()
    page.locator("#place-1").click()
    assert page.url.endswith("#mark-1")
    context.close()


# -- on paper -------------------------------------------------------------------------------------------------------

POINT_MM = MM_PER_INCH / 72


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_bars_and_the_pattern_have_their_true_size_on_paper(odd: Path, paper: str, opened) -> None:
    page = opened(odd, DESK)
    page.locator("#place-1").click()  # the view that was chosen is not what is printed
    with pdfplumber.open(BytesIO(page.pdf(format=paper, print_background=True))) as printed:
        patterns = [sheet for sheet in printed.pages if "true size" in (sheet.extract_text() or "")]
        words = "\n".join(sheet.extract_text() for sheet in patterns)
        drawn = [thing for sheet in patterns for thing in (*sheet.lines, *sheet.curves, *sheet.rects)]
    assert words.count("true size") == words.count("print again at 100 %") == 2, "one of the pieces, one of the pockets"
    lengths = np.array([abs(thing["x1"] - thing["x0"]) * POINT_MM for thing in drawn])
    for bar in (50.0, 2 * MM_PER_INCH):
        assert np.count_nonzero(np.abs(lengths - bar) < 0.1) == 2, "each pattern has its bars"
    for square in (20.0, 10.0):
        assert np.abs(lengths - square).min() < 0.05, "a pocket"
        assert np.abs(lengths - (square - 0.1)).min() < 0.05, "its piece, with a gap on each side"

"""The desk's sheet in a real browser, by itself: a store that keeps its plan in memory stands where the program would."""

import http.server
import json
import random
import threading
from contextlib import ExitStack
from importlib import resources
from pathlib import Path

import pytest

pytest.importorskip("playwright")

from playwright.sync_api import expect

from tests.browsing import in_a_browser, window

pytestmark = in_a_browser
expect.set_options(timeout=20_000)
STAND = Path(__file__).parent / "sheet"
SIX = [(0, 0, 5, 3), (5, 0, 8, 4), (8, 0, 12, 3), (0, 3, 3, 7), (3, 4, 8, 7), (8, 3, 10, 7)]
SIX_ROWS = ["AAAAABBBCCCC"] * 3 + ["DDD..BBBFF.."] + ["DDDEEEEEFF.."] * 3
DOORS = [(5, 1.5), (1.5, 3), (6.5, 4), (8, 0.5), (3, 5.5), (8, 5.5)]


class _Files(http.server.SimpleHTTPRequestHandler):
    def guess_type(self, path):
        return {".js": "text/javascript", ".css": "text/css"}.get(Path(path).suffix, "text/html")

    def translate_path(self, path):
        path = path.split("?")[0]
        if path.startswith("/stand/"):
            return str(STAND / path.removeprefix("/stand/"))
        return str(resources.files("tilegen.desk") / "page" / path.lstrip("/"))

    def log_message(self, *_):
        pass


@pytest.fixture(scope="module")
def port():
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Files)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield server.server_address[1]
    server.shutdown()


@pytest.fixture
def opened(browser, port):
    """Opens the sheet on a drawing; the page's own errors fail the test."""
    windows, errors = ExitStack(), []

    def opener(rows=(".",), *, size=(1200, 800), touch=False, scale=None, **more):
        viewport = {"width": size[0], "height": size[1]}
        context = windows.enter_context(window(browser, viewport=viewport, has_touch=touch))
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.add_init_script(f"window.given = {json.dumps({'rows': list(rows), 'more': more})}")
        page.goto(f"http://127.0.0.1:{port}/stand/stand.html")
        page.locator("html[data-ready=yes]").wait_for(state="attached")
        page.evaluate(
            "addEventListener('pointerdown', () => { window.presses = (window.presses || 0) + 1; }, { capture: true })"
        )
        page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
        if scale:
            page.evaluate("(scale) => sheet.look({ x: -1, y: -1, scale })", scale)
        return page

    with windows:
        yield opener
    assert not errors


def screen(page, x, y):
    return page.evaluate("([x, y]) => sheet.screen(x, y)", [x, y])


def click(page, x, y):
    page.mouse.click(*screen(page, x, y))


def drag(page, start, end, *, lift=True):
    page.mouse.move(*screen(page, *start))
    page.mouse.down()
    page.mouse.move(*screen(page, *end), steps=4)
    if lift:
        page.mouse.up()


def done(page, number):
    """Waits until so many gestures have reached the store; what they were."""
    page.wait_for_function("(n) => store.log.length >= n && !sheet.pending.length", arg=number)
    return page.evaluate("store.log.map((one) => one.edits)")


def plan(page):
    return page.evaluate("store.plan")


def finger(session, kind, *points):
    """Real touches: points in pixels, none for the lift."""
    touches = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(points)]
    session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches})


def test_six_rooms_six_doors_a_round_room_and_a_hall_in_sixteen_presses(opened):
    page = opened()
    for west, north, east, south in SIX:
        drag(page, (west, north), (east, south))
    done(page, 6)
    for place in DOORS:
        click(page, *place)
    page.click("[data-tool=round]")
    click(page, 13, 5.5)
    page.click("[data-tool=hall]")
    drag(page, (9, 5), (13, 5.5))
    done(page, 14)
    drawn = plan(page)
    assert drawn["rows"] == SIX_ROWS
    assert len(drawn["ways"]) == 6
    assert [shape["form"] for shape in drawn["shapes"]] == ["circle", "hall"]
    assert page.evaluate("window.presses") <= 16
    expect(page.locator("[data-tool=room]")).to_have_attribute("aria-pressed", "true")


def test_the_ghost_room_of_an_empty_sheet_is_made_by_one_click(opened):
    page = opened([".........."] * 7)
    page.mouse.click(600, 388)
    assert len(done(page, 1)[0][0]["cells"]) == 12
    assert page.evaluate("sheet.ghostRoom") is None


@pytest.mark.parametrize("scale", [24, 56])
def test_drags_aimed_at_corners_draw_what_they_aimed_at(opened, scale):
    page, pick = opened(scale=scale), random.Random(scale)
    page.evaluate("void (store.edit = async (edits) => { store.log.push({ edits }); return { ok: true }; })")
    for number in range(12):
        west, north = pick.randint(0, 3), pick.randint(0, 3)
        east, south = west + pick.randint(1, 6), north + pick.randint(1, 5)
        start, end = screen(page, west, north), screen(page, east, south)
        page.mouse.move(start[0] + pick.uniform(-8, 8), start[1] + pick.uniform(-8, 8))
        page.mouse.down()
        page.mouse.move(end[0] + pick.uniform(-8, 8), end[1] + pick.uniform(-8, 8), steps=2)
        page.mouse.up()
        (edit,) = done(page, number + 1)[number]
        expected = [[c + 1, r + 1] for r in range(north, south) for c in range(west, east)]
        assert edit["cells"] == expected


def test_every_hover_is_said_and_shown_before_it_is_done(opened):
    page = opened(SIX_ROWS)
    page.mouse.move(*screen(page, 5, 1.5))
    expect(page.locator("#sheet-hint")).to_contain_text("Click for a doorway between")
    assert page.evaluate("sheet.ghost.marks[0].form") == "door"
    page.mouse.move(*screen(page, 2.5, 1))
    expect(page.locator("#sheet-hint")).to_contain_text("Click to select")
    page.mouse.move(*screen(page, 13, 5))
    expect(page.locator("#sheet-hint")).to_have_text("Drag to draw a room.")
    page.click("[data-tool=stair]")
    page.mouse.move(*screen(page, 1.5, 4.5))
    page.keyboard.press("r")
    assert page.evaluate("sheet.ghost.edits[0].values.side") == "east"


def test_a_room_is_selected_named_moved_copied_and_deleted(opened):
    page = opened([*SIX_ROWS, "............"])
    click(page, 1.5, 1)
    click(page, 1.5, 1)
    page.keyboard.type("Lamp court")
    page.keyboard.press("Enter")
    assert done(page, 1)[0] == [{"do": "title", "room": "A", "title": "Lamp court"}]
    drag(page, (9, 1.4), (13, 5.4))
    assert done(page, 2)[1] == [{"do": "move", "room": "C", "by": [4, 4]}]
    drag(page, (1.5, 1.4), (3.5, 1.4))
    expect(page.locator("#sheet-hint")).not_to_contain_text("in the way")
    page.wait_for_timeout(50)
    assert len(done(page, 2)) == 2, "onto another room nothing is moved"
    page.keyboard.down("Alt")
    drag(page, (1.5, 1.4), (1.5, 9.4))
    page.keyboard.up("Alt")
    assert done(page, 3)[2][0]["do"] == "copy"
    page.keyboard.press("Delete")
    assert done(page, 4)[3] == [{"do": "delete", "room": "A"}]


def test_squares_are_added_and_taken_by_keys_and_by_the_chip(opened):
    page = opened(SIX_ROWS)
    click(page, 9, 4.4)
    page.keyboard.down("Shift")
    drag(page, (10.1, 3.1), (11.9, 3.9))
    page.keyboard.up("Shift")
    assert done(page, 1)[0][0] == {"do": "paint", "cells": [[11, 4], [12, 4]], "room": "F"}
    page.locator("[data-deed='Take squares']").click()
    drag(page, (10.1, 3.1), (11.9, 3.9))
    assert done(page, 2)[1][0] == {"do": "paint", "cells": [[11, 4], [12, 4]], "room": "."}
    expect(page.locator("[data-deed='Take squares']")).to_have_attribute("aria-pressed", "false")


def test_a_finger_presses_a_wall_slides_and_lifts(opened):
    page = opened(SIX_ROWS, size=(390, 800), touch=True)
    session = page.context.new_cdp_session(page)
    finger(session, "touchStart", screen(page, 6.5, 4))
    assert page.evaluate("sheet.ghost.marks[0].form") == "door"
    finger(session, "touchMove", screen(page, 7, 4.1))
    finger(session, "touchMove", screen(page, 7.5, 4.1))
    finger(session, "touchEnd")
    assert done(page, 1)[0] == [{"do": "way", "cell": [8, 5], "side": "north", "kind": "doorway"}]


def test_a_second_finger_in_mid_stroke_drops_it(opened):
    page = opened(SIX_ROWS, size=(390, 800), touch=True)
    session = page.context.new_cdp_session(page)
    first, second = screen(page, 0.5, 10), screen(page, 4, 12)
    finger(session, "touchStart", first)
    finger(session, "touchMove", (first[0] + 60, first[1] + 40))
    assert page.evaluate("sheet.ghost.edits.length") == 1
    finger(session, "touchStart", (first[0] + 60, first[1] + 40), second)
    before = page.evaluate("sheet.eye")
    finger(session, "touchMove", (first[0] + 20, first[1] + 10), (second[0] + 30, second[1] + 40))
    page.wait_for_function("(before) => sheet.eye.scale !== before.scale", arg=before)
    finger(session, "touchEnd")
    page.wait_for_timeout(50)
    assert page.evaluate("store.log.length") == 0


def test_pulling_the_sheet_over_rooms_makes_no_edit(opened):
    page = opened(SIX_ROWS)
    for button, start in (("middle", (1.5, 1.4)), ("middle", (5, 1.5)), ("middle", (11, 5))):
        before = page.evaluate("sheet.eye.x")
        page.mouse.move(*screen(page, *start))
        page.mouse.down(button=button)
        page.mouse.move(700, 300, steps=5)
        page.mouse.up(button=button)
        assert page.evaluate("sheet.eye.x") != before
        page.keyboard.press("0")
    page.focus("#sheet")
    page.keyboard.down(" ")
    drag(page, (1.5, 1.4), (4, 4))
    page.keyboard.up(" ")
    page.mouse.wheel(0, 240)
    page.wait_for_timeout(50)
    assert page.evaluate("store.log.length") == 0


def test_escape_goes_back_from_everywhere(opened):
    page = opened(SIX_ROWS)
    drag(page, (11, 4), (13, 6), lift=False)
    page.keyboard.press("Escape")
    page.mouse.up()
    page.click("[data-tool=pit]")
    page.keyboard.press("Escape")
    expect(page.locator("[data-tool=room]")).to_have_attribute("aria-pressed", "true")
    click(page, 1.5, 1)
    click(page, 1.5, 1)
    page.keyboard.type("Nobody")
    page.keyboard.press("Escape")
    expect(page.locator(".sheet-naming")).to_be_hidden()
    page.locator("[data-deed='Copy']").focus()
    page.keyboard.press("Escape")
    expect(page.locator("#sheet")).to_be_focused()
    assert "by-keys" in page.locator("#sheet").get_attribute("class")
    page.keyboard.press("Escape")
    expect(page.locator(".sheet-chip")).to_be_hidden()
    assert page.evaluate("store.log.length") == 0


def test_two_rooms_and_a_door_by_keys(opened):
    page = opened()
    page.focus("#sheet")
    first = ["Enter", "ArrowRight", "ArrowRight", "ArrowDown", "Enter"]
    keys = [*first, "ArrowRight", "ArrowRight", "Enter", "ArrowRight", "ArrowUp", "Enter", "ArrowLeft", "d"]
    assert len(keys) <= 19
    for key in keys:
        page.keyboard.press(key)
    assert [one[0]["do"] for one in done(page, 3)] == ["paint", "paint", "way"]
    drawn = plan(page)
    assert drawn["rows"] == ["AAABB", "AAABB"]
    assert drawn["ways"][0]["spot"] == [3, 0.5]
    page.keyboard.press(".")
    expect(page.locator("[aria-live]").last).to_contain_text("1 of 3")
    page.keyboard.press("Tab")
    expect(page.locator("#sheet")).not_to_be_focused()


def test_what_was_drawn_before_an_answer_came_stays_where_it_was_drawn(opened):
    page = opened(["AA", "AA"])
    page.evaluate("store.wait = 300")
    start = screen(page, -3, 0)
    drag(page, (-3, 0), (-1, 2))
    drag(page, (4, 0), (6, 2))
    assert page.evaluate("[...sheet.scene.rooms.keys()].sort()") == ["A", "B", "C"]
    page.wait_for_function("!sheet.pending.length")
    assert screen(page, 0, 0) == pytest.approx(start, abs=0.01)
    assert len(page.evaluate("[...sheet.scene.rooms.keys()]")) == 3


def test_a_refusal_takes_back_only_its_own_edit_and_says_why(opened):
    page = opened(["AA", "AA"])
    drag(page, (3, 0), (5, 2))
    done(page, 1)
    page.evaluate("store.refuse = { text: 'the plan is full', place: '', cure: 'Draw less' }")
    drag(page, (6, 0), (8, 2))
    expect(page.locator("#sheet-hint")).to_have_text("The plan is full. Draw less.")
    assert page.evaluate("[...sheet.scene.rooms.keys()]") == ["A", "B"]


def test_things_are_carried_off_the_shelf(opened):
    page = opened(SIX_ROWS)
    box = page.locator("[data-tool=well]").bounding_box()
    page.mouse.move(box["x"] + 20, box["y"] + 20)
    page.mouse.down()
    page.mouse.move(*screen(page, 1.5, 5.5), steps=6)
    assert page.evaluate("sheet.ghost.marks[0].form") == "stamp"
    page.mouse.up()
    assert done(page, 1)[0] == [{"do": "feature", "kind": "well", "cell": [2, 6]}]
    expect(page.locator("[data-tool=room]")).to_have_attribute("aria-pressed", "true")


def test_the_chip_never_takes_the_click_on_another_room(opened):
    page = opened(SIX_ROWS)
    click(page, 6.5, 2)
    page.locator(".sheet-chip").wait_for()
    for letter, place in {"A": (1.4, 0.7), "C": (10.5, 2.2), "D": (1.5, 6.4), "E": (5, 6.4), "F": (9.4, 6.4)}.items():
        page.mouse.move(*screen(page, *place), steps=3)
        page.mouse.down()
        page.mouse.up()
        assert page.evaluate("sheet.selection") == [{"what": "room", "letter": letter}]


def test_pins_come_with_the_first_door_apart_from_each_other_and_with_their_cure(opened):
    pins = [
        {
            "x": 1 + n % 9,
            "y": 1 + n // 9,
            "text": "Nobody can reach this room",
            "cure": "Add a door here",
            "ghost": None,
        }
        for n in range(45)
    ]
    cure = {"do": "way", "cell": [1, 1], "side": "east", "kind": "doorway"}
    page = opened(SIX_ROWS)
    page.evaluate("(pins) => sheet.pins(pins)", [{**pin, "edits": [cure]} for pin in pins])
    assert page.evaluate("sheet.shownPins().length") == 0
    click(page, 5, 1.5)
    done(page, 1)
    shown = page.evaluate("sheet.shownPins().map((pin) => sheet.screen(pin.x, pin.y))")
    assert len(shown) > 3
    assert all(abs(complex(*a) - complex(*b)) >= 109.9 for a in shown for b in shown if a is not b)
    page.mouse.click(shown[0][0], shown[0][1] - 12)
    expect(page.locator(".sheet-bubble")).to_contain_text("Nobody can reach this room.")
    page.keyboard.press("Escape")
    expect(page.locator(".sheet-bubble")).to_be_hidden()
    page.mouse.click(shown[0][0], shown[0][1] - 12)
    page.locator(".sheet-bubble .main").click()
    assert done(page, 2)[1] == [cure]


def test_a_picture_lies_underneath_and_a_point_can_be_picked_on_it(opened):
    page = opened(SIX_ROWS)
    page.evaluate(
        """() => { const image = document.createElement('canvas'); image.width = 200; image.height = 100;
        image.getContext('2d').fillStyle = '#ff0000'; image.getContext('2d').fillRect(0, 0, 200, 100);
        sheet.underlay({ image, corners: [[12.5, 4], [16.5, 6]], fade: 0 }); }"""
    )
    page.evaluate("void sheet.pick('Press a corner.').then((at) => { window.picked = at; })")
    click(page, 13, 4.5)
    assert page.evaluate("window.picked") == pytest.approx([13, 4.5], abs=0.03)
    assert page.evaluate("store.log.length") == 0
    page.mouse.move(5, 5)
    page.evaluate("sheet.draw(true)")
    colour = page.evaluate(
        "([x, y]) => [...document.querySelector('#sheet canvas').getContext('2d').getImageData(x, y, 1, 1).data]",
        [round(v) for v in screen(page, 13.3, 4.7)],
    )
    assert colour[0] > 240
    assert colour[1] < 20


def test_nothing_that_random_hands_do_breaks_the_page(opened):
    page, pick = opened(SIX_ROWS), random.Random(5)
    tools = ["room", "round", "hall", "bent", "cave", "wall", "stair", "dais", "pillar", "pit", "well"]
    keys = ["Escape", "Delete", "Enter", "ArrowLeft", "ArrowDown", "d", "r", ".", ",", "F2", "Control+d", "+", "-", "0"]
    for _ in range(80):
        choice = pick.random()
        place = pick.uniform(-1, 13), pick.uniform(-1, 8)
        if choice < 0.4:
            drag(page, place, (pick.uniform(-1, 13), pick.uniform(-1, 8)))
        elif choice < 0.65:
            click(page, *place)
        elif choice < 0.8:
            page.locator(f"[data-tool={pick.choice(tools)}]").dispatch_event("click")
        else:
            page.keyboard.press(pick.choice(keys))
    page.keyboard.press("Escape")
    page.wait_for_function("!sheet.hand.busy")

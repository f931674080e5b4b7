"""The desk in a real browser: drawn by mouse, finger and keyboard, kept over a reload, answered, looked at, taken."""

import io
import json
import random
import threading
import time
import tomllib
import zipfile

import numpy as np
import pytest

pytest.importorskip("playwright")
pytest.importorskip("starlette")
uvicorn = pytest.importorskip("uvicorn")

from PIL import Image
from playwright.sync_api import expect

from tests.browsing import in_a_browser, launched, window
from tilegen.cli.desk import listen
from tilegen.desk.app import make_app
from tilegen.desk.keeping import PlanOnDisk, Steps
from tilegen.desk.talk import open_text
from tilegen.fit.figures import figures_on
from tilegen.plans.sight import visible_from

pytestmark = in_a_browser
# On a machine that is busy a page takes longer than the usual 5 s.
expect.set_options(timeout=20_000)
# Drawing solids in software takes as much of the processor as all else.
SOLID_FLAGS = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]


class Server:
    """A desk on a port of its own, in a thread; can be stopped and started again on the same port."""

    def __init__(self, port=0, steps=None, disk=None):
        listening = listen(port)
        self.port = listening.getsockname()[1]
        self.steps = steps or Steps()
        self.server = uvicorn.Server(uvicorn.Config(make_app(self.port, self.steps, disk), log_level="error"))
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [listening]}, daemon=True)
        self.thread.start()
        while not self.server.started:
            assert self.thread.is_alive()
            time.sleep(0.01)

    def stop(self):
        self.server.should_exit = True
        self.server.force_exit = True
        self.thread.join(10)


@pytest.fixture(scope="module")
def server():
    found = Server()
    yield found
    found.stop()


@pytest.fixture
def context(browser):
    with window(browser, viewport={"width": 1200, "height": 800}, accept_downloads=True) as found:
        yield found


def opened(context, server):
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{server.port}/")
    ready(page)
    return page


def ready(page):
    page.locator("html[data-ready=yes]").wait_for(state="attached")


def answered(page):
    page.locator("html[data-pending='0']").wait_for(state="attached")


def settled(page):
    """The plan's text, as the program keeps it, once nothing waits to be answered."""
    answered(page)
    return page.evaluate("async () => (await (await import('/desk.js')).desk.text()).text")


def screen(page, x, y):
    """Where a point of the drawing, in cells, is on the screen."""
    return page.evaluate("async ([x, y]) => (await import('/desk.js')).sheet.screen(x, y)", [x, y])


def drag(page, here, there):
    page.mouse.move(*screen(page, *here))
    page.mouse.down()
    page.mouse.move(*screen(page, *there), steps=4)
    page.mouse.up()
    answered(page)


def press(page, x, y):
    page.mouse.move(*screen(page, x, y))
    page.mouse.down()
    page.mouse.up()
    answered(page)


def example(page, name="bell-foundry"):
    page.click("#open-plans")
    page.locator(f"#examples [data-plan='{name}']").click()
    answered(page)


def fresh(page):
    page.click("#open-plans")
    page.click("#fresh")
    answered(page)


def total(page, words):
    return page.locator(f"[data-total='{words}'] dd")


def undo(page, steps=1):
    for _ in range(steps):
        page.click("#undo")
        answered(page)


def totals(page):
    found = page.locator("html")
    return int(found.get_attribute("data-tiles")), int(found.get_attribute("data-kinds"))


def letters(text):
    rows = [row.replace(" ", "") for row in tomllib.loads(text)["drawing"].split("\n") if row]
    return sorted(sum(row.count(letter) for row in rows) for letter in set("".join(rows)) - {"."})


# ---- drawing


def two_rooms(page):
    """The ghost room, a room east of it drawn by dragging, a doorway between them; the text."""
    press(page, 1.5, 1.5)
    drag(page, (4.1, 0.1), (6.9, 2.9))
    press(page, 4, 1.5)
    return settled(page)


def test_two_rooms_and_a_doorway_in_three_presses(context, server):
    page = opened(context, server)
    for hidden in ("#totals", ".view", "#stand", "#save"):
        expect(page.locator(hidden)).to_be_hidden()
    text = two_rooms(page)
    kit = open_text(text).kit
    assert letters(text) == [9, 12]
    assert [way["kind"] for way in tomllib.loads(text)["way"]] == ["doorway"]
    assert totals(page) == (kit.tiles, len(kit.types))
    expect(total(page, "tiles")).to_have_text(str(kit.tiles))
    expect(total(page, "types")).to_have_text(str(len(kit.types)))
    page.reload()
    ready(page)
    assert settled(page) == text
    undo(page)
    assert "[[way]]" not in settled(page)
    page.click("#redo")
    assert settled(page) == text
    undo(page, 3)
    expect(page.locator("body.empty")).to_be_attached()
    expect(page.locator("#undo")).to_be_disabled()


def test_two_rooms_and_a_doorway_by_keyboard(context, server):
    page = opened(context, server)
    page.locator("#sheet").focus()
    for key in ["Enter", "ArrowRight", "ArrowRight", "ArrowDown", "Enter"]:
        page.keyboard.press(key)
    answered(page)
    for key in ["ArrowRight", "ArrowRight", "Enter", "ArrowRight", "ArrowUp", "Enter", "ArrowLeft", "d"]:
        page.keyboard.press(key)
    text = settled(page)
    assert len(letters(text)) == 2
    kit = open_text(text).kit
    assert totals(page) == (kit.tiles, len(kit.types))
    page.keyboard.press("Control+z")
    answered(page)
    assert settled(page) != text


def test_two_tabs_keep_two_plans(context, server):
    first = opened(context, server)
    example(first)
    second = opened(context, server)
    fresh(second)
    press(second, 1.5, 1.5)
    second.reload()
    first.reload()
    ready(first)
    assert "bell foundry" in settled(first)
    ready(second)
    assert letters(settled(second)) == [12]


def test_work_goes_on_when_the_program_comes_back(context):
    server = Server()
    page = opened(context, server)
    server.stop()
    page.mouse.click(*screen(page, 1.5, 1.5))
    expect(page.locator("#away")).to_contain_text("does not answer")
    again = Server(server.port, server.steps)
    assert letters(settled(page)) == [12]
    expect(page.locator("#away")).to_be_hidden()
    again.stop()


# ---- the panels


def test_the_kit_lights_the_map_and_the_map_the_kit(context, server):
    page = opened(context, server)
    example(page)
    kit = open_text(settled(page)).kit
    page.click("#tab-kit")
    rows = page.locator("#kit .type")
    expect(rows).to_have_count(len(kit.types) + len(kit.pieces))
    assert sorted(int(one) for one in page.locator("#kit .type b").all_inner_texts()) == sorted(
        [kind.count for kind in kit.types] + [piece.count for piece in kit.pieces]
    )
    rows.nth(2).hover()
    lit = page.evaluate("async () => [...(await import('/desk.js')).sheet.lit]")
    assert lit == [rows.nth(2).get_attribute("data-id")]
    page.mouse.move(*screen(page, 0.5, 0.5))
    expect(page.locator(".type.lit")).to_have_count(1)
    row = next(kind for kind in kit.types if (kind.places[:, :2] == 1).all(axis=1).any())
    assert page.locator(".type.lit").get_attribute("data-id") == row.tile.id


def test_who_fits_is_said_in_one_sentence(context, server):
    page = opened(context, server)
    example(page)
    expect(page.locator("#answer")).to_contain_text("1 in figures reach all 13 rooms.")
    page.fill("#figure", "3 in")
    page.keyboard.press("Enter")
    expect(page.locator("#answer")).to_contain_text("3 in figures")
    page.fill("#figure", "a cat")
    page.keyboard.press("Enter")
    expect(page.get_by_role("group", name="Figures")).to_contain_text("not a size")
    page.get_by_role("button", name="Leave out a cat").click()
    expect(page.get_by_role("group", name="Figures")).not_to_contain_text("a cat")
    page.reload()
    ready(page)
    expect(page.locator("#answer")).to_contain_text("3 in figures")


def test_sight_and_fit_as_the_commands_say(context, server):
    page = opened(context, server)
    example(page)
    plan = open_text(settled(page))
    for word, base in (("1 in", 25.4), ("2 in", 50.8)):
        figure = figures_on(plan.drawing, [base])[0]
        record = page.evaluate(
            "async (word) => (await import('/desk.js')).desk.answers.fit.find((one) => one.word === word)", word
        )
        assert (record["positions"], record["stands"]) == (figure.positions, figure.stands)
        assert record["rooms"] - record["rooms_reached"] == len(figure.unreached)
    seen = int(visible_from(plan.drawing, (1, 1), plan.kit).sum())
    page.get_by_role("button", name="Look from a square").click()
    page.mouse.click(*screen(page, 0.5, 0.5))
    expect(page.locator("#said")).to_contain_text(f"{seen} squares are seen")
    assert page.locator(".unseen-floor").get_attribute("d").count("z") == plan.kit.tiles - seen


def test_a_stop_is_widened(context, server):
    page = opened(context, server)
    two_rooms(page)
    page.get_by_role("button", name="2 in 1 stop").click()
    page.locator(".stops").get_by_role("button", name="Widen", exact=True).click()
    expect(page.locator("#answer")).to_contain_text("2 in figures reach all 2 rooms.")
    assert "width" in settled(page)


def test_a_doorway_is_made_wider_at_its_ends_and_by_a_list(context, server):
    page = opened(context, server)
    two_rooms(page)
    x, y = page.evaluate("async () => (await import('/desk.js')).desk.plan.ways[0].spot")
    press(page, x, y)
    knobs = "sheet.selection.flatMap((one) => knobsOf(sheet.scene, one, sheet.eye.scale).map((k) => k.at))"
    imports = "const { sheet } = await import('/desk.js'), { knobsOf } = await import('/sheet/hit.js')"
    ends = page.evaluate(f"async () => {{ {imports}; return {knobs}; }}")
    page.mouse.move(*screen(page, *ends[1]))
    expect(page.locator("#sheet-hint")).to_have_text("Drag to change the width.")
    drag(page, ends[1], [end + (end - middle) * 0.25 for end, middle in zip(ends[1], (x, y), strict=True)])
    (way,) = tomllib.loads(settled(page))["way"]
    wide = float(way["width"].removesuffix(" in"))
    # The usual doorway is 1.1 in wide; the most is a square of 2.5 in less half a wall of jamb on both sides.
    assert 1.1 < wide <= 2.25
    page.get_by_label("Width").select_option("0.9 in")
    assert tomllib.loads(settled(page))["way"][0]["width"] == "0.9 in"
    expect(page.locator("#answer")).to_contain_text("stop at 1 place")
    undo(page, 2)
    assert "width" not in settled(page)


def test_a_new_doorway_is_selected_and_the_next_has_the_same_door(context, server):
    page = opened(context, server)
    two_rooms(page)
    page.get_by_label("Door", exact=True).select_option(label="hinged door")
    assert tomllib.loads(settled(page))["way"][0]["leaf"] == "hinged"
    page.click("#tab-room")
    page.keyboard.press("Escape")
    expect(page.get_by_label("Door", exact=True)).to_be_hidden()
    press(page, 5.5, 3)
    expect(page.get_by_label("Door", exact=True)).to_have_value("hinged")
    page.get_by_label("Door", exact=True).select_option(label="no door")
    page.get_by_label("Top", exact=True).select_option(label="pointed top")
    first, second = tomllib.loads(settled(page))["way"]
    assert (first["leaf"], second.get("leaf"), second["head"]) == ("hinged", None, "pointed")


# A doorway out of the passage into the round room stands so near to a corner that it can't be wide.
NEAR_A_CORNER = '''name = "Near a corner"
scale = "10 ft"
drawing = """
. . . . . . B B
A A A . . . B B
C C C . . . B B
C C C . . . B B
"""
shape = [{ room = "R", circle = { centre = [4.5, 1.5], radius = 1.5 } }]
way = [
  { room = "R", at = [3.0, 1.56], kind = "doorway" },
  { cell = [2, 2], side = "south", kind = "doorway" },
  { room = "R", at = [6.0, 1.5], kind = "doorway" },
]
'''


def test_what_can_be_widened_is_and_what_can_not_is_named(context, server):
    page = opened(context, server)
    page.evaluate("async (text) => (await import('/desk.js')).desk.open(text, 'Near a corner')", NEAR_A_CORNER)
    page.get_by_role("button", name="2 in 3 stops").click()
    page.get_by_role("button", name="Widen all 3").click()
    expect(page.locator("#said")).to_contain_text("2 widened. No room in the wall: Room R to Room A.")
    assert settled(page).count("width") == 2


def test_rooms_and_measures(context, server):
    page = opened(context, server)
    two_rooms(page)
    page.click("#tab-room")
    page.get_by_role("button", name="Room A").click()
    page.get_by_label("Name", exact=True).fill("Wind organ")
    page.keyboard.press("Enter")
    page.get_by_label("Floor raised by").fill("1/4 in")
    page.keyboard.press("Enter")
    answered(page)
    page.get_by_text("The whole map").click()
    page.get_by_label("Posts at corners").select_option("loose")
    page.get_by_label("Wall height").last.fill("2 in")
    page.keyboard.press("Enter")
    found = tomllib.loads(settled(page))
    assert found["rooms"] == {"A": "Wind organ"}
    assert found["heights"]["A"] == {"floor": "1/4 in"}
    assert found["set"] == {"posts": "loose"}
    assert found["grid"]["wall_height"] == "2 in"
    page.get_by_label("Wall height").last.fill("a lot")
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("Not done")
    assert tomllib.loads(settled(page)) == found


# ---- making


def test_the_files_that_are_taken(context, server):
    page = opened(context, server)
    text = two_rooms(page)
    page.click("#tab-make")
    page.uncheck("[data-keep=print]")
    expect(page.locator("#cautions")).to_contain_text("blade")
    page.select_option("#material", "pvc")
    page.select_option("#machine", "laser")
    expect(page.locator("#pair")).to_be_visible()
    expect(page.locator("#take")).to_be_disabled()
    page.select_option("#material", "foam")
    page.select_option("#machine", "hand-knife")
    page.get_by_role("button", name="Sheets").click()
    expect(page.locator("#viewer-body img").first).to_be_visible()
    page.click("#viewer-close")
    with page.expect_download(timeout=120_000) as download:
        page.click("#take")
    archive = zipfile.ZipFile(download.value.path())
    assert download.value.suggested_filename == "a-plan-of-my-own.zip"
    names = archive.namelist()
    kit = json.loads(archive.read(next(name for name in names if name.endswith("kit.json"))))
    assert kit["totals"]["tiles"] == open_text(text).kit.tiles
    assert not [name for name in names if name.endswith(".stl")]
    (plan,) = [name for name in names if name.endswith(".toml")]
    assert archive.read(plan).decode() == text
    expect(page.locator("#progress")).to_contain_text("Done.")


def test_making_goes_on_over_a_reload_and_can_be_stopped(context, server):
    page = opened(context, server)
    example(page)
    page.click("#tab-make")
    page.click("#take")
    expect(page.locator("#progress")).not_to_contain_text("Starting")
    expect(page.locator("#bar")).to_be_visible()
    page.reload()
    ready(page)
    page.click("#tab-make")
    expect(page.locator("#bar")).to_be_visible()
    page.click("#stop")
    expect(page.locator("#progress")).to_contain_text("Stopped")
    expect(page.locator("#take")).to_be_enabled()


# ---- what is kept


def test_steps_outlive_tabs_programs_ports_and_new(browser, tmp_path):
    path = tmp_path / "state" / "desk.sqlite"
    first = Server(steps=Steps(path))
    with window(browser, viewport={"width": 1200, "height": 800}) as context:
        page = opened(context, first)
        press(page, 1.5, 1.5)
        drawn = settled(page)
        page.close()
        # A new tab begins empty; the plan before is an undo away.
        page = opened(context, first)
        assert letters(settled(page)) == []
        press(page, 1.5, 1.5)
        drag(page, (4.1, 0.1), (6.9, 2.9))
        own = settled(page)
        page.reload()
        ready(page)
        undo(page, 3)
        assert settled(page) == drawn
        for _ in range(3):
            page.click("#redo")
            answered(page)
        assert settled(page) == own
        fresh(page)
        assert totals(page) == (0, 0)
        undo(page)
        assert settled(page) == own
    first.stop()
    # Another port, another browser.
    second = Server(steps=Steps(path))
    with window(browser, viewport={"width": 1200, "height": 800}) as context:
        page = opened(context, second)
        undo(page)
        assert settled(page) == own
        page.click("#open-plans")
        expect(page.locator("#kept-plans .card")).to_have_count(2)
        page.locator("#kept-plans .card").last.click()
        answered(page)
        assert settled(page) == drawn
    second.stop()


def test_what_can_not_be_opened_changes_nothing(context, server):
    page = opened(context, server)
    example(page)
    text = settled(page)
    for content, says in [
        (b"milk, eggs, flour", "there is no = after the key"),
        (b'name = "A profile"\n[tile]\nsize = [2, 2]\n', '"drawing" is missing'),
        (b'name = "X"\ndrawing = "A"\nfeature = [{kind = "fountain", cell = [1, 1]}]\n', "fountain"),
        (b"\xff\xfe\x00name", "UTF-8"),
    ]:
        page.click("#open-plans")
        page.set_input_files("#open-file", {"name": "notes.toml", "mimeType": "text/plain", "buffer": content})
        expect(page.locator("#said")).to_contain_text("notes.toml can't be opened")
        expect(page.locator("#said")).to_contain_text(says)
        assert settled(page) == text
        assert page.input_value("#plan-name") == "The sunken bell foundry"
    with page.expect_download() as download:
        page.click("#save")
    assert download.value.suggested_filename == "the-sunken-bell-foundry.toml"
    assert download.value.path().read_text() == text


def test_a_plan_on_disk_is_edited_in_place(context, tmp_path):
    path = tmp_path / "cave.toml"
    path.write_bytes(b'# by hand\r\nname = "Cave"\r\ndrawing = """\r\nA A\r\n. B\r\n"""\r\n')
    first = path.read_bytes()
    server = Server(disk=PlanOnDisk(path))
    page = opened(context, server)
    assert settled(page).encode() == first
    assert totals(page) == (3, len(open_text(first.decode()).kit.types))
    expect(page.locator("#kept")).to_have_text("cave.toml, saved")
    press(page, 1, 0.5)
    text = settled(page)
    drag(page, (3.1, 0.1), (3.9, 0.9))
    text = settled(page)
    expect(page.locator("#kept")).to_have_text("cave.toml, not saved")
    page.keyboard.press("Control+s")
    expect(page.locator("#said")).to_have_text("cave.toml saved.")
    assert path.read_bytes() == text.encode()
    assert b"# by hand\r\n" in path.read_bytes()
    # A name typed last is saved too.
    page.fill("#plan-name", "Deep cave")
    page.keyboard.press("Control+s")
    for _ in range(100):
        if b"Deep" in path.read_bytes():
            break
        page.wait_for_timeout(100)
    assert tomllib.loads(path.read_text())["name"] == "Deep cave"
    expect(page.locator("#kept")).to_have_text("cave.toml, saved")
    # Another program's change is noticed when the page is looked at again, and not written over unseen.
    theirs = path.read_text().replace("Deep", "Their").encode()
    path.write_bytes(theirs)
    page.evaluate("window.dispatchEvent(new Event('focus'))")
    expect(page.locator("#changed")).to_be_visible()
    drag(page, (5.1, 0.1), (5.9, 0.9))
    page.keyboard.press("Control+s")
    expect(page.locator("#changed")).to_be_visible()
    assert path.read_bytes() == theirs
    mine = settled(page)
    page.click("#take-theirs")
    expect(page.locator("#plan-name")).to_have_value("Their cave")
    assert settled(page).encode() == theirs
    undo(page)
    assert settled(page) == mine
    path.write_bytes(theirs + b"# more\n")
    page.keyboard.press("Control+s")
    expect(page.locator("#changed")).to_be_visible()
    page.click("#save-over")
    expect(page.locator("#said")).to_contain_text("cave.kept.toml")
    assert path.read_bytes() == mine.encode()
    assert (tmp_path / "cave.kept.toml").read_bytes() == theirs + b"# more\n"
    # Another plan has no file: Save downloads it.
    fresh(page)
    press(page, 1.5, 1.5)
    expect(page.locator("#kept")).to_have_text("Kept on this computer")
    with page.expect_download():
        page.keyboard.press("Control+s")
    assert path.read_bytes() == mine.encode()
    undo(page, 2)
    expect(page.locator("#kept")).to_have_text("cave.toml, saved")
    page.check("#save-always")
    drag(page, (7.1, 0.1), (7.9, 0.9))
    text = settled(page)
    expect(page.locator("#kept")).to_have_text("cave.toml, saved")
    assert path.read_bytes() == text.encode()
    server.stop()


def test_a_random_session_keeps_what_a_list_keeps(context, server):
    """Draw, undo, redo, New, open and reload in any order: what is kept is what a plain list of steps would keep."""
    choose = random.Random(7)
    page = opened(context, server)
    steps, at = [settled(page)], 0
    for turn in range(14):
        act = choose.choice(["draw", "draw", "draw", "undo", "undo", "redo", "new", "open", "junk", "reload"])
        if act == "draw":
            x, y = choose.randint(0, 8), choose.randint(0, 4)
            drag(page, (x + 0.1, y + 0.1), (x + 0.9, y + 1.9))
        elif act == "undo" and at:
            page.keyboard.press("Control+z")
            at -= 1
        elif act == "redo" and at + 1 < len(steps):
            page.keyboard.press("Control+Shift+Z")
            at += 1
        elif act == "new":
            fresh(page)
        elif act in ("open", "junk"):
            text = f'name = "Plan {turn}"\ndrawing = """\nA A A A\nA . . A\n"""\n' if act == "open" else f"junk {turn}"
            page.click("#open-plans")
            page.set_input_files(
                "#open-file", {"name": f"{turn}.toml", "mimeType": "text/plain", "buffer": text.encode()}
            )
            says = f"{turn}.toml can't be opened" if act == "junk" else f"{turn}.toml opened"
            expect(page.locator("#said")).to_contain_text(says)
        elif act == "reload":
            page.reload()
            ready(page)
        found = settled(page)
        if act in ("draw", "new", "open") and found != steps[at]:
            steps[at + 1 :] = [found]
            at += 1
        assert found == steps[at], (turn, act)
        assert totals(page)[0] == (open_text(found).kit.tiles if letters(found) else 0)
    while at:
        page.keyboard.press("Control+z")
        at -= 1
        assert settled(page) == steps[at]


# ---- looks


def colours(png):
    pixels = np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).reshape(-1, 3)
    return len(np.unique(pixels, axis=0))


def test_the_map_stands_in_3d_and_a_tile_is_picked(browser, server):
    found = launched(browser.browser_type, *SOLID_FLAGS)
    page = opened(found, server)
    example(page, "A first plan")
    kit = open_text(settled(page)).kit
    page.click("#stand")
    page.locator(f"html[data-solid-shown='{len(kit.types) + len(kit.pieces)}']").wait_for(state="attached")
    page.wait_for_timeout(300)
    before = page.locator("#solid").screenshot()
    assert colours(before) > 50
    page.locator("#solid").focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_timeout(300)
    turned = page.locator("#solid").screenshot()
    assert turned != before
    page.get_by_role("button", name="Low walls").click()
    page.wait_for_timeout(300)
    low = page.locator("#solid").screenshot()
    assert low != turned
    # With a room selected only its own walls are low.
    letter, room = page.evaluate("async () => Object.entries((await import('/desk.js')).desk.plan.letters)[0]")
    page.evaluate("async (letter) => (await import('/desk.js')).sheet.select({ what: 'room', letter })", letter)
    expect(page.get_by_role("button", name="Low walls of")).to_have_text(f"Low walls of {room['title'] or letter}")
    page.wait_for_timeout(300)
    assert page.locator("#solid").screenshot() not in (low, turned)
    page.evaluate("async () => (await import('/desk.js')).sheet.select(null)")
    expect(page.get_by_role("button", name="Low walls")).to_have_text("Low walls")
    box = page.locator("#solid").bounding_box()
    for x in (0.5, 0.45, 0.55, 0.4, 0.6):
        page.mouse.click(box["x"] + x * box["width"], box["y"] + 0.5 * box["height"])
        if page.locator(".type[aria-pressed=true]").count():
            break
    picked = page.locator(".type[aria-pressed=true]").get_attribute("data-id")
    assert page.evaluate("async () => [...(await import('/desk.js')).sheet.lit]") == [picked]
    found.close()


def test_without_webgl_the_pane_says_so(browser, server):
    found = launched(browser.browser_type, "--disable-gpu", "--disable-3d-apis")
    page = opened(found, server)
    example(page, "A first plan")
    page.click("#stand")
    expect(page.locator("#standing .note")).to_contain_text("WebGL is off")
    found.close()


def test_nothing_is_asked_of_another_host(context, server):
    asked = []
    page = context.new_page()
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"http://127.0.0.1:{server.port}/")
    ready(page)
    two_rooms(page)
    page.click("#stand")
    page.wait_for_timeout(500)
    hosts = (f"http://127.0.0.1:{server.port}/", f"blob:http://127.0.0.1:{server.port}/")
    assert [url for url in asked if not url.startswith(hosts)] == []


@pytest.mark.parametrize(("scheme", "width"), [("light", 390), ("dark", 1200), ("light", 2560)])
def test_it_can_be_used_by_all(browser, server, scheme, width):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    with window(browser, color_scheme=scheme, viewport={"width": width, "height": 780}, bypass_csp=True) as context:
        page = opened(context, server)

        def check(what):
            found = axe.Axe().run(page).response["violations"]
            assert [(what, v["id"], v["nodes"][0]["html"][:120]) for v in found] == []
            overflow = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert overflow <= 1, what

        check("empty")
        example(page)
        for panel in ("fit", "kit", "room", "make"):
            page.click(f"#tab-{panel}")
            check(panel)
        page.click("#open-plans")
        check("plans")

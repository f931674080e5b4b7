"""The desk in a real browser: drawn by mouse and by keyboard, kept over a reload, looked at, taken."""

import io
import json
import random
import shutil
import threading
import tomllib
import zipfile

import numpy as np
import pytest

pytest.importorskip("playwright")
pytest.importorskip("starlette")
uvicorn = pytest.importorskip("uvicorn")

from PIL import Image
from playwright.sync_api import expect, sync_playwright

from tilegen.cli.desk import listen
from tilegen.desk.app import make_app
from tilegen.desk.document import line_of
from tilegen.desk.keeping import PlanOnDisk, Steps
from tilegen.desk.view import open_text
from tilegen.files.plans import plan_of, read_plan
from tilegen.files.toml import find
from tilegen.plans.kit import make_kit

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
pytestmark = [
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium is installed"),
    pytest.mark.xdist_group("browser"),
]
# On a machine that is busy a page takes longer than the usual 5 s.
expect.set_options(timeout=20_000)
FLAGS = ["--no-sandbox", "--disable-gpu"]
# Drawing solids in software takes as much of the processor as all else.
SOLID_FLAGS = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
DEMO = read_plan(find("bell-foundry", "plans"))
# Small enough to be drawn by hand in a test: with the keyboard, and with the mouse.
SMALL_ROWS = ["AAB", "A.B", "CCC"]
SMALL_WAYS = [((2, 1), "east", "doorway"), ((1, 2), "south", "saddle"), ((3, 2), "south", "open")]
MOUSE_ROWS = ["AAABB", "AAA.B", "CCCCB"]
MOUSE_WALLS = [((2, 2), "west")]
MOUSE_WAYS = [
    ((3, 1), "east", "doorway", "round", 25.0),
    ((2, 2), "south", "saddle", "flat", None),
    ((4, 3), "east", "doorway", "flat", None),
    ((5, 1), "north", "open", "flat", None),
]


class Server:
    """A desk on a port of its own, in a thread; can be stopped and started again on the same port."""

    def __init__(self, port=0, steps=None, disk=None):
        listening = listen(port)
        self.port = listening.getsockname()[1]
        self.steps = steps or Steps()
        self.server = uvicorn.Server(uvicorn.Config(make_app(self.port, self.steps, disk), log_level="error"))
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [listening]}, daemon=True)
        self.thread.start()

    def stop(self):
        self.server.should_exit = True
        self.server.force_exit = True
        self.thread.join(10)


@pytest.fixture(scope="module")
def server():
    found = Server()
    yield found
    found.stop()


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as play:
        found = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield found
        found.close()


@pytest.fixture
def context(browser):
    found = browser.new_context(viewport={"width": 1200, "height": 800}, accept_downloads=True)
    found.set_default_timeout(20_000)
    yield found
    found.close()


def opened(context, server):
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{server.port}/")
    page.locator("html[data-ready=yes]").wait_for(state="attached")
    return page


EMPTY = 'name = "A plan of my own"\nscale = "10 ft"\ndrawing = """\n' + ". . . . . . . . . .\n" * 7 + '"""\n'
DRAFT = """() => fetch('/draft', { method: 'POST', headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ text: '', seat: sessionStorage.getItem('seat') }) }).then((answer) => answer.json())"""


def settled(page):
    """The plan's text, as the program keeps it, once nothing waits to be answered."""
    page.locator("html[data-pending='0']").wait_for(state="attached")
    return page.evaluate(DRAFT)["text"] or EMPTY


def ids(kit):
    return sorted((t.tile.id, t.count) for t in kit.types) + sorted((p.piece.id, p.count) for p in kit.pieces)


def screen(page, column, row):
    """Where a point of the plan, in cells, is on the screen."""
    return page.evaluate(
        """([c, r]) => { const map = document.getElementById('sheet'), box = map.getBoundingClientRect();
        const [x, y, w] = map.getAttribute('viewBox').split(' ').map(Number), cell = 63.5;
        return [box.left + (c * cell - x) * box.width / w, box.top + (r * cell - y) * box.width / w]; }""",
        [column, row],
    )


def choose(page, tool):
    page.locator(f"[data-tool={tool}]").click()


def room(page, letter):
    page.locator("#sheet").focus()
    page.keyboard.press(letter if letter.isdigit() else letter.lower())


def click_line(page, cell, side):
    dx, dy = {"north": (0.5, 0.06), "south": (0.5, 0.94), "west": (0.06, 0.5), "east": (0.94, 0.5)}[side]
    page.mouse.click(*screen(page, cell[0] - 1 + dx, cell[1] - 1 + dy))


def runs(rows):
    """(room, row, first column, last column) of each stretch of one room."""
    for r, row in enumerate(rows):
        c = 0
        while c < len(row):
            end = c
            while end + 1 < len(row) and row[end + 1] == row[c]:
                end += 1
            if row[c] != ".":
                yield row[c], r, c, end
            c = end + 1


def drawn_by_mouse():
    ways = [{"cell": [*cell], "side": side, "kind": kind} | ({"head": head} if head != "flat" else {})
            | ({"width": width} if width else {}) for cell, side, kind, head, width in MOUSE_WAYS]  # fmt: skip
    walls = [{"cell": [*cell], "side": side} for cell, side in MOUSE_WALLS]
    return make_kit(plan_of({"name": "Drawn", "drawing": "\n".join(MOUSE_ROWS), "way": ways, "wall": walls}, "drawn"))


def test_a_plan_drawn_with_the_mouse(context, server):
    page = opened(context, server)
    page.click("#fresh")
    for letter, r, first, last in runs(MOUSE_ROWS):
        room(page, letter)
        x, y = screen(page, first + 0.5, r + 0.5)
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(*screen(page, last + 0.5, r + 0.5), steps=last - first + 1)
        page.mouse.up()
    settled(page)
    page.click("#whole")
    choose(page, "wall")
    for cell, side in MOUSE_WALLS:
        click_line(page, cell, side)
    settled(page)
    choose(page, "way")
    for cell, side, kind, head, width in MOUSE_WAYS:
        page.select_option("#way-kind", kind)
        page.select_option("#way-head", head)
        page.fill("#way-width", f"{width:g} mm" if width else "")
        click_line(page, cell, side)
    text = settled(page)
    kit = drawn_by_mouse()
    assert ids(open_text(text).kit) == ids(kit)
    expect(page.locator("#kit-total")).to_have_text(f"{kit.tiles} tiles of {len(kit.types)} types")
    page.reload()
    page.locator("html[data-ready=yes]").wait_for(state="attached")
    assert settled(page) == text
    expect(page.locator("#kit-total")).to_have_text(f"{kit.tiles} tiles of {len(kit.types)} types")
    page.click("#undo")
    expect(page.locator("#said")).to_have_text("One step back.")
    assert settled(page) != text
    page.click("#redo")
    expect(page.locator("#said")).to_have_text("One step on.")
    assert settled(page) == text


def walk(page, here, there):
    for axis, (plus, minus) in enumerate((("ArrowRight", "ArrowLeft"), ("ArrowDown", "ArrowUp"))):
        for _ in range(abs(there[axis] - here[axis])):
            page.keyboard.press(plus if there[axis] > here[axis] else minus)
    return there


def test_a_plan_drawn_with_the_keyboard_alone(context, server):
    page = opened(context, server)
    page.locator("#fresh").focus()
    page.keyboard.press("Enter")
    settled(page)
    page.locator("#sheet").focus()
    at = (1, 1)
    page.keyboard.press("1")
    for letter, r, first, last in runs(SMALL_ROWS):
        page.keyboard.press(letter.lower())
        at = walk(page, at, (first + 1, r + 1))
        page.keyboard.press("Enter")
        for _ in range(last - first):
            page.keyboard.press("Shift+ArrowRight")
        at = (last + 1, r + 1)
    settled(page)
    for cell, side, kind in SMALL_WAYS:
        page.locator("[data-tool=way]").focus()
        page.keyboard.press("Enter")
        page.locator("#way-kind").focus()
        page.keyboard.press(kind[0])
        page.locator("#sheet").focus()
        page.keyboard.press("1")
        at = walk(page, at, cell)
        # In the line tools a step is half a square.
        page.keyboard.press("4")
        page.keyboard.press({"east": "ArrowRight", "south": "ArrowDown"}[side])
        page.keyboard.press("Enter")
        page.keyboard.press("1")
        at = cell
        settled(page)
    from tests.plans import plan
    from tilegen.model.grid import Grid

    text = settled(page)
    wanted = plan(SMALL_ROWS, {(*cell, side): kind for cell, side, kind in SMALL_WAYS}, grid=Grid())
    assert ids(open_text(text).kit) == ids(make_kit(wanted))
    page.keyboard.press("Control+z")
    expect(page.locator("#said")).to_have_text("One step back.")


def test_few_kinds_are_two_choices_away(context, server):
    page = opened(context, server)
    page.select_option("#examples", "bell-foundry")
    expect(page.locator("#kit-total")).to_contain_text("69 tiles of 19 types")
    page.locator("details:has(#measures) > summary").click()
    page.select_option("[data-choice=posts]", "loose")
    page.select_option("[data-choice=doorways]", "loose")
    expect(page.locator("#kit-total")).to_contain_text("69 tiles of 4 types")
    page.keyboard.press("Control+z")
    expect(page.locator("[data-choice=doorways]")).to_have_value("fixed")


def test_two_tabs_keep_two_plans(context, server):
    first = opened(context, server)
    first.select_option("#examples", "bell-foundry")
    expect(first.locator("#kit-total")).to_contain_text("69 tiles")
    second = opened(context, server)
    second.click("#fresh")
    settled(second)
    assert "bell foundry" in settled(first)
    first.reload()
    first.locator("html[data-ready=yes]").wait_for(state="attached")
    assert "bell foundry" in settled(first)
    assert "bell foundry" not in settled(second)


def test_work_goes_on_when_the_program_comes_back(context):
    server = Server()
    page = opened(context, server)
    page.click("#fresh")
    settled(page)
    server.stop()
    room(page, "a")
    page.mouse.click(*screen(page, 0.5, 0.5))
    expect(page.locator("#trouble")).to_contain_text("does not answer")
    again = Server(server.port, server.steps)
    text = settled(page)
    assert open_text(text).kit.tiles == 1
    expect(page.locator("#trouble")).to_be_hidden()
    again.stop()


def test_fifty_edits_a_second_and_nothing_lost(context, server):
    """A short run; tests/benchmarks/desk.py goes on for a minute."""
    page = opened(context, server)
    page.click("#fresh")
    settled(page)
    cells = [(c, r) for r in range(7) for c in range(10)]
    page.evaluate(
        """async (cells) => { const map = document.getElementById('sheet'), box = map.getBoundingClientRect();
        const [x, y, w] = map.getAttribute('viewBox').split(' ').map(Number), cell = 63.5;
        for (const [c, r] of cells) {
          const at = { clientX: box.left + ((c + 0.5) * cell - x) * box.width / w, clientY: box.top + ((r + 0.5) * cell - y) * box.width / w, pointerId: 1, bubbles: true, button: 0 };
          try { map.dispatchEvent(new PointerEvent('pointerdown', at)); } catch {}
          map.dispatchEvent(new PointerEvent('pointerup', at));
          await new Promise((done) => setTimeout(done, 20));
        } }""",
        cells,
    )
    assert open_text(settled(page)).kit.tiles == len(cells)


def colours(png):
    pixels = np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).reshape(-1, 3)
    return len(np.unique(pixels, axis=0))


def test_solids_are_not_blank(browser, server):
    found = browser.browser_type.launch(executable_path=CHROMIUM, args=SOLID_FLAGS)
    page = opened(found, server)
    page.select_option("#examples", "bell-foundry")
    expect(page.locator("#kit-total")).to_contain_text("69 tiles")
    page.click("#stand-up")
    page.locator("html[data-solid-shown]").wait_for(state="attached")
    page.wait_for_timeout(300)
    before = page.locator("#solid").screenshot()
    assert colours(before) > 20
    page.locator("#solid").focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_timeout(200)
    assert page.locator("#solid").screenshot() != before
    page.locator("#kit button").first.click()
    page.locator("#viewer-body canvas").wait_for()
    page.wait_for_timeout(300)
    assert colours(page.locator("#viewer-body canvas").screenshot()) > 5
    found.close()


def test_the_files_that_are_taken(context, server):
    page = opened(context, server)
    page.select_option("#examples", "A first plan")
    expect(page.locator("#kit-total")).to_contain_text("tiles")
    with page.expect_download(timeout=120_000) as download:
        page.click("#take")
    archive = zipfile.ZipFile(download.value.path())
    names = archive.namelist()
    assert any(name.endswith("report.html") for name in names)
    kit = json.loads(archive.read(next(name for name in names if name.endswith("kit.json"))))
    assert kit["totals"]["tiles"] == open_text(settled(page)).kit.tiles
    with page.expect_download() as saved:
        page.click("#save")
    assert saved.value.path().read_text() == settled(page)


@pytest.mark.parametrize(("scheme", "width"), [("dark", 1200), ("light", 360)])
def test_it_can_be_used_by_all(browser, server, scheme, width):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    context = browser.new_context(color_scheme=scheme, viewport={"width": width, "height": 780}, bypass_csp=True)
    page = opened(context, server)
    page.select_option("#examples", "bell-foundry")
    expect(page.locator("#kit-total")).to_contain_text("69 tiles")
    found = axe.Axe().run(page).response["violations"]
    assert [(v["id"], v["nodes"][0]["html"][:120]) for v in found if v["impact"] in ("serious", "critical")] == []
    overflow = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert overflow <= 1
    context.close()


def test_sight_and_fit_as_the_commands_say(context, server):
    page = opened(context, server)
    page.select_option("#examples", "bell-foundry")
    expect(page.locator("#kit-total")).to_contain_text("69 tiles")
    expect(page.locator("#fit")).to_contain_text("Fits in all 276 places")
    choose(page, "sight")
    page.mouse.click(*screen(page, 0.5, 0.5))
    from tilegen.plans.sight import visible_from

    seen = int(visible_from(DEMO, (1, 1), make_kit(DEMO)).sum())
    expect(page.locator("#said")).to_contain_text(f"{seen} squares in sight")
    assert line_of((1, 1), "east") == line_of((2, 1), "west")


def test_a_round_room_and_a_pillar(context, server):
    page = opened(context, server)
    page.click("#fresh")
    settled(page)
    room(page, "t")
    page.keyboard.press("8")
    page.mouse.move(*screen(page, 4, 3))
    page.mouse.down()
    page.mouse.move(*screen(page, 5, 3), steps=3)
    page.mouse.move(*screen(page, 6, 3), steps=3)
    page.mouse.up()
    rows = "\n".join([". " * 10] * 7)
    circle = {"room": "T", "circle": {"centre": [4, 3], "radius": 2}}
    wanted = make_kit(plan_of({"name": "Same", "drawing": rows, "shape": [circle]}, "same"))
    assert ids(open_text(settled(page)).kit) == ids(wanted)
    expect(page.locator("#kit-total")).to_have_text(f"{wanted.tiles} tiles of {len(wanted.types)} types")
    # The same room by keyboard, after it was taken away.
    page.locator("#rooms").evaluate("list => list.closest('details').open = true")
    page.locator("#shapes button").click()
    assert "[[shape]]" not in settled(page)
    page.locator("#sheet").focus()
    page.keyboard.press("1")
    page.keyboard.press("8")
    page.keyboard.press("Enter")
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    assert "radius = 2" in settled(page)
    page.click("#fresh")
    settled(page)
    room(page, "a")
    page.keyboard.press("1")
    page.mouse.click(*screen(page, 2.5, 2.5))
    settled(page)
    page.wait_for_timeout(300)
    page.keyboard.press("0")
    page.mouse.click(*screen(page, 2.5, 2.5))
    expect(page.locator("#said")).to_contain_text("A pillar")
    grid = ["." * 10] * 2 + ["..A......."] + ["." * 10] * 4
    data = {"name": "Same", "drawing": "\n".join(grid), "feature": [{"kind": "pillar", "cell": [3, 3]}]}
    assert ids(open_text(settled(page)).kit) == ids(make_kit(plan_of(data, "same")))
    page.wait_for_timeout(300)
    page.mouse.click(*screen(page, 2.5, 2.5))
    expect(page.locator("#said")).to_contain_text("Removed")
    assert "[[feature]]" not in settled(page)


# ---- what is kept


def dot(page, column, row):
    """Paint one square."""
    page.mouse.click(*screen(page, column - 0.5, row - 0.5))


def rows(page):
    return [row.replace(" ", "") for row in tomllib.loads(settled(page))["drawing"].split("\n") if row]


def drag(page, here, there):
    page.mouse.move(*screen(page, here[0] - 0.5, here[1] - 0.5))
    page.mouse.down()
    page.mouse.move(*screen(page, there[0] - 0.5, there[1] - 0.5), steps=4)
    page.mouse.up()


def undo(page, steps=1):
    for _ in range(steps):
        page.click("#undo")
        page.locator("html[data-pending='0']").wait_for(state="attached")


def reloaded(page):
    page.reload()
    page.locator("html[data-ready=yes]").wait_for(state="attached")


def test_steps_outlive_tabs_programs_ports_and_new(browser, tmp_path):
    path = tmp_path / "state" / "desk.sqlite"
    first = Server(steps=Steps(path))
    context = browser.new_context(viewport={"width": 1200, "height": 800})
    page = opened(context, first)
    expect(page.locator("#undo")).to_be_disabled()
    empty = settled(page)
    dot(page, 1, 1)
    dot(page, 2, 1)
    drawn = settled(page)
    page.close()
    # A new tab begins empty; its steps are there after a reload, down to the plan before.
    page = opened(context, first)
    assert settled(page) == empty
    dot(page, 5, 5)
    own = settled(page)
    reloaded(page)
    undo(page)
    assert settled(page) == empty
    undo(page)
    assert settled(page) == drawn
    undo(page, 2)
    assert settled(page) == empty
    expect(page.locator("#undo")).to_be_disabled()
    for _ in range(4):
        page.click("#redo")
        page.locator("html[data-pending='0']").wait_for(state="attached")
    assert settled(page) == own
    expect(page.locator("#redo")).to_be_disabled()
    page.click("#fresh")
    assert settled(page) == empty
    assert page.locator("html").get_attribute("data-tiles") == "0"
    reloaded(page)
    undo(page)
    assert settled(page) == own
    context.close()
    first.stop()
    # Another port, another browser.
    second = Server(steps=Steps(path))
    assert second.port != first.port
    context = browser.new_context(viewport={"width": 1200, "height": 800})
    page = opened(context, second)
    assert settled(page) == empty
    undo(page)
    assert settled(page) == own
    plans = page.evaluate("() => fetch('/plans').then((answer) => answer.json())")["plans"]
    texts = [plan["text"] for plan in plans if plan["text"] != EMPTY]
    assert {drawn, own} <= set(texts)
    page.locator("#examples").focus()
    page.wait_for_timeout(300)
    page.select_option("#examples", page.locator("#drawn option").nth(texts.index(drawn)).get_attribute("value"))
    assert settled(page) == drawn
    context.close()
    second.stop()


def test_what_can_not_be_opened_changes_nothing(context, server):
    page = opened(context, server)
    page.select_option("#examples", "bell-foundry")
    text = settled(page)
    seen = page.locator("#sheet").inner_html()
    for content, says in [
        (b"milk, eggs, flour", "there is no = after the key"),
        (b'name = "A profile"\n[tile]\nsize = [2, 2]\n', '"drawing" is missing'),
        (b'name = "X"\ndrawing = "A"\nfeature = [{kind = "fountain", cell = [1, 1]}]\n', "fountain"),
        (b"\xff\xfe\x00name", "UTF-8"),
        (b"", '"drawing" is missing'),
    ]:
        page.set_input_files("#open-file", {"name": "notes.toml", "mimeType": "text/plain", "buffer": content})
        expect(page.locator("#trouble")).to_contain_text("notes.toml can't be opened")
        expect(page.locator("#trouble")).to_contain_text(says)
        assert settled(page) == text
        assert page.locator("#sheet").inner_html() == seen
        assert page.input_value("#plan-name") == "The sunken bell foundry"
    with page.expect_download() as download:
        page.click("#save")
    assert download.value.suggested_filename == "the-sunken-bell-foundry.toml"
    assert download.value.path().read_text() == text


def test_a_block_past_the_sheet_makes_it_grow_in_every_direction(context, server):
    page = opened(context, server)
    page.click("#fresh")
    settled(page)
    for _ in range(3):
        page.click("#farther")
    choose(page, "block")
    drag(page, (3, 3), (-5, -6))
    found = rows(page)
    assert (len(found[0]), len(found)) == (16, 14)
    assert sum(row.count("A") for row in found) == 9 * 10
    page.click("#whole")
    for _ in range(3):
        page.click("#farther")
    drag(page, (14, 12), (22, 23))
    found = rows(page)
    assert (len(found[0]), len(found)) == (22, 23)
    assert sum(row.count("A") for row in found) == 9 * 10 + 9 * 12
    undo(page, 2)
    assert sum(row.count("A") for row in rows(page)) == 0
    # Painting stops at no edge either; a stroke goes on where it was when the sheet grows under it.
    choose(page, "paint")
    drag(page, (2, 4), (-6, 4))
    settled(page)
    assert sum(row.count("A") for row in rows(page)) == 9
    for _ in range(12):
        page.click("#farther")
    before = settled(page)
    choose(page, "block")
    # 190 squares beside the 16 that there are would be more than 200 across.
    drag(page, (1, 1), (-190, 1))
    expect(page.locator("#said")).to_contain_text("Not done")
    assert settled(page) == before
    assert page.locator(".m-pending").count() == 0


def test_a_plan_on_disk_is_edited_in_place(context, tmp_path):
    path = tmp_path / "cave.toml"
    path.write_bytes(b'# by hand\r\nname = "Cave"\r\ndrawing = """\r\nA A\r\n. B\r\n"""\r\n')
    first = path.read_bytes()
    server = Server(disk=PlanOnDisk(path))
    page = opened(context, server)
    assert settled(page).encode() == first
    assert page.locator("html").get_attribute("data-tiles") == "3"
    assert page.locator("html").get_attribute("data-kinds") == str(len(open_text(first.decode()).kit.types))
    expect(page.locator("#file")).to_have_text("cave.toml")
    dot(page, 1, 2)
    text = settled(page)
    expect(page.locator("#file")).to_have_text("cave.toml, not saved")
    page.keyboard.press("Control+s")
    expect(page.locator("#said")).to_have_text("cave.toml saved.")
    assert path.read_bytes() == text.encode()
    assert b"# by hand\r\n" in path.read_bytes()
    # A title typed last is saved too.
    page.fill("#plan-name", "Deep cave")
    page.keyboard.press("Control+s")
    for _ in range(100):
        if b"Deep" in path.read_bytes():
            break
        page.wait_for_timeout(100)
    expect(page.locator("#file")).to_have_text("cave.toml")
    assert tomllib.loads(path.read_text())["name"] == "Deep cave"
    # Another program's change is not written over unseen, not even after a reload.
    theirs = path.read_text().replace("Deep", "Their").encode()
    path.write_bytes(theirs)
    reloaded(page)
    dot(page, 1, 2)
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
    page.click("#fresh")
    settled(page)
    expect(page.locator("#file")).to_have_text("")
    with page.expect_download():
        page.keyboard.press("Control+s")
    assert path.read_bytes() == mine.encode()
    undo(page)
    expect(page.locator("#file")).to_have_text("cave.toml")
    page.check("#save-always")
    dot(page, 2, 2)
    text = settled(page)
    expect(page.locator("#file")).to_have_text("cave.toml")
    assert path.read_bytes() == text.encode()
    server.stop()


def test_undo_at_once_after_a_stroke_takes_that_stroke_back(context, server):
    page = opened(context, server)
    page.click("#fresh")
    settled(page)
    dot(page, 1, 1)
    before = settled(page)
    dot(page, 4, 4)
    page.keyboard.press("Control+z")
    assert settled(page) == before


def test_a_random_session_keeps_what_a_list_keeps(context, server):
    """Draw, undo, redo, New, open and reload in any order: what is kept is what a plain list of steps would keep."""
    choose = random.Random(7)
    page = opened(context, server)
    page.click("#fresh")
    steps, at = [settled(page)], 0
    for turn in range(12):
        act = choose.choice(["draw", "draw", "draw", "undo", "undo", "redo", "new", "open", "junk", "reload"])
        if act == "draw":
            dot(page, choose.randint(1, 4), choose.randint(1, 4))
        elif act == "undo" and at:
            page.keyboard.press("Control+z")
            at -= 1
        elif act == "redo" and at + 1 < len(steps):
            page.keyboard.press("Control+Shift+Z")
            at += 1
        elif act == "new":
            page.click("#fresh")
        elif act in ("open", "junk"):
            text = f'name = "Plan {turn}"\ndrawing = """\nA A A A\nA . . A\n"""\n' if act == "open" else f"junk {turn}"
            page.set_input_files(
                "#open-file", {"name": f"{turn}.toml", "mimeType": "text/plain", "buffer": text.encode()}
            )
            if act == "junk":
                expect(page.locator("#trouble")).to_contain_text(f"{turn}.toml can't be opened")
            else:
                expect(page.locator("#said")).to_contain_text(f"{turn}.toml opened")
        elif act == "reload":
            reloaded(page)
        found = settled(page)
        if act in ("draw", "new", "open") and found != steps[at]:
            steps[at + 1 :] = [found]
            at += 1
        assert found == steps[at], (turn, act)
        assert page.locator("html").get_attribute("data-tiles") == str(
            open_text(found).kit.tiles if "A" in "".join(rows(page)) else 0
        )
    page.locator("#sheet").focus()
    while at:
        page.keyboard.press("Control+z")
        at -= 1
        assert settled(page) == steps[at]

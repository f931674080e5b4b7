"""The desk in Firefox: the main gestures, driven over WebDriver BiDi (W3C), which Firefox speaks by itself."""

import itertools
import json
import re
import shutil
import subprocess
import time
import tomllib
import zipfile

import pytest

client = pytest.importorskip("websockets.sync.client")
pytest.importorskip("uvicorn")

from tests.desk.test_desk_edits import letters
from tests.desk.test_desk_page import Server

FIREFOX = next(filter(None, map(shutil.which, ("firefox", "firefox-esr"))), None)
pytestmark = pytest.mark.skipif(FIREFOX is None, reason="no Firefox is installed")
# Keys as WebDriver names them (W3C WebDriver 2, 15.4.2).
F2, ENTER = "\ue032", "\ue007"
PREFERENCES = """user_pref("browser.download.folderList", 2);
user_pref("browser.download.dir", "{folder}");
user_pref("browser.download.alwaysOpenPanel", false);
user_pref("browser.shell.checkDefaultBrowser", false);
user_pref("datareporting.policy.dataSubmissionEnabled", false);
"""


class Firefox:
    """One tab of a Firefox of its own."""

    def __init__(self, socket):
        self.socket, self.numbers = socket, itertools.count(1)
        self.ask("session.new", capabilities={})
        self.tab = self.ask("browsingContext.getTree")["contexts"][0]["context"]
        self.ask("browsingContext.setViewport", context=self.tab, viewport={"width": 1200, "height": 800})

    def ask(self, method, **params):
        number = next(self.numbers)
        self.socket.send(json.dumps({"id": number, "method": method, "params": params}))
        while (answer := json.loads(self.socket.recv(timeout=120))).get("id") != number:
            pass
        assert answer["type"] == "success", answer
        return answer["result"]

    def open(self, address):
        self.ask("browsingContext.navigate", context=self.tab, url=address, wait="complete")

    def run(self, code):
        """The value of a piece of script, as JSON."""
        expression = f"(async () => JSON.stringify(await (async () => {{ {code} }})()))()"
        answer = self.ask("script.evaluate", target={"context": self.tab}, expression=expression, awaitPromise=True)
        assert answer["type"] == "success", answer
        return json.loads(answer["result"].get("value", "null"))

    def wait(self, condition):
        for _ in range(600):
            if self.run(f"return Boolean({condition})"):
                return
            time.sleep(0.1)
        raise AssertionError(condition)

    def settled(self):
        self.wait("document.documentElement.dataset.pending === '0'")
        return self.run("return (await (await import('/desk.js')).desk.text()).text")

    def act(self, *sources):
        self.ask("input.performActions", context=self.tab, actions=list(sources))

    def stroke(self, *spots):
        """Press at the first point of the drawing (in cells), lift at the last."""
        at = [self.run(f"return (await import('/desk.js')).sheet.screen({x}, {y})") for x, y in spots]
        moves = [{"type": "pointerMove", "x": round(x), "y": round(y)} for x, y in at]
        actions = [moves[0], {"type": "pointerDown", "button": 0}, *moves[1:], {"type": "pointerUp", "button": 0}]
        self.act({"type": "pointer", "id": "mouse", "actions": actions})
        return self.settled()

    def press(self, selector):
        x, y = self.run(
            f"const one = document.querySelector({selector!r}); one.scrollIntoView({{ block: 'nearest' }});"
            "const box = one.getBoundingClientRect(); return [box.x + box.width / 2, box.y + box.height / 2]"
        )
        down = [{"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0}]
        move = {"type": "pointerMove", "x": round(x), "y": round(y)}
        self.act({"type": "pointer", "id": "mouse", "actions": [move, *down]})

    def type(self, *keys):
        strokes = [{"type": kind, "value": key} for key in keys for kind in ("keyDown", "keyUp")]
        self.act({"type": "key", "id": "keys", "actions": strokes})
        return self.settled()


@pytest.fixture
def firefox(tmp_path):
    profile, log = tmp_path / "profile", tmp_path / "firefox.log"
    profile.mkdir()
    (profile / "user.js").write_text(PREFERENCES.format(folder=tmp_path))
    arguments = ["--headless", "--no-remote", "--profile", str(profile), "--remote-debugging-port", "0", "about:blank"]
    with log.open("w") as errors:
        process = subprocess.Popen([FIREFOX, *arguments], stderr=errors)
    try:
        while not (found := re.search(r"BiDi listening on (ws://\S+)\s", log.read_text())):
            assert process.poll() is None, log.read_text()
            time.sleep(0.1)
        with client.connect(f"{found[1]}/session", max_size=None) as socket:
            yield Firefox(socket)
    finally:
        process.terminate()
        process.wait(20)


@pytest.fixture
def server():
    found = Server()
    yield found
    found.stop()


def test_the_main_gestures_in_firefox(tmp_path, firefox, server):
    firefox.open(f"http://127.0.0.1:{server.port}/")
    firefox.wait("document.documentElement.dataset.ready === 'yes'")
    assert letters(firefox.stroke((0.1, 0.1), (3.9, 2.9))) == ["AAAA"] * 3
    assert letters(firefox.stroke((4.1, 0.1), (6.9, 2.9))) == ["AAAABBB"] * 3
    with_door = firefox.stroke((4, 1.5))
    assert [way["kind"] for way in tomllib.loads(with_door)["way"]] == ["doorway"]
    # A room moves with its door; undo gives back the step before, to the byte.
    moved = firefox.stroke((6.5, 2.5), (6.5, 3.5))
    assert letters(moved)[-1] == "....BBB"
    firefox.press("#undo")
    assert firefox.settled() == with_door
    # By keys: the room below the pointer is named.
    firefox.stroke((1.5, 2.5))
    named = firefox.type(F2, *"Kiln", ENTER)
    assert tomllib.loads(named)["rooms"] == {"A": "Kiln"}
    firefox.press("#tab-make")
    firefox.wait("document.querySelector('#take') && !document.querySelector('#take').disabled")
    firefox.press("#take")
    for _ in range(1200):
        if (tmp_path / "a-plan-of-my-own.zip").is_file() and not list(tmp_path.glob("*.part")):
            break
        time.sleep(0.1)
    with zipfile.ZipFile(tmp_path / "a-plan-of-my-own.zip") as archive:
        (plan,) = [name for name in archive.namelist() if name.endswith(".toml")]
        assert archive.read(plan).decode() == named

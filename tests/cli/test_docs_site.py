"""The documentation as built pages: strict, nothing from outside, readable light and dark, wide and narrow."""

import re
import subprocess
import sys
from html.parser import HTMLParser

import pytest

pytest.importorskip("mkdocs")
pytest.importorskip("material")

from tests.browsing import chromium, in_a_browser, window
from tests.pages import ROOT

# Attributes from which a browser fetches something by itself; a link to follow is not one.
FETCHES = {
    "script": "src",
    "img": "src",
    "iframe": "src",
    "source": "src",
    "video": "src",
    "audio": "src",
    "embed": "src",
    "object": "data",
    "link": "href",
    "use": "href",
    "image": "href",
}
OUTSIDE = re.compile(r"(https?:)?//", re.IGNORECASE)


class Fetched(HTMLParser):
    """Addresses that a page fetches from another host."""

    def __init__(self):
        super().__init__()
        self.outside = []

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        for name in (FETCHES.get(tag), "srcset", "poster"):
            if name and OUTSIDE.match(given.get(name) or ""):
                self.outside.append(given[name])
        self.outside += re.findall(r"url\(['\"]?((?:https?:)?//[^)]+)", given.get("style") or "")


def outside_of(html):
    found = Fetched()
    found.feed(html)
    inline = re.findall(r"<style[^>]*>(.*?)</style>", html, re.DOTALL)
    return found.outside + [address for css in inline for address in outside_of_css(css)]


def outside_of_css(css):
    imported = re.findall(r"@import\s+['\"]((?:https?:)?//[^'\"]+)", css)
    return imported + re.findall(r"url\(['\"]?((?:https?:)?//[^)]+)", css)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    folder = tmp_path_factory.mktemp("site") / "built"
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet", "--site-dir", folder],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


def test_every_page_is_built(site):
    built = {path.stem for path in site.glob("*.html")}
    assert {path.stem for path in (ROOT / "docs").glob("*.md")} | {"commands", "formats"} <= built
    assert not list(site.rglob("*.py*"))


def test_nothing_is_fetched_from_outside(site):
    for path in site.rglob("*.html"):
        assert outside_of(path.read_text(encoding="utf-8")) == [], path.name
    for path in site.rglob("*.css"):
        assert outside_of_css(path.read_text(encoding="utf-8")) == [], path.name


def test_what_is_fetched_from_outside_is_found():
    assert outside_of('<script src="//cdn.example/a.js"></script><img src="https://b.example/c.png">') == [
        "//cdn.example/a.js",
        "https://b.example/c.png",
    ]
    assert outside_of("<style>@font-face{src:url(https://d.example/e.woff2)}</style>") == ["https://d.example/e.woff2"]
    assert outside_of('<a href="https://f.example">link</a><img src="g.png">') == []
    assert outside_of_css("@import 'https://h.example/i.css';") == ["https://h.example/i.css"]


def test_the_generated_pages_say_all(site):
    commands = (site / "commands.html").read_text(encoding="utf-8")
    assert all(f'id="{name}"' in commands for name in ("build", "kit", "fit", "gauge", "schema", "desk"))
    formats = (site / "formats.html").read_text(encoding="utf-8")
    assert all(f'id="{kind}"' in formats for kind in ("plan", "profile", "grid", "material", "machine", "printer"))
    assert "joint_play" in formats
    assert "additionalProperties" not in formats


@in_a_browser
def test_pages_opened_as_files_ask_nothing_of_the_network(site):
    sync_api = pytest.importorskip("playwright.sync_api")
    with chromium() as browser:
        for scheme, width in (("light", 1200), ("dark", 360)):
            with window(browser, viewport={"width": width, "height": 800}, color_scheme=scheme) as context:
                page = context.new_page()
                asked, wrong = [], []
                page.on("request", lambda request, asked=asked: asked.append(request.url))
                page.on("pageerror", lambda error, wrong=wrong: wrong.append(str(error)))
                for name in ("index", "commands", "gallery"):
                    page.goto((site / f"{name}.html").as_uri())
                    page.locator("h1").wait_for()
                    assert page.evaluate("document.documentElement.scrollWidth") <= width, (name, width)
                dark = page.locator("body").get_attribute("data-md-color-scheme") == "slate"
                assert dark == (scheme == "dark")
                if width > 1000:
                    page.locator("[data-md-component=search-query]").click()
                    page.keyboard.type("kerf", delay=20)
                    sync_api.expect(page.locator(".md-search-result__meta")).to_contain_text("matching")
                assert [url for url in asked if not url.startswith(("file:", "data:", "about:", "blob:"))] == []
                assert wrong == []

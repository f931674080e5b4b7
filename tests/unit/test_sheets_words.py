"""What people read about sheets: cautions of what is used, once; lengths in the user's own unit; numbers of the layout."""

import csv
import html
import json
import re

from pypdf import PdfReader

from tests.calling import call
from tilegen.files.stock import LOOSE_PIECES, cautions_of, read_machine, read_material
from tilegen.lengths import in_units

LOOSE = "small parts"


def told(done):
    return [line.split("caution: ", 1)[1] for line in done.stdout.splitlines() if "caution: " in line]


def test_cautions_are_those_of_the_process_and_the_material():
    for material, machine, there, absent in [
        ("foam", "hand-knife", ("ruler", "Solvent"), ("laser", "vapours", "wire")),
        ("foam", "hot-wire", ("vapours", "wire burns"), ("laser", "blade", "ruler")),
        ("mdf", "laser", ("Never leave a laser", "Smoke and small flames", "dust"), ("blade", "wire", "ruler")),
        ("greyboard", "drag-knife", ("carriage", "blade bin"), ("laser", "flame")),
    ]:
        said = " ".join(cautions_of(read_material(material), read_machine(machine)))
        assert all(word in said for word in there)
        assert not [word for word in absent if word in said]
        assert "safety data sheet" in said
        assert LOOSE not in said


def test_what_a_caution_is_about_is_asked_about_or_blocked():
    """Foam core and EVA on a laser: their caution comes with the process, wherever that is allowed."""
    for material in ("foam-core", "eva"):
        laser = cautions_of(read_material(material), read_machine("laser"))
        assert len(laser) > len(cautions_of(read_material(material), read_machine("hand-knife")))
        assert any("laser" in line for line in laser)


def test_cautions_on_screen_once_in_the_report_and_in_the_pdf(small, tmp_path):
    (other := tmp_path / "other.toml").write_text(small.read_text())
    brief = call("build", small, other, "-o", tmp_path)
    # One line for each process, then where all of them are.
    assert [line.split(":")[0] for line in told(brief)] == [
        "knife and steel ruler",
        "filament printer, bed 220 x 220 mm",
    ]
    assert "all cautions: in the report" in brief.stdout
    said = told(call("build", small, other, "-o", tmp_path, "--verbose"))
    assert len(said) == len(set(said)) > 4
    assert said.count(LOOSE_PIECES) == 1
    page = (tmp_path / "small/report.html").read_text()
    box = page.split("<section class='cautions'>")[1].split("</section>")[0]
    box = html.unescape(box)
    first = PdfReader(tmp_path / "small/cut.pdf").pages[0].extract_text().replace("\n", " ")
    for line in cautions_of(read_material("foam"), read_machine("hand-knife"), loose=True):
        assert re.sub(r"\s", "", line) in re.sub(r"\s", "", first)
        assert box.count(line) == 1
    assert "laser" not in box


def test_loose_pieces_are_spoken_of_where_there_are_some(tmp_path):
    plan = tmp_path / "plain.toml"
    plan.write_text('name = "plain"\nscale = "10 ft"\ndrawing = """\nA A\n"""\n')
    done = call("build", plan, "-o", tmp_path)
    assert done.returncode == 0, done.stderr
    assert LOOSE not in done.stdout
    assert LOOSE not in (tmp_path / "plain/report.html").read_text()
    assert LOOSE not in " ".join(p.extract_text() for p in PdfReader(tmp_path / "plain/cut.pdf").pages)
    assert LOOSE not in call("tile", "corner", "-o", tmp_path).stdout


# The international inch is exactly 25.4 mm (National Bureau of Standards Circular 572, addendum of 1960).
def test_texts_in_inches():
    for text, inches in [
        ("6.35 mm thick", "0.25 in thick"),
        ("2 sheets of 600 x 300 mm", "2 sheets of 23.622 x 11.811 in"),
        ("6 + 3 mm from the top", "0.236 + 0.118 in from the top"),
        ("(63.2 to 63, 31.6 to 31.4 mm)", "(2.488 to 2.48, 1.244 to 1.236 in)"),
        ("2 x foam-3mm, P-4 of 5 tiles", "2 x foam-3mm, P-4 of 5 tiles"),
        ("2 layers of 0.3 mm card, 30 minutes", "2 layers of 0.012 in card, 30 minutes"),
    ]:
        assert in_units(text, "in") == inches
        assert in_units(text, "mm") == text


def test_notes_pdf_and_report_speak_in_inches(small, tmp_path):
    done = call("build", small, "--machine", "hot-wire", "--units", "in", "-o", tmp_path, "--verbose")
    assert done.returncode == 0, done.stderr
    notes = [line for line in (done.stderr + done.stdout).splitlines() if "note: " in line or "Cut: " in line]
    assert any(" in" in line for line in notes)
    assert not [line for line in notes if re.search(r"\d mm\b", line)]
    pages = PdfReader(tmp_path / "small/cut.pdf").pages
    text = " ".join(page.extract_text() for page in pages)
    # The bars stay what they are.
    assert set(re.findall(r"\d[\d.]* mm\b", text)) == {"100 mm"}
    assert "set fence, in" in re.sub(r"\s+", " ", text)
    page = (tmp_path / "small/report.html").read_text()
    words = re.sub(r"data:[^\"]*", "", page)
    assert not re.search(r"<li>[^<]*\d mm\b[^<]*</li>", words)
    # Programs read millimetres.
    made = call("build", small, "--units", "in", "-o", tmp_path, "--json")
    assert any("6 mm" in note for note in json.loads(made.stdout)["notes"])


def test_every_list_carries_the_layouts_numbers(demonstration, tmp_path):
    tiles, folder = demonstration.said["kit"]["tiles"], demonstration.folder
    numbers = {tile["id"]: str(n) for n, tile in enumerate(tiles, 1)}
    layout = (folder / "layout.svg").read_text()
    assert all(f">{number}<" in layout for number in numbers.values())
    for name in ("kit.csv", "rooms.csv"):
        rows = list(csv.DictReader((folder / name).read_text().splitlines()))
        assert rows
        assert all(row["number"] == numbers.get(row["id"], "S") for row in rows)
    parts = list(csv.DictReader((folder / "sheets/foam-parts.csv").read_text().splitlines()))
    for row in parts:
        keys = [tile.split(" x ") for tile in row["tiles"].split("; ")]
        assert row["numbers"].split("; ") == [f"{numbers.get(key, 'S')} x {count}" for key, count in keys]
    page = (folder / "report.html").read_text()
    last = tiles[-1]
    assert f"<b>{numbers[last['id']]}&ensp;{last['name']}" in page
    pages = [p.extract_text() for p in PdfReader(folder / "cut.pdf").pages]
    # On the map and below it to pin up, and beside its steps.
    pinned, glued = pages[0].split(), " ".join(pages[1:]).partition("Each picture is a tile from above")[2]
    for tile in tiles:
        assert pinned.count(numbers[tile["id"]]) >= 2
        # The numbers of its parts stand in the picture between.
        between = rf"\b{numbers[tile['id']]} ([A-Z]\d* )*make {tile['count']}\b"
        assert re.search(between, glued.replace("\n", " "))
    # A tile of its own has no layout to be numbered in.
    assert call("sheet", "corner", "-o", tmp_path, "-q").returncode == 0
    alone = list(csv.DictReader((tmp_path / "corner/sheets/foam-parts.csv").read_text().splitlines()))
    assert {row["numbers"] for row in alone} == {""}

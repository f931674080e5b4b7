"""Every command line that README.md and docs show is run, in a copy; every file they show is what it claims to be."""

import re
import subprocess
import sys
import tomllib

import pytest

from tests.calling import call
from tests.pages import MADE, PAGES, ROOT, blocks_of, commands_of
from tilegen.files.grids import merged
from tilegen.files.schemas import MODELS
from tilegen.files.starting import STARTING_GRID
from tilegen.model.grid import Grid
from tilegen.model.tables import Measures

# What is not run as it stands, and why; `installs` and `waits` are looked at, `long` are asked for their help.
INSTALLS = ("python3", "pip")  # .ci/run runs the README's two lines in a fresh environment
WAITS = ("desk",)  # runs until it is stopped: tests/desk/test_desk.py starts it
LONG = {  # seconds to hours, by themselves
    "mkdocs": "tests/cli/test_docs_site.py builds the pages",
    "pictures.py": "tests/cli/test_docs.py makes the pictures",
    "desk_picture.py": "needs a browser that draws; tests/cli/test_docs.py imports it",
    "pytest": "this is it",
}
# A file that a command writes, and the command.
WRITES = r"`(out/[^`]+)`, as this writes it:\n\n```sh\n(.*?\n)```"


def identify(page):
    return page.name


def looked_at(words):
    """Whether a command that is not run is at least sound."""
    if words[0] in INSTALLS or words[0].endswith("/pip"):
        extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
        for word in words:
            assert all(name in extras for found in re.findall(r"\[(\w+)\]", word) for name in found.split(",")), word
        return True
    named = next((word.rpartition("/")[2] for word in words if word.rpartition("/")[2] in LONG), None)
    if named is None:
        return False
    if named.endswith(".py"):
        assert (ROOT / "docs" / named).is_file()
    elif named.startswith(("tests.benchmarks.", "tests.proof.")):
        assert (ROOT / f"{named.replace('.', '/')}.py").is_file()
    return True


def read(pages, folder):
    """Do what pages show as their reader does, in one folder: write each file, run each command once. What went wrong."""
    files, printed, last = {}, {}, ""
    for page in pages:
        writes = {block: path for path, block in re.findall(WRITES, page.read_text(encoding="utf-8"))}
        for block in blocks_of(page):
            if block.is_file:
                if files.setdefault(block.title, block.text) != block.text:
                    yield f"{page.name}: {block.title} is another file than on a page before"
                path = folder / block.title
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(block.text, encoding="utf-8")
            elif block.kind == "text" and block.text not in last:
                yield f"{page.name}: printed is {last}"
            for command in commands_of(block) if block.kind == "sh" else ():
                words = (command.program, *command.words[1:])
                if words not in printed or words[1] == "start":
                    printed[words], *wrong = run(command, folder)
                    yield from (f"{page.name}: {' '.join(words)}: {what}" for what in wrong)
                last = printed[words]
            if block.text in writes and not (folder / writes[block.text]).is_file():
                yield f"{page.name}: {writes[block.text]} is not written"


def run(command, folder):
    """What a command prints, and then what is wrong with it."""
    if command.program != "tilegen":
        if command.words[-1] != "docs/example.py" and not looked_at(command.words):
            return "", "neither run nor looked at"
        return ("",)
    rest = command.words[1:]
    done = call(*(("desk", "--help") if rest[0] in WAITS else rest), cwd=folder)
    if command.into:
        (folder / command.into).write_text(done.stdout, encoding="utf-8")
    kept = [f"{path} is kept beside the tool's" for path in folder.rglob("*.kept.*")]
    if done.returncode != command.code:
        kept.append(f"exit {done.returncode}: {done.stdout[-500:]}{done.stderr[-500:]}")
    return done.stdout, *kept


def test_a_reader_can_do_all_that_the_pages_show_in_their_order_in_one_folder(tmp_path):
    assert {page.name for page in PAGES[1:]} == {page.name for page in (ROOT / "docs").glob("*.md")}
    wrong = list(read(PAGES, tmp_path))
    assert wrong == [], "\n".join(wrong)


@pytest.mark.parametrize("page", PAGES, ids=identify)
def test_every_inline_command_is_one(page):
    """Commands in running text name commands and options that there are."""
    text = re.sub(r"^```.*?^```$", "", page.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    for words in re.findall(r"`(?:\.venv/bin/)?tilegen ([a-z]+)\b([^`]*)`", text):
        done = call(words[0], "--help")
        assert done.returncode == 0, words
        for option in re.findall(r"--[a-z-]+", words[1]):
            assert option in plain(done.stdout), words


def plain(text):
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


@pytest.mark.parametrize("page", PAGES, ids=identify)
def test_commands_are_the_same_in_powershell(page):
    """It splits words at commas and takes signs for its own, unless they are in quotes (common practice, no source)."""
    for block in blocks_of(page):
        for line in block.text.splitlines() if block.kind == "sh" else ():
            bare = re.sub(r"\"[^\"$`]*\"|'[^']*'|#.*", "", line)
            assert not line.startswith("tilegen") or not re.search(r"[,;@$(){}|&<`\"']", bare), f"{page.name}: {line}"


# The least of a file of each kind, for parts that are shown alone.
LEAST = {
    "plan": {"name": "p", "drawing": "A", "scale": "10 ft"},
    "profile": {"name": "p", "tile": {"size": [2, 2]}},
    "grid": {},
}


_FILES = {"shelf.toml": "shelf", "grid.toml": "grid", "few-kinds.toml": "grid"}


def kind_of(title):
    """The kind of file that a title claims."""
    if part := re.fullmatch(r"part of a (\w+)(?: file)?", title):
        return part[1]
    folder, _, name = title.rpartition("/")
    return folder.removesuffix("s") if folder else _FILES[name]


@pytest.mark.parametrize("page", PAGES, ids=identify)
def test_every_file_shown_is_what_it_claims(page):
    for block in blocks_of(page):
        if block.kind != "toml":
            continue
        assert block.title, f"{page.name}: a TOML block that does not say what it is: {block.text[:80]}"
        kind = kind_of(block.title)
        table = tomllib.loads(block.text)
        MODELS[kind].model_validate({**(LEAST[kind] if not block.is_file else {}), **table})


def test_a_wrong_block_is_found(tmp_path):
    page = tmp_path / "page.md"
    page.write_text(
        '```toml title="plans/a.toml"\nname = 3\n```\n\n```sh\ntilegen nonsense && tilegen fit  # exit 1\n```\n'
    )
    with pytest.raises(ValueError, match="drawing"):
        test_every_file_shown_is_what_it_claims(page)
    assert [(c.words, c.code) for b in blocks_of(page)[1:] for c in commands_of(b)] == [
        (("tilegen", "nonsense"), 1),
        (("tilegen", "fit"), 1),
    ]
    assert [wrong.split(": ")[1] for wrong in read([page], tmp_path)] == ["tilegen nonsense", "tilegen fit"]


def test_every_command_and_option_is_named():
    """In the pages written by hand, or else in the page made from the program."""
    sys.path.insert(0, str(ROOT / "docs"))
    try:
        from reference import commands_page
    finally:
        sys.path.pop(0)
    from tilegen.cli import app

    page = commands_page()
    written = " ".join(path.read_text(encoding="utf-8") for path in PAGES)
    for registered in app.registered_commands:
        name = registered.name or registered.callback.__name__
        assert f"\n## {name}\n" in page
        assert f"tilegen {name}" in written
        section = page.split(f"\n## {name}\n")[1].split("\n## ")[0]
        for option in re.findall(r"--[a-z][a-z-]+", plain(call(name, "--help").stdout)):
            assert f"`{option}" in section, f"{name} {option}"


def test_every_key_of_every_file_is_explained_and_the_defaults_are_the_programs():
    sys.path.insert(0, str(ROOT / "docs"))
    try:
        from reference import formats_page
    finally:
        sys.path.pop(0)
    rows = [line for line in formats_page().splitlines() if line.startswith("| `")]
    assert len(rows) > 250
    assert [row for row in rows if row.split(" | ")[-1].strip(" |") == ""] == []
    for kind, model in MODELS.items():
        assert {*model.model_fields} <= {row.split("`")[1] for row in rows}, kind
    started = Measures.model_validate(tomllib.loads(STARTING_GRID))
    assert merged(Grid(), started) == Grid()


def test_links_and_pictures_exist():
    for page in PAGES:
        text = re.sub(r"^```.*?^```$", "", page.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
        for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", text):
            if not target.startswith("https:"):
                assert target in MADE or (page.parent / target).exists(), f"{page.name}: {target}"


def test_the_pictures_are_small():
    sizes = {path.name: path.stat().st_size for path in (ROOT / "docs").glob("*.png")}
    assert sum(sizes.values()) < 1_500_000, sizes


def test_pages_that_lead_to_a_machine_show_the_cautions():
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        makes = re.search(r"tilegen (build|solid|sheet|tile|gauge|desk|inspect)\b", text)
        if makes or page.name in ("index.md", "shapes.md", "features.md"):
            words = " ".join(text.replace("\n> ", " ").split())
            for word in ("manual", "safety data sheet", "local rules"):
                assert word in words, f"{page.name}: {word}"


def test_the_example_of_the_python_page_is_run_elsewhere():
    done = subprocess.run([sys.executable, "-m", "compileall", "-q", str(ROOT / "docs")], check=False)
    assert done.returncode == 0

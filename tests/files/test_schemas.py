"""The JSON Schemas against the reference implementation of draft 2020-12 (jsonschema): shipped files and wrong ones."""

import copy
import json
import os
import subprocess
import sys
import tomllib
from typing import get_args

import jsonschema
import pytest
from pydantic import BaseModel

from tests.calling import call
from tilegen.errors import InputError
from tilegen.files.schemas import MODELS, schema_of
from tilegen.files.stock import read_material
from tilegen.files.toml import check, find, shipped
from tilegen.model.keys import Key

FOLDERS = {
    "plan": "plans",
    "profile": "profiles",
    "material": "materials",
    "machine": "machines",
    "printer": "printers",
    "style": "styles",
}
SHIPPED = [(kind, path) for kind, folder in FOLDERS.items() for path in sorted(shipped(folder).glob("*.toml"))]


def validator(kind):
    return jsonschema.Draft202012Validator(schema_of(kind))


def test_each_is_a_schema():
    for kind in MODELS:
        jsonschema.Draft202012Validator.check_schema(schema_of(kind))


def test_shipped_files_are_valid():
    for kind, path in SHIPPED:
        validator(kind).validate(tomllib.loads(path.read_text()))


def test_what_start_writes_is_valid(tmp_path):
    assert call("start", tmp_path / "f", "--quiet").returncode == 0
    validator("grid").validate(tomllib.loads((tmp_path / "f" / "grid.toml").read_text()))
    validator("plan").validate(tomllib.loads((tmp_path / "f" / "f.toml").read_text()))


PROFILE = {"name": "a", "tile": {"size": [2, 2], "walls": ["north"]}}
WRONG = [
    ("grid", {"grid": {"pich": 1}}),
    ("grid", {"grid": {"pitch": "1.25 inc"}}),
    ("grid", {"grid": {"pitch": "-1 in"}}),
    ("grid", {"grid": {"pitch": "0 in"}}),
    ("grid", {"grid": {"pitch": "1/0 in"}}),
    ("grid", {"grid": {"pitch": True}}),
    ("grid", {"grid": {"pitch": 0}}),
    ("grid", {"grid": {"spaces": "2"}}),
    ("grid", {"wall": {}}),
    ("grid", {"floor": {"lines": "yes"}}),
    ("grid", {"doorway": {"head": "oval"}}),
    ("profile", {"name": "a"}),
    ("profile", {**PROFILE, "name": ""}),
    ("profile", {**PROFILE, "tile": {"walls": ["north"]}}),
    ("profile", {**PROFILE, "tile": {"size": [2, 2], "outline": [[0, 0], [1, 0], [1, 1]]}}),
    ("profile", {**PROFILE, "tile": {"size": [2, 2, 2]}}),
    ("profile", {**PROFILE, "tile": {"size": [2, 2], "walls": ["up"]}}),
    ("profile", {**PROFILE, "opening": [{"kind": "doorway"}]}),
    ("profile", {**PROFILE, "opening": [{"wall": "north", "widht": 3}]}),
    ("plan", {"name": "a"}),
    ("plan", {"name": "a", "drawing": "A", "scale": "20 ft"}),
    ("plan", {"name": "a", "drawing": "A", "way": [{"cell": [1, 1], "side": "east"}]}),
    ("plan", {"name": "a", "drawing": "A", "way": [{"cell": [1, 1.5], "side": "east", "kind": "open"}]}),
    ("shelf", {"tiles": {"corner": -1}}),
    ("shelf", {"tile": {"corner": 1}}),
]


def test_wrong_files_are_not():
    for kind, tables in WRONG:
        assert list(validator(kind).iter_errors(tables))


def test_wrong_changes_of_shipped_files():
    for kind, name, change in [
        ("material", "foam", {"thickness": "0 mm"}),
        ("material", "foam", {"thickness": "thick"}),
        ("material", "foam", {"family": "wood"}),
        ("material", "foam", {"sheet": None, "stock": []}),
        ("material", "foam", {"process": {"laser": {"verdict": "ask"}}}),
        ("material", "foam", {"process": {"laser": {"verdict": "allow", "up_to": 3}}}),
        ("machine", "laser", {"kerf": 11}),
        ("machine", "laser", {"kerf": "-1 mm"}),
        ("machine", "laser", {"kerf_by_material": {"card": [0.1, 0.2, 0.3]}}),
        ("machine", "laser", {"name": "A Name"}),
        ("machine", "laser", {"paths": {"swivel_from": 100}}),
        ("printer", "fdm-220", {"process": "sls"}),
        ("printer", "fdm-220", {"bed": [220]}),
    ]:
        tables = tomllib.loads(find(name, FOLDERS[kind]).read_text())
        wrong = {key: value for key, value in {**copy.deepcopy(tables), **change}.items() if value is not None}
        if change.get("stock") == []:
            wrong.pop("sheet", None)
        assert not list(validator(kind).iter_errors(tables))
        assert list(validator(kind).iter_errors(wrong))
        with pytest.raises(InputError):
            check(wrong, MODELS[kind], name)


def test_lengths_that_are_read_are_valid():
    for text in ["1.25 in", "1 1/4 in", "1/4in", "31.75mm", "6", ".5 cm", '2"', "1 FT", " 3 mm "]:
        tables = {"grid": {"pitch": text}}
        validator("grid").validate(tables)
        check(tables, MODELS["grid"], "a")


def test_the_command():
    done = call("schema", "profile")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    wrong = call("schema", "profil")
    assert (wrong.returncode, 'Did you mean "profile"' in wrong.stderr) == (2, True)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_knows_the_commands(shell):
    """As the shell asks: the variables that the script of --show-completion sets."""
    env = {
        **os.environ,
        "_TILEGEN_COMPLETE": f"complete_{shell}",
        "COMP_WORDS": "tilegen sch",
        "COMP_CWORD": "1",
        "_TYPER_COMPLETE_ARGS": "tilegen sch",
        "_TYPER_COMPLETE_FISH_ACTION": "get-args",
    }
    code = "import sys; sys.argv = ['tilegen']\nfrom tilegen.cli import main\nmain()"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env, check=False)
    assert "schema" in done.stdout


def models_in(annotation):
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from models_in(inner)


def models_of(model, seen):
    if model not in seen:
        seen.add(model)
        for field in model.model_fields.values():
            for inner in models_in(field.annotation):
                models_of(inner, seen)
    return seen


def test_every_key_has_a_meaning():
    for kind in MODELS:
        for model in models_of(MODELS[kind], set()):
            for name, field in model.model_fields.items():
                said = [key.means for key in field.metadata if isinstance(key, Key)]
                assert len(said) == 1, f"{model.__name__}.{name}"
                assert said[0].endswith("."), said
                assert len(said[0].split()) >= 3, said


def test_a_schema_says_what_each_key_means():
    for kind in MODELS:
        schema = schema_of(kind)
        tables = [schema, *(table for table in schema["$defs"].values() if "properties" in table)]
        assert all(key.get("description") for table in tables for key in table["properties"].values()), kind


def test_a_missing_key_is_explained(tmp_path):
    path = tmp_path / "board.toml"
    path.write_text('name = "board"\ntitle = "Board"\nleast_lintel = 1\nleast_strip = 1\n[sheet]\nsize = [1, 1]\n')
    with pytest.raises(InputError, match="the thickness of one sheet as it is sold"):
        read_material(path)

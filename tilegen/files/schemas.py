"""The JSON Schema (draft 2020-12) of each kind of file, worked out from the models that check them."""

from __future__ import annotations

import copy
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import core_schema

from tilegen.errors import InputError, nearest
from tilegen.files.stock import ShelfFile
from tilegen.files.tables import PlanFile, ProfileFile
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile
from tilegen.model.printers import PrinterFile
from tilegen.model.tables import Measures, StyleFile

Schema = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
MODELS: dict[str, type[BaseModel]] = {
    "plan": PlanFile,
    "profile": ProfileFile,
    "grid": Measures,
    "material": MaterialFile,
    "machine": MachineFile,
    "printer": PrinterFile,
    "shelf": ShelfFile,
    "style": StyleFile,
}

# What `lengths.parse_length` reads, in the words of the regular expressions that JSON Schema has (ECMA-262).
_NUMBER = r"([0-9]+ +[0-9]+/[0-9]*[1-9][0-9]*|[0-9]+/[0-9]*[1-9][0-9]*|[0-9]+\.?[0-9]*|\.[0-9]+)"
_UNIT = (
    r"([Mm][Mm]|[Cc][Mm]|[Mm]|[Ii][Nn]|[Ii][Nn][Cc][Hh]|[Ii][Nn][Cc][Hh][Ee][Ss]|[Ff][Tt]|[Ff][Oo][Oo][Tt]"
    r"|[Ff][Ee][Ee][Tt]|\"|')?"
)
# What the models check beyond single keys, by the model's name.
_RULES: dict[str, Schema] = {
    "TileTable": {"oneOf": [{"required": [key]} for key in ("size", "outline", "outline_file")]},
    "MaterialFile": {
        "anyOf": [{"required": ["sheet"]}, {"required": ["stock"], "properties": {"stock": {"minItems": 1}}}]
    },
    "Verdict": {
        "dependentRequired": {"up_to": ["beyond"], "beyond": ["up_to"]},
        "allOf": [
            {
                "if": {"properties": {"verdict": {"const": word}}},
                "then": {"required": needed, "properties": {key: {"minLength": 1} for key in needed}},
            }
            for word, needed in (("ask", ["caution", "why"]), ("block", ["why", "instead"]))
        ],
    },
}
# Bounds that the grid checks as a whole.
_LEAST: dict[str, dict[str, str]] = {
    "GridTable": {
        **dict.fromkeys(("pitch", "wall_thickness", "wall_height", "base_depth"), "gt"),
        **dict.fromkeys(("joint_play",), "ge"),
    },
    "DoorwayTable": {"width": "gt", "height": "gt"},
    "FloorTable": {"groove_width": "gt", "groove_depth": "gt"},
}
_BOUNDS = {"gt": "exclusiveMinimum", "ge": "minimum", "lt": "exclusiveMaximum", "le": "maximum"}
_IS_LENGTH = "is_length"


def schema_of(kind: str) -> Schema:
    """The JSON Schema of a kind of file.

    Raises:
        InputError: a kind that is not known; offers the nearest.
    """
    model = MODELS.get(kind)
    if model is None:
        raise InputError(f'there is no kind of file called "{kind}"', cure=nearest(kind, MODELS))
    raw = model.model_json_schema(schema_generator=_Generator, mode="validation")
    for name, table in ((model.__name__, raw), *raw.get("$defs", {}).items()):
        _add_rules(name, table)
    told = {key: value for key, value in _told(raw).items() if key not in ("title", "$defs")}
    return {
        "$schema": DIALECT,
        "title": f"tilegen {kind} file",
        **told,
        "$defs": {**_told(raw.get("$defs", {})), **_TEXTS},
    }


class _Generator(GenerateJsonSchema):
    """Says of a length that it may be text; the models turn it into a number before they check it."""

    def function_before_schema(self, schema: core_schema.BeforeValidatorFunctionSchema) -> Schema:
        name = getattr(schema["function"]["function"], "__name__", "")
        if name == "read_length":
            return {**self.generate_inner(schema["schema"]), _IS_LENGTH: True}
        if name == "_kerf_pair":
            width: Schema = {"type": "number", _IS_LENGTH: True, "ge": 0, "le": 10}
            pair = {"type": "array", "prefixItems": [width, width], "minItems": 2, "maxItems": 2}
            return {"anyOf": [width, pair]}
        return super().function_before_schema(schema)


def _add_rules(name: str, table: Schema) -> None:
    for key, bound in _LEAST.get(name, {}).items():
        table["properties"][key]["anyOf"][0][bound] = 0
    rules = copy.deepcopy(_RULES.get(name, {}))
    if name == "TileTable":
        rules["oneOf"] = [rule for rule in rules["oneOf"] if rule["required"][0] in table["properties"]]
    if name == "MaterialFile":
        table["required"] = [key for key in table["required"] if key != "sheet"]
    table.update(rules)


def _told(value: Any) -> Any:  # noqa: ANN401
    """A part of a schema in the words of JSON Schema: bounds, lengths, and no null, which TOML does not have."""
    if isinstance(value, list):
        return [_told(item) for item in value]
    if not isinstance(value, dict):
        return value
    bounds = {_BOUNDS[key]: bound for key, bound in value.items() if key in _BOUNDS and not isinstance(bound, dict)}
    told = {key: _told(item) for key, item in value.items() if key not in (*_BOUNDS, _IS_LENGTH)}
    told.update(bounds)
    if value.get(_IS_LENGTH) is True:
        return _length(told)
    if isinstance(told.get("title"), str) and "properties" not in told:
        del told["title"]
    if _says_nothing(told.get("default", 0)):
        del told["default"]
    branches = told.get("anyOf")
    if isinstance(branches, list) and {"type": "null"} in branches:
        rest = [branch for branch in branches if branch != {"type": "null"}]
        others = {key: item for key, item in told.items() if key != "anyOf"}
        return {**rest[0], **others} if len(rest) == 1 else {**others, "anyOf": rest}
    return told


def _says_nothing(default: Any) -> bool:  # noqa: ANN401
    return default is None or (isinstance(default, dict) and all(map(_says_nothing, default.values())))


def _length(number: Schema) -> Schema:
    """A number of millimetres, or text with a unit; of its bounds the text keeps the sign alone."""
    bounds = {key: number[key] for key in _BOUNDS.values() if key in number}
    least = bounds.get("minimum", bounds.get("exclusiveMinimum", -1))
    text = "length" if least < 0 else "positive_length" if "exclusiveMinimum" in bounds else "unsigned_length"
    rest = {key: value for key, value in number.items() if key not in ("type", "title", *bounds)}
    if rest.get("default", 0) is None:
        del rest["default"]
    millimetres = {"type": "number", "minimum": -100000, "maximum": 100000, **bounds}
    return {"description": _LENGTH_SAID, **rest, "anyOf": [millimetres, {"$ref": f"#/$defs/{text}"}]}


def _text(sign: str, *, zero: bool) -> Schema:
    return {
        "type": "string",
        "maxLength": 40,
        "pattern": rf"^{'' if zero else '(?=[^/]*[1-9])'}\s*{sign}{_NUMBER}\s*{_UNIT}\s*$",
        "examples": ["1.25 in", "31.75 mm", "1/4 in"],
    }


_LENGTH_SAID = "A length: text with a unit (mm, cm, m, in, ft), or a bare number of millimetres."
_TEXTS: Schema = {
    "length": _text("-?", zero=True),
    "unsigned_length": _text("", zero=True),
    "positive_length": _text("", zero=False),
}

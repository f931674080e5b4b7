"""What printed tiles are carved as: the figures of a style, mm, as its file gives them (found by trying, no source)."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from pathlib import PurePath
from typing import Annotated, Literal

from tilegen.model.keys import Key

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stonework:
    """The figures of a style, mm; what its file does not say is as in dressed stone.

    Least and most are what the carver can do (common practice, no source: a nozzle of 0.4 mm draws no finer).
    """

    title: Annotated[str, Key("What people read.")] = field(default="", repr=False, compare=False)
    walls: Annotated[
        Literal["courses", "rock"],
        Key("Stones in courses, or ragged rock, of which only length, face and floor_face count."),
    ] = "courses"
    courses: Annotated[
        tuple[float, ...],
        Key(
            "Heights of a wall's courses from the floor up; counted from the top, again and again on a higher one.",
            takes="mm",
            least=2,
            most=50,
        ),
    ] = (6.9, 5.3, 6.4, 5.6, 6.28, 7.62)
    joint: Annotated[float, Key("The width of the joints.", takes="mm", least=0.2, most=3)] = 0.8
    depth: Annotated[
        float, Key("The depth of the joints; less where walls are thin.", takes="mm", least=0.2, most=3)
    ] = 1.0
    radius: Annotated[Span, Key("How far edges are taken off: from, to.", takes="mm", least=0, most=4)] = (0.35, 0.8)
    face: Annotated[
        Span, Key("How far stones lie under the plain tile's face: from, to.", takes="mm", least=0.03, most=2)
    ] = (0.03, 0.45)
    sunk: Annotated[float, Key("How much deeper than that stones amid a wall lie.", takes="mm", least=0, most=2)] = 0.25
    tilt: Annotated[
        float, Key("How much deeper one edge of a face lies than the other one, at most.", takes="mm", least=0, most=1)
    ] = 0.2
    chips: Annotated[float, Key("The share of corners that are knocked off, 0 to 1.", least=0, most=1)] = 0.12
    top: Annotated[
        float, Key("How much lower than others stones of a wall's top are, at most.", takes="mm", least=0, most=2)
    ] = 0.5
    wander: Annotated[
        float, Key("How far beds between courses rise and fall along a wall, at most.", takes="mm", least=0, most=1)
    ] = 0.15
    length: Annotated[Span, Key("How long stones are: from, to.", takes="mm", least=4, most=200)] = (8.0, 15.0)
    head: Annotated[
        Literal["arch", "beam"],
        Key("What is over a doorway: an arch of stones, or beams, which are bent over a round head."),
    ] = "arch"
    floor: Annotated[Literal["flags", "boards"], Key("Flagstones, or boards side by side.")] = "flags"
    floor_stone: Annotated[
        Span,
        Key("Flagstones: their least and largest side. Boards: their width, from, to.", takes="mm", least=4, most=60),
    ] = (7.0, 17.0)
    floor_joint: Annotated[float, Key("The width of the floor's joints.", takes="mm", least=0.2, most=3)] = 0.85
    floor_depth: Annotated[float, Key("The depth of the floor's joints.", takes="mm", least=0.2, most=3)] = 0.85
    floor_radius: Annotated[
        Span, Key("How far the edges of the floor are taken off: from, to.", takes="mm", least=0, most=3)
    ] = (0.35, 0.75)
    wear: Annotated[
        float,
        Key(
            "How much lower the floor is where people walk, from doorways to the tile's middle.",
            takes="mm",
            least=0,
            most=1,
        ),
    ] = field(default=0.3, repr=False)
    colour: Annotated[str, Key("The colour of stones or beams in pictures and on paper, as in #c4b7a0.")] = field(
        default="#c4b7a0", repr=False
    )
    colours: Annotated[tuple[str, ...], Key("More colours, each of as many stones as the first one.")] = field(
        default=(), repr=False
    )
    floor_colour: Annotated[str, Key("That of the floor; those of the walls if absent.")] = field(
        default="", repr=False
    )
    wall_image: Annotated[
        str, Key("An image that papers of walls show instead of stones: PNG or JPEG, its path from the style's folder.")
    ] = field(default="", repr=False)
    floor_image: Annotated[str, Key("The same of floors.")] = field(default="", repr=False)
    image_width: Annotated[
        float, Key("How wide an image is on paper; it is repeated.", takes="mm", least=5, most=2000)
    ] = field(default=63.5, repr=False)
    floor_face: Annotated[
        Span, Key("How far the floor lies under the plain tile's: from, to.", takes="mm", least=0.03, most=2)
    ] = (0.03, 0.43)

    def colours_of(self, *, floor: bool) -> tuple[str, ...]:
        """The colours of its floors or its walls."""
        return (self.floor_colour,) if floor and self.floor_colour else (self.colour, *self.colours)

    def __str__(self) -> str:
        """What tells types apart: the figures; wear, colours and images where they are given."""
        looks = ("wear", "colour", "colours", "floor_colour", "wall_image", "floor_image", "image_width")
        given = [f.name for f in fields(self) if f.name in looks and getattr(self, f.name) != f.default]
        # Of an image its file's name alone: ids are the same on every machine.
        words = [f"{name}={PurePath(str(getattr(self, name))).name}" for name in given]
        return " ".join([repr(self), *words])

"""What the readings of test pieces mean: from what was measured to the figures of a material and a machine."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from tilegen.errors import InputError, nearest
from tilegen.lengths import parse_length

# The pieces' nominal sizes, mm.
COMB_WIDTH, COMB_BLOCKS = 100.0, 10
BAR_LENGTH = 100.0
FENCE_SETTINGS = (20.0, 50.0)
FOLD_LENGTH = 50.0
WIDEST_KERF = 10.0
# How far a caliper across soft board may err, mm (common practice, no source).
FOLD_ERROR = 0.3

NAMES = {
    "thickness": "the sheet, with a caliper, at several places",
    "comb-x": f"the {COMB_BLOCKS} blocks of the comb along x, pushed together",
    "comb-y": f"the {COMB_BLOCKS} blocks of the comb along y, pushed together",
    "bar-x": "the bar along x",
    "bar-y": "the bar along y",
    "slot": "the nominal width of the slot that takes the sheet's edge as you like it",
    "strip-20": "the strip cut with the fence at 20 mm",
    "strip-50": "the strip cut with the fence at 50 mm",
    "fold": "outside to outside over the two folds of the strip, drawn 50 mm apart",
}


@dataclass(frozen=True, slots=True)
class Figures:
    """What readings come to, mm; None where nothing was read.

    thickness: mean of the sheet. kerf: along x and along y, the full width. scale: how long the machine makes what
    is drawn 1 long, along x and along y (the bars' kerf is allowed for). slot_fit: what a slot is wider than
    the sheet. fence_zero: what a piece measures more than the fence's scale says. hinge: depth of a fold's hinge
    line below the outer face, as a share of the sheet, or of the skin that a groove leaves.
    """

    thickness: float | None = None
    kerf: tuple[float, float] | None = None
    scale: tuple[float, float] | None = None
    slot_fit: float | None = None
    fence_zero: float | None = None
    hinge: float | None = None


def parse_readings(
    words: Sequence[str], names: Iterable[str] = NAMES, *, above: float = 0.0
) -> dict[str, tuple[float, ...]]:
    """Readings as typed: NAME=LENGTH, several lengths parted by commas; in mm by name.

    names: those that are known. above: what every length must exceed, mm.

    Raises:
        InputError: an unknown name (offers the nearest), no length, a length that is not above `above`.
    """
    known = list(names)
    found: dict[str, tuple[float, ...]] = {}
    for word in words:
        name, equals, text = word.partition("=")
        name = name.strip().lower()
        if not equals or name not in known:
            raise InputError(
                f'the reading "{word}"', expected="NAME=LENGTH", cure=nearest(name, known), place="--record"
            )
        try:
            lengths = tuple(parse_length(part.strip()) for part in text.split(","))
        except InputError as error:
            raise error.located(place=f"--record {name}") from None
        if not all(length > above for length in lengths):
            raise InputError(f'"{text}"', expected=f"lengths of more than {above:g}", place=f"--record {name}")
        found[name] = found.get(name, ()) + lengths
    return found


def figures_of(readings: Mapping[str, tuple[float, ...]], thickness: float, skin: float = 0.0) -> Figures:
    """The figures that readings come to; several readings of one piece count by their mean.

    thickness: of the sheet where it was not read, mm. skin: what the strip's grooves leave, mm; 0 for creases.

    Raises:
        InputError: a reading that can't be right.
    """
    mean = {name: math.fsum(values) / len(values) for name, values in readings.items()}
    sheet = mean.get("thickness", thickness)
    bars = [mean[name] / BAR_LENGTH for name in ("bar-x", "bar-y") if name in mean]
    for scale in bars:
        if not 0.9 < scale < 1.1:
            raise InputError(f"a bar of {scale * BAR_LENGTH:g} mm", expected="about 100 mm", place="--record bar")
    combs = [kerf_of_comb(mean[name], name) for name in ("comb-x", "comb-y") if name in mean]
    return Figures(
        thickness=mean.get("thickness"),
        kerf=(combs[0], combs[-1]) if combs else None,
        scale=(bars[0], bars[-1]) if bars else None,
        slot_fit=mean["slot"] - sheet if "slot" in mean else None,
        fence_zero=fence_zero_of([(s, mean[f"strip-{s:g}"]) for s in FENCE_SETTINGS if f"strip-{s:g}" in mean]),
        hinge=hinge_of(mean["fold"], skin or sheet) if "fold" in mean else None,
    )


def kerf_of_comb(pushed: float, name: str = "comb") -> float:
    """The kerf k = (W - pushed together) / N: each of the N blocks loses half a cut on each side (common practice).

    >>> round(kerf_of_comb(98.5), 3)
    0.15

    Raises:
        InputError: longer than drawn, or more kerf than any tool makes.
    """
    kerf = (COMB_WIDTH - pushed) / COMB_BLOCKS
    if not -1e-9 <= kerf <= WIDEST_KERF / 2:
        raise InputError(
            f"a comb of {pushed:g} mm",
            expected=f"between {COMB_WIDTH - COMB_BLOCKS * WIDEST_KERF / 2:g} and {COMB_WIDTH:g} mm",
            cure="measure all blocks pushed together, in mm",
            place=f"--record {name}",
        )
    return max(0.0, kerf)


def fence_zero_of(pairs: Sequence[tuple[float, float]]) -> float | None:
    """c0 = mean of (measured - set); the fence is then set to S = size - c0 (derived).

    >>> fence_zero_of([(20.0, 19.6), (50.0, 49.6)])
    -0.4
    """
    if not pairs:
        return None
    return round(math.fsum(measured - setting for setting, measured in pairs) / len(pairs), 9)


def hinge_of(outside: float, bends: float) -> float:
    """From L = h + 2 a b: a = (L - h) / (2 b), for two folds h apart (derived).

    bends: thickness of what bends, mm: the sheet at a crease, the skin that a groove leaves.

    >>> round(hinge_of(50.5, 0.5), 3), round(hinge_of(50.3, 0.3), 3)
    (0.5, 0.5)

    Raises:
        InputError: a hinge outside of what bends, by more than a reading can err.
    """
    least, most = FOLD_LENGTH, FOLD_LENGTH + 2 * bends
    if not least - FOLD_ERROR <= outside <= most + FOLD_ERROR:
        raise InputError(
            f"a fold of {outside:g} mm",
            expected=f"{least:g} to {most:g} mm",
            cure="fold the strip until both corners are square, a groove's sides shut, and measure again",
            place="--record fold",
        )
    return min(1.0, max(0.0, (outside - FOLD_LENGTH) / (2 * bends)))

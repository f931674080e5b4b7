"""What can stand on a floor or be sunk into it: one file per kind, and this table, in whose order names list them."""

from __future__ import annotations

from collections.abc import Mapping

from tilegen.tiles.features.dais import DAIS
from tilegen.tiles.features.kind import FeatureKey, FeatureKind
from tilegen.tiles.features.pillar import PILLAR
from tilegen.tiles.features.pit import PIT
from tilegen.tiles.features.stair import STAIR
from tilegen.tiles.features.well import WELL

FEATURES: Mapping[str, FeatureKind] = {kind.word: kind for kind in (PILLAR, DAIS, STAIR, PIT, WELL)}
# Every key that some kind takes, with its meaning.
FEATURE_KEYS: Mapping[str, FeatureKey] = {key: sort for kind in FEATURES.values() for key, sort in kind.takes.items()}


def taken_by(key: str) -> list[str]:
    """The kinds that take a key."""
    return [word for word, kind in FEATURES.items() if key in kind.takes]


def key_said(key: str) -> str:
    """What a key means, and which kinds take it if not all do."""
    says, kinds = FEATURE_KEYS[key].says, taken_by(key)
    return says if len(kinds) == len(FEATURES) else f"{says.rstrip('.')} ({', '.join(kinds)})."


def kinds_said() -> str:
    """What each kind is where nothing else is written."""
    each = "; ".join(f"{word}: {kind.says}" for word, kind in FEATURES.items())
    filling = ", ".join(word for word, kind in FEATURES.items() if kind.usual_size is None)
    return f"{each.capitalize()}. Without at and size it covers the floor between the walls ({filling})."

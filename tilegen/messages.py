"""What a run tells its user besides its results: a level, a sentence, the place, the cure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Literal

Level = Literal["stop", "decide", "note"]


@dataclass(frozen=True, slots=True)
class Message:
    """level: stop (the result would be wrong), decide (it works, but you may want something else), note (good to know).

    place: where in the file. cure: a sentence, or lines of TOML that would mend it, as they would stand in the file.
    """

    level: Level
    text: str
    place: str = ""
    cure: str = ""

    @property
    def words(self) -> str:
        """All of it in one line."""
        where = f"{self.place}: " if self.place else ""
        cure = f"To mend it, add: {'; '.join(self.cure.splitlines())}" if self.cure.startswith("[") else self.cure
        return f"{where}{self.text} {cure}".rstrip()


def messages_record(messages: Iterable[Message]) -> list[dict[str, Any]]:
    """`messages` of the JSON."""
    return [asdict(message) for message in messages]


def decisions(messages: Iterable[Message]) -> list[Message]:
    """What needs a decision, each once."""
    return [message for message in dict.fromkeys(messages) if message.level != "note"]

"""The words of a joint that was looked at: of a plate, and of what the calculation says.

Calculation, register, files and programs say them alike. Words of earlier versions are still read.
"""

from __future__ import annotations

from enum import StrEnum


class PlateState(StrEnum):
    """How a plate was found."""

    OK = "ok"
    WORN = "worn"
    CRACKED = "cracked"
    LOST = "lost"

    @classmethod
    def _missing_(cls, value: object) -> PlateState | None:
        """Files up to 0.2 said "sound"."""
        return cls.OK if value == "sound" else None


class Verdict(StrEnum):
    """What the calculation says, in three levels. None of them is leave to run."""

    STOP = "stop"
    REDUCE = "not at this load"
    WATCH = "no overload found"

    @property
    def sentence(self) -> str:
        """What it says, in full, as it stands on page and paper."""
        return _SENTENCES[self]

    @classmethod
    def _missing_(cls, value: object) -> Verdict | None:
        """Assessments up to 0.2 held the sentence."""
        return next((v for v, sentence in _SENTENCES.items() if sentence == value), None)


_SENTENCES = {
    Verdict.STOP: "stop: do not run this joint before it is repaired",
    Verdict.REDUCE: "not at this load: only with less, watched, and repaired at the first chance",
    Verdict.WATCH: "no overload found by this calculation: keep watching, repair as planned",
}

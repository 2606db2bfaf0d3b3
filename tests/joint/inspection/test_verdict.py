"""One word for how a plate was found and for what the calculation says; earlier words are read.

The earlier words are those of version 0.2: "sound" in inspection files (docs/schema of that
version), and the whole sentence in assessments that registers keep.
"""

from __future__ import annotations

import pytest
from pydantic import TypeAdapter, ValidationError

from splicewright.joint.inspection.verdict import PlateState, Verdict

PLATES, VERDICTS = TypeAdapter(PlateState), TypeAdapter(Verdict)


def test_a_file_of_version_0_2_is_read() -> None:
    assert PLATES.validate_json('"sound"') is PLATES.validate_json('"ok"') is PlateState.OK
    assert PLATES.dump_json(PlateState("sound")) == b'"ok"'


@pytest.mark.parametrize("verdict", Verdict)
def test_an_assessment_of_version_0_2_is_read(verdict: Verdict) -> None:
    assert VERDICTS.validate_python(verdict.sentence) is verdict
    assert VERDICTS.validate_json(VERDICTS.dump_json(verdict)) is verdict


@pytest.mark.parametrize("word", ["Ok", "fine", "stop!", ""])
def test_no_other_word_is_read(word: str) -> None:
    with pytest.raises(ValidationError):
        PLATES.validate_python(word)
    with pytest.raises(ValidationError):
        VERDICTS.validate_python(word)

"""What the log says of an error: its kind and its places, and none of its words."""

import pytest
from pydantic import ValidationError

from server.faults import describe_fault
from server.host import new_record
from shared.rules.settings import Settings
from shared.rules.steps import STEPS


def test_the_place_is_where_the_error_was_met() -> None:
    with pytest.raises(ZeroDivisionError) as met:
        _ = 1 / len("")
    line = met.traceback[0].lineno + 1
    name = "test_the_place_is_where_the_error_was_met"
    assert describe_fault(met.value) == f"ZeroDivisionError at {__name__}, {name}, line {line}"


def test_an_error_elsewhere_also_says_which_of_our_own_places_led_there(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> str:
        raise LookupError("5b")

    monkeypatch.setattr("server.host.clean_name", broken)
    with pytest.raises(LookupError) as met:
        new_record(Settings(), "Ann's table")
    ours = met.traceback[1].lineno + 1
    assert describe_fault(met.value).endswith(f", called from server.host, new_record, line {ours}")
    assert f"LookupError at {__name__}, " in describe_fault(met.value)


def test_a_value_in_the_errors_words_is_left_out() -> None:
    with pytest.raises(ValidationError) as met:
        Settings.model_validate({"level_ms": "5b and 3c"})
    assert "5b" in str(met.value)
    assert "5b" not in describe_fault(met.value)


def test_an_error_that_was_never_raised_has_no_place() -> None:
    assert describe_fault(LookupError("5b", STEPS)) == "LookupError"

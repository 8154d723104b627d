from shared_core.records.base import Finding, Severity
from shared_core.records.folding import folded


def _finding(code: str, severity: Severity, field: str = "stage_m") -> Finding:
    return Finding(code=code, severity=severity, field=field, saw=code)


def test_the_most_specific_stands_for_all_and_is_as_hard_as_the_hardest() -> None:
    found = folded(
        (_finding("plain", Severity.STOP), _finding("named", Severity.ASK)), ("named", "plain")
    )
    assert [(f.code, f.severity) for f in found] == [("named", Severity.STOP)]


def test_other_fields_and_notes_stay() -> None:
    given = (
        _finding("one", Severity.ASK),
        _finding("other field", Severity.ASK, "photos"),
        _finding("note", Severity.NOTE),
    )
    assert {f.code for f in folded(given, ())} == {"one", "other field", "note"}


def test_without_an_order_the_first_stands() -> None:
    given = (_finding("first", Severity.ASK), _finding("second", Severity.ASK))
    assert [f.code for f in folded(given, ())] == ["first"]

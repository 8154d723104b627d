"""One alarm for one mistake: where a finding explains others about the same field, it stands alone."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from shared_core.records.base import Finding, Severity

HARDEST_FIRST: Final = (Severity.STOP, Severity.ASK, Severity.NOTE)


def folded(findings: Iterable[Finding], order: Sequence[str]) -> Iterator[Finding]:
    """Keep of the STOPs and ASKs about one field the most specific, as hard as the hardest of them.

    Args:
        findings: All that was found about one record.
        order: Codes, the most specific first; a code not named comes last. Notes all stay.
    """
    rank = {code: place for place, code in enumerate(order)}
    alarms: dict[str, list[Finding]] = {}
    notes = []
    for finding in findings:
        if finding.severity is Severity.NOTE:
            notes.append(finding)
        else:
            alarms.setdefault(finding.field, []).append(finding)
    for group in alarms.values():
        best = min(group, key=lambda finding: rank.get(finding.code, len(rank)))
        hardest = min((finding.severity for finding in group), key=HARDEST_FIRST.index)
        yield replace(best, severity=hardest)
    yield from notes

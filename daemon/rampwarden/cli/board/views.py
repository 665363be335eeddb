"""Findings about a board for people and for programs."""

from collections.abc import Sequence
from typing import Any

from rampwarden.bench import BoardFinding, Sureness, needs_a_look
from rampwarden.cli.tables import Cell, print_table
from rampwarden.plan import Verdict

FORMAT = "rampwarden-board/1"

_STYLES = {Verdict.FINE: "green", Verdict.LOOK_AGAIN: "yellow", Verdict.WILL_NOT_WORK: "bold red"}


def print_findings(findings: Sequence[BoardFinding]) -> None:
    """Print one line a finding: verdict, part, what was found, how sure it is where that is not certain, what to do."""
    print_table(("", "", "found → what to do"), [_row(finding) for finding in findings])


def finding_tree(findings: Sequence[BoardFinding]) -> dict[str, Any]:
    """Give findings for programs."""
    return {
        "healthy": not needs_a_look(findings),
        "findings": [
            {
                "part": finding.part,
                "verdict": finding.verdict,
                "sureness": finding.sureness,
                "words": finding.words,
                "do": finding.do,
                "figures": dict(finding.figures),
            }
            for finding in findings
        ],
    }


def _row(finding: BoardFinding) -> tuple[Cell, ...]:
    sure = "" if finding.sureness is Sureness.CERTAIN else f" ({finding.sureness})"
    do = f" → {finding.do}" if finding.do else ""
    return ((str(finding.verdict), _STYLES[finding.verdict]), finding.part, f"{finding.words}{sure}{do}")

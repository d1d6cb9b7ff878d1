"""Fifteen racks with what the coach says about a pass, for people who know the trade to judge.

    python -m tests.bench.sentences

Prints the table that stands in tests/README.md. Racks and passes are dealt by a seeded generator (invented data).
"""

from collections.abc import Iterator

from shared.coach.sentences import pass_said
from shared.rules.tiles import by_suit, format_tiles
from tests.shared.coach.decisions import decisions

COUNT = 15


def table(count: int = COUNT) -> Iterator[str]:
    """Yield the table's lines."""
    yield "| step | rack | passed | what is said |"
    yield "| --- | --- | --- | --- |"
    for decision in decisions(count, seed=13):
        told, own = decision.told(), decision.ranking.passes[decision.place]
        rack = format_tiles(by_suit(decision.position.rack))
        yield f"| {decision.step} | {rack} | {pass_said(own)} | {' '.join((told.verdict, *told.plain))} |"


if __name__ == "__main__":
    print("\n".join(table()))

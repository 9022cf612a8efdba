"""What new pulls did to standing answers, in words, for the terminal and for pages."""

from collections.abc import Sequence

from app.style.numbers import chance
from model.records.answer import AnswerSummary
from model.service.moved import Moved


def quick_word(summary: AnswerSummary) -> str:
    """What stands behind the probability of a quick answer; nothing behind a full one's."""
    return "" if summary.posterior.state == "full" else ", quick"


def moved_words(moves: Sequence[Moved]) -> list[str]:
    """A line for each question that moved: ``leader: 0.81 → 0.88, quick``."""
    return [f"{one.question.name}: {_move(one)}" for one in moves]


def _move(one: Moved) -> str:
    before = None if one.before is None else chance(one.before.p_higher)
    if one.waits_because or not isinstance(one.after, AnswerSummary):
        stays = f"{before}, as before; " if before is not None else ""
        return f"{stays}waits for the full fit: {one.waits_because}"
    after = f"{chance(one.after.p_higher)}{quick_word(one.after)}"
    return after if before is None else f"{before} → {after}"

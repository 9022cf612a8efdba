"""What new pulls did to standing answers, in words, for the terminal and for pages."""

from collections.abc import Sequence
from typing import Final

from app.style.numbers import chance, counted
from model.records.answer import AnswerSummary
from model.service.moved import Moved

MOST_NAMED: Final = 3
"""Questions that wait for one reason and are named; more are counted."""


def quick_word(summary: AnswerSummary) -> str:
    """What stands behind the probability of a quick answer; nothing behind a full one's."""
    return "" if summary.posterior.state == "full" else ", quick"


def moved_words(moves: Sequence[Moved]) -> list[str]:
    """A line for each question whose shown figure moved: ``leader: 0.81 → 0.88, quick``.

    The others are counted in one line, and those that wait stand behind why they do.
    """
    told = [one for one in moves if not one.waits_because]
    lines = [(one, line) for one in moves if (line := _move(one))]
    still = len(told) - sum(one in told for one, _ in lines)
    return [*(line for _, line in lines), *_as_before(still, among=len(moves)), *_waiting(moves)]


def _move(one: Moved) -> str:
    """From which figure to which; empty where the same one is shown."""
    if not isinstance(one.after, AnswerSummary):
        return ""
    before = "" if one.before is None else chance(one.before.p_higher)
    after = chance(one.after.p_higher)
    if before == after:
        return ""
    from_before = f"{before} → " if before else ""
    return f"{one.question.name}: {from_before}{after}{quick_word(one.after)}"


def _as_before(count: int, *, among: int) -> list[str]:
    if not count:
        return []
    if count < among:
        return [f"{counted(count, 'other')} as before"]
    return [f"all {count} as before" if count > 1 else "as before"]


def _waiting(moves: Sequence[Moved]) -> list[str]:
    """One line for each reason why answers do not know all that is stored."""
    waiting: dict[str, list[str]] = {}
    for one in moves:
        if one.waits_because:
            waiting.setdefault(one.waits_because, []).append(one.question.name)
    return [f"{_who_waits(names)} for the full fit: {why}" for why, names in waiting.items()]


def _who_waits(names: Sequence[str]) -> str:
    who = ", ".join(names) if len(names) <= MOST_NAMED else f"{len(names)} questions"
    return f"{who} {'waits' if len(names) == 1 else 'wait'}"

"""Chances in ten about one more pull, or one more anchor, in words that fit the question."""

from model.questions.answer import Answer
from model.records.question import Measure, Question

ON_THE_NEXT_ANCHOR = "On the next anchor like these: "


def likelier(p_higher: float) -> tuple[str, float]:
    """The likelier of higher and lower, as a word with its chance.

    "Exceptionally unlikely to be higher" beside "virtually certain to be lower" would
    have a reader turn one of them round.
    """
    return ("higher", p_higher) if p_higher >= 0.5 else ("lower", 1 - p_higher)


def chances_words(answer: Answer) -> str:
    """As ``On the next anchor like these: 6 chances in 10 that A is higher``; may be empty.

    Told in the direction of the answer's sentence: "4 in 10 higher" beside "6 in 10
    lower" would read as two findings.
    """
    if answer.chances_in_ten is None:
        return ""
    is_higher = answer.summary.p_higher >= 0.5
    chances = _chances(answer, answer.chances_in_ten, is_higher=is_higher)
    return f"{_where(answer.question)}{chances} that {_claim(answer.question, is_higher=is_higher)}"


def _chances(answer: Answer, count: int, *, is_higher: bool) -> str:
    # Imported here: it brings the statistics library, and whoever has an answer has it by now.
    from model.questions.sentence import chances_in_ten_words
    from model.questions.settling import is_about_one_more

    p_higher = answer.summary.p_higher
    if is_about_one_more(answer.question):  # what the sentence says, so word for word the same
        return chances_in_ten_words(p_higher if is_higher else 1 - p_higher)
    own = count if is_higher else 10 - count
    return f"{own} {'chance' if own == 1 else 'chances'} in 10"


def _where(question: Question) -> str:
    """A question in general over the campaign's anchors is asked of the next one as well."""
    is_next_pull = question.measure is Measure.NEXT and question.over == "campaign"
    return "" if is_next_pull else ON_THE_NEXT_ANCHOR


def _claim(question: Question, *, is_higher: bool) -> str:
    if question.measure is Measure.NEXT:
        where = "above" if is_higher else "below"
        return f"the next pull of A comes {where} the next pull of B"
    return f"A is {'higher' if is_higher else 'lower'}"

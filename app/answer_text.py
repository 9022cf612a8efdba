"""Answers as text for a terminal: the sentence first, then the figures behind it."""

from collections.abc import Iterator, Sequence
from typing import Final

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from app.cautions import SHORT
from app.chances import chances_words, likelier
from app.moves import quick_word
from app.own_pulls import own_pulls_size, own_pulls_source
from app.shown import measure_rows
from app.style.numbers import (
    counted,
    effect,
    effect_chance,
    effect_range,
    effect_size,
    estimate,
    interval_name,
    percent,
)
from app.style.text import on_one_line, short_id
from app.style.words import (
    FINDING_SYMBOLS,
    FINDING_WORDS,
    MEASURE_WORDS,
    TOGETHER_WORDS,
    finding_between,
)
from model.base.likelihood_words import likelihood_words
from model.questions.answer import Answer, Side
from model.records.answer import AnswerSummary, NotYet, SidePulls
from model.records.campaign import Campaign
from model.records.question import Question
from model.service.answers import Failed, StandingAnswer

QUICK_WORDS: Final = "Quick: pulls after the fit are weighed in; the full fit follows."
INVENTED: Final = "The pulls of this campaign are invented."

_STANDING_COLUMNS: Final = {"Question": 18, "Finding": 15, "A higher": 11, "A against B": 24}
"""Headings and widths, characters; with the space between them they fill 80 columns."""

Row = tuple[str, str]


def answer_view(
    answer: Answer,
    campaign: Campaign,
    history: Sequence[AnswerSummary] = (),
    *,
    has_details: bool = False,
) -> RenderableType:
    """One answer: sentence, figures by name, cautions; on wish every measure in a table."""
    rows = [
        *question_rows(answer.summary, answer.question),
        *_effect_rows(answer, campaign),
        *_side_rows(answer, campaign),
        *evidence_rows(answer.summary, history),
        ("Caution", SHORT),
    ]
    if campaign.is_invented:
        rows.append(("Data", INVENTED))
    parts: list[RenderableType] = [text_of(answer.summary.sentence, "bold"), Text(), grid(rows)]
    if has_details:
        parts += [Text(), measures_view(answer, campaign)]
    return Group(*parts)


def text_of(content: str, style: str = "") -> Text:
    """A user's own words stay words: no markup, no control characters."""
    return Text(on_one_line(content), style=style)


def grid(rows: Sequence[Row]) -> Table:
    """Figures by name, a line each."""
    table = Table.grid(padding=(0, 2))
    table.add_column(style="dim", no_wrap=True)
    table.add_column(overflow="fold")
    for name, content in rows:
        table.add_row(name, text_of(content))
    return table


def question_rows(summary: AnswerSummary, question: Question) -> Iterator[Row]:
    """What was asked, what it came to, and with what probability."""
    found = summary.question
    yield "Question", f"{found.name} ({MEASURE_WORDS[question.measure]}; {found.seabed})"
    yield "A", found.a
    yield "B", found.b
    yield "Finding", f"{FINDING_SYMBOLS[summary.finding]} {FINDING_WORDS[summary.finding]}"
    way, chance = likelier(summary.p_higher)
    yield f"A {way}", f"{percent(chance)}, {likelihood_words(chance)}"
    band = effect_range(found.band.lower, found.band.upper, found.band.kind)
    chances = (
        f"above {percent(summary.p_above_band)}, inside {percent(summary.p_inside_band)}, "
        f"below {percent(summary.p_below_band)}"
    )
    yield "Band", f"{chances} (no practical difference: {band})"


def _effect_rows(answer: Answer, campaign: Campaign) -> Iterator[Row]:
    yield "A against B", effect(answer.summary.effect)
    if chances := chances_words(answer):
        yield "Chances", chances
    if answer.split is not None:
        load, upright, mode = (
            estimate(part, campaign)
            for part in (answer.split.load, answer.split.upright_only, answer.split.through_mode)
        )
        yield "Load through", f"both modes alike: {load}"
        yield "", f"once upright only: {upright}"
        yield "", f"how often it sets upright: {mode}"
    if answer.alone is not None:
        yield "Alone", f"{own_pulls_size(answer)}; {own_pulls_source(answer)}"
    elif answer.not_alone:
        yield "Alone", f"none: {answer.not_alone}"
    if answer.together is not None:
        chance = effect_chance(answer.together.p_higher, answer.together.effect.interval)
        size = f"{effect_size(answer.together.effect)}, above none {chance}"
        yield "Together", f"{size}; {TOGETHER_WORDS}: {', '.join(answer.together.names)}"
    if answer.multiples is not None:
        twice, four = answer.multiples.p_twice, answer.multiples.p_four_times
        yield "A ≥ 2 × B", f"{percent(twice)}; four times B: {percent(four)}"


def _side_rows(answer: Answer, campaign: Campaign) -> Iterator[Row]:
    kind = interval_name(answer.summary.effect.interval)
    for name, side in (("A", answer.a), ("B", answer.b)):
        yield f"{name} itself", f"{estimate(side.value, campaign)}; {kind}"
        yield "  its modes", _modes(side, campaign)
        yield "  its setting", _setting(side, campaign)


def _modes(side: Side, campaign: Campaign) -> str:
    upright, on_side = estimate(side.load_upright, campaign), estimate(side.load_on_side, campaign)
    return f"upright {upright}, on its side {on_side}"


def _setting(side: Side, campaign: Campaign) -> str:
    upright, sets = estimate(side.p_upright, campaign), estimate(side.p_sets, campaign)
    return f"upright {upright}, sets {sets}"


def evidence_rows(summary: AnswerSummary, history: Sequence[AnswerSummary] = ()) -> Iterator[Row]:
    """Pulls behind an answer, what to know before leaning on it, and its posterior."""
    shared = counted(summary.pulls.shared_outings, "shared outing")
    yield "Pulls", f"A {_pulls(summary.pulls.a)}; B {_pulls(summary.pulls.b)}; {shared}"
    if any(look.posterior != summary.posterior for look in history):
        yield "Moved", f"A higher {moved(summary, history)}"
    for flag in summary.flags:
        yield "Note", flag.text
    found = summary.posterior
    behind = f"{found.state}, {counted(found.pulls, 'pull')}, fit check {found.fit_check}"
    yield "Posterior", f"{behind} ({short_id(found.id)})"


def _pulls(pulls: SidePulls) -> str:
    void = f", {pulls.void} void" if pulls.void else ""
    return f"{pulls.count} ({pulls.held} held{void})"


def moved(summary: AnswerSummary, history: Sequence[AnswerSummary]) -> str:
    """How the probability moved from posterior to posterior: ``81 % → 88 %``."""
    earlier = [look for look in history if look.posterior != summary.posterior]
    return " → ".join(percent(look.p_higher) for look in (*earlier[-3:], summary))


def measures_view(answer: Answer, campaign: Campaign) -> Table:
    """Every measure of both sides, beside the one that was asked for."""
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1))
    for heading in ("Measure", "A", "B", "A against B", "A higher"):
        table.add_column(heading, overflow="fold")
    for row in measure_rows(answer):
        table.add_row(
            MEASURE_WORDS[row.measure],
            estimate(row.a, campaign),
            estimate(row.b, campaign),
            effect_size(row.effect),
            effect_chance(row.p_higher, row.effect.interval),
        )
    return table


def standing_view(answers: Sequence[StandingAnswer], campaign: Campaign) -> RenderableType:
    """Every standing question with its finding; fits 80 columns."""
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1), expand=False)
    for heading, width in _STANDING_COLUMNS.items():
        table.add_column(heading, overflow="fold", max_width=width)
    for standing in answers:
        table.add_row(*_standing_row(standing, campaign))
    notes = [SHORT, *([INVENTED] if campaign.is_invented else [])]
    return Group(table, text_of(_legend(answers)), text_of(" ".join(notes), "dim"))


def _legend(answers: Sequence[StandingAnswer]) -> str:
    """What the table's signs mean; empty where it holds no answer."""
    intervals = _intervals(answers)
    if not intervals:
        return ""
    quick = any(
        isinstance(one.outcome, AnswerSummary) and one.outcome.posterior.state == "quick"
        for one in answers
    )
    what = f" {QUICK_WORDS}" if quick else ""
    return (
        f"A is a question's first set-up, B its second. →: since the look before. {intervals}{what}"
    )


def _intervals(answers: Sequence[StandingAnswer]) -> str:
    """What the brackets are: kind and mass of every interval in the table."""
    names = dict.fromkeys(
        interval_name(standing.outcome.effect.interval)
        for standing in answers
        if isinstance(standing.outcome, AnswerSummary)
    )
    return f"In brackets: {', '.join(names)}." if names else ""


def _standing_row(standing: StandingAnswer, campaign: Campaign) -> tuple[Text, Text, Text, Text]:
    name, outcome = text_of(standing.question.name), standing.outcome
    if isinstance(outcome, AnswerSummary):
        words = finding_between(outcome.finding, standing.question, campaign)
        finding = f"{FINDING_SYMBOLS[outcome.finding]} {words}"
        return (
            name,
            text_of(finding),
            text_of(f"{moved(outcome, standing.history)}{quick_word(outcome)}"),
            text_of(effect_size(outcome.effect)),
        )
    return name, text_of(missing_words(outcome)), Text("–"), Text("–")


def missing_words(outcome: NotYet | Failed) -> str:
    """Why a question has no answer, and what to do."""
    kind = "not yet" if isinstance(outcome, NotYet) else "failed"
    return f"{kind}: {outcome.reason}. {outcome.hint}"

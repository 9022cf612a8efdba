"""The draft of a campaign file from what a log says; what only a person knows is a marked gap."""

from collections.abc import Iterator, Mapping

from model.ingest.draft_questions import (
    NOT_CHANGED,
    DraftQuestion,
    guessed_class,
    load_unit_of,
    questions_on,
    quoted,
    unquoted,
)
from model.ingest.gaps import GAP
from model.ingest.heading_guesses import WITHOUT_UNIT
from model.ingest.known_names import shown
from model.ingest.log_survey import LogSurvey, OutingSeen
from model.records.campaign import UNKNOWN_LADDER

LADDER = "steps"
BOAT = "boat"
BASELINE = "BASELINE"
"""Stands in a question that waits for the baseline of its treatment."""

Answers = Mapping[str, str]
"""TOML of each answer, by the key of its question."""


def draft_campaign_text(survey: LogSurvey, answers: Answers, name: str) -> str:
    """A campaign file for a log.

    Parameters
    ----------
    survey : LogSurvey
        What the log says.
    answers : mapping of str to str
        As :func:`model.ingest.draft_questions.read_answers` gives them; what is lacking is a gap.
    name : str
        Of the campaign.
    """
    asked = {question.key: question for question in questions_on(survey)}
    lines = [
        *_head(survey, asked, answers, name),
        *_boat(asked, answers),
        *_ladder(survey, asked, answers),
        *(line for outing in survey.outings for line in _outing(outing, survey, answers)),
        *_bottoms(survey, asked, answers),
        *_anchors(survey, asked, answers),
        *_treatments(survey, asked, answers),
        *_signs(survey, asked, answers),
        *_columns(survey, asked, answers),
        *_questions(survey, answers),
    ]
    return "\n".join(lines) + "\n"


def _said(key: str, asked: Mapping[str, DraftQuestion], answers: Answers) -> str:
    """The answer, or a gap with what belongs there beside it."""
    if key in answers:
        return answers[key]
    question = asked[key]
    is_told = question.beside or not question.guess
    guess = "" if is_told else f" (perhaps {question.guess})"
    return f"{quoted(GAP)}  # {question.beside or question.words}{guess}"


def _head(
    survey: LogSurvey, asked: Mapping[str, DraftQuestion], answers: Answers, name: str
) -> Iterator[str]:
    yield f"# Drafted from {shown(survey.source)}. Read it through: names are as the log has them,"
    yield f"# and what it does not say stands as {quoted(GAP)}, with what belongs there beside it."
    yield f"name = {quoted(name)}"
    if survey.usual_scope is not None:
        yield f"usual_scope = {survey.usual_scope:g}  # the commonest in the log"
    else:
        yield f"usual_scope = {_said('usual_scope', asked, answers)}"
    yield from ("", "[units]")
    known = load_unit_of(survey)
    yield f"load = {quoted(known) if known else _said('load_unit', asked, answers)}"
    length = _length_unit(survey)
    yield f"length = {quoted(length) if length else _said('length_unit', asked, answers)}"


def _length_unit(survey: LogSurvey) -> str:
    units = [survey.columns.get(name, "") for name in ("buried", "rode", "depth")]
    known = next((unit for unit in units if unit and unit != WITHOUT_UNIT), "")
    return known or ("" if WITHOUT_UNIT in units else "m")


def _boat(asked: Mapping[str, DraftQuestion], answers: Answers) -> Iterator[str]:
    yield from ("", "[[boats]]", f"name = {quoted(BOAT)}")
    yield f"top_thrust = {_said('top_thrust', asked, answers)}"


def _ladder(
    survey: LogSurvey, asked: Mapping[str, DraftQuestion], answers: Answers
) -> Iterator[str]:
    if not _has_ladder(survey, answers):
        return
    yield from ("", f"[ladders.{LADDER}]")
    for key in ("dwell_s", "final_hold_s"):
        yield f"{key} = {_said(key, asked, answers)}"
    yield f"steps = {_said('ladder', asked, answers)}"


def _has_ladder(survey: LogSurvey, answers: Answers) -> bool:
    is_stepped = any(outing.is_stepped for outing in survey.outings)
    return is_stepped and answers.get("ladder") != quoted(UNKNOWN_LADDER)


def _outing(outing: OutingSeen, survey: LogSurvey, answers: Answers) -> Iterator[str]:
    ladder = LADDER if outing.is_stepped and _has_ladder(survey, answers) else UNKNOWN_LADDER
    yield from ("", "[[outings]]", f"name = {quoted(outing.name)}")
    if outing.date and survey.date_order:
        yield f"date = {outing.date.isoformat()}"
    yield f"ladder = {quoted(ladder)}"
    if outing.site:
        yield f"site = {quoted(outing.site)}"


def _bottoms(
    survey: LogSurvey, asked: Mapping[str, DraftQuestion], answers: Answers
) -> Iterator[str]:
    for seabed in survey.seabeds:
        guess = guessed_class(seabed)
        kind = (
            f"{quoted(guess)}  # by its name" if guess else _said(f"class.{seabed}", asked, answers)
        )
        yield from ("", "[[seabeds]]", f"name = {quoted(seabed)}", f"class = {kind}")
    for site, seabed in survey.sites.items():
        yield from ("", "[[sites]]", f"name = {quoted(site)}")
        if seabed:
            yield f"seabed = {quoted(seabed)}  # the only one pulled there"


def _anchors(
    survey: LogSurvey, asked: Mapping[str, DraftQuestion], answers: Answers
) -> Iterator[str]:
    for anchor in survey.anchors:
        yield from ("", "[[anchors]]", f"code = {quoted(anchor)}")
        yield f"mass_kg = {_said(f'mass_kg.{anchor}', asked, answers)}"


def _changed(survey: LogSurvey, answers: Answers) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Treatments with their baseline, empty while it is a gap, and their levels."""
    for name, levels in survey.treatments.items():
        baseline = unquoted(answers.get(f"baseline.{name}", quoted("")))
        if baseline != NOT_CHANGED:
            has_it = not baseline or baseline in levels
            yield name, baseline, levels if has_it else (baseline, *levels)


def _treatments(
    survey: LogSurvey, asked: Mapping[str, DraftQuestion], answers: Answers
) -> Iterator[str]:
    for name, _, levels in _changed(survey, answers):
        yield from ("", f"[treatments.{quoted(name)}]")
        yield f"baseline = {_said(f'baseline.{name}', asked, answers)}"
        yield f"levels = [{', '.join(map(quoted, levels))}]"


def _signs(
    survey: LogSurvey, asked: Mapping[str, DraftQuestion], answers: Answers
) -> Iterator[str]:
    for sign in survey.signs:
        yield from ("", "[[signs]]", f"name = {quoted(sign)}")
        yield f"points_to = {_said(f'points_to.{sign}', asked, answers)}"


def _columns(
    survey: LogSurvey, asked: Mapping[str, DraftQuestion], answers: Answers
) -> Iterator[str]:
    style = ["decimal_comma = true"] if survey.has_decimal_comma else []
    if survey.date_order != "year first":
        order = survey.date_order
        said = quoted(order) if order else _said("date_order", asked, answers)
        style.append(f"date_order = {said}")
    if style or survey.own_headings:
        yield from ("", "# How your own sheet is written.", "[columns]", *style)
    if survey.own_headings:
        yield "[columns.headings]"
        for own, meant in survey.own_headings.items():
            yield f"{quoted(own.strip())} = {_meant(meant, survey, answers)}"


def _meant(meant: str, survey: LogSurvey, answers: Answers) -> str:
    """The log's heading that one stands for, with its unit as soon as that is known."""
    if not meant.endswith(WITHOUT_UNIT):
        return quoted(meant)
    stem = meant.removesuffix(WITHOUT_UNIT)
    key = unit_asked(stem)
    is_length = key == "length_unit"
    unit = answers.get(key) or quoted(_length_unit(survey) if is_length else load_unit_of(survey))
    if unit == quoted(""):
        return f"{quoted(GAP)}  # {stem} and its unit, as {stem}{'m' if is_length else 'kn'}"
    return quoted(stem + unquoted(unit))


def unit_asked(text: str) -> str:
    """Key of the question that gives the unit of a heading, by how the heading begins."""
    return "length_unit" if text.startswith(("rode_", "depth_", "buried_")) else "load_unit"


def _questions(survey: LogSurvey, answers: Answers) -> Iterator[str]:
    yield from ("", "# Standing questions, answered at every fit: add your own.")
    for name, baseline, levels in _changed(survey, answers):
        # A gap here would be one more fault for what its section asks already.
        begin = "" if baseline else "# "
        if not baseline:
            yield f"# Once {shown(name)} has its baseline above: write it for {BASELINE}, and take"
            yield '# each "# " below away; where one of the levels is the baseline, leave it out.'
        for level in levels:
            if level != baseline:
                yield f"{begin}[[questions]]"
                yield f"{begin}name = {quoted(f'{name} {level}')}"
                yield f"{begin}a = {quoted(f'{name}={level}')}"
                yield f"{begin}b = {quoted(f'{name}={baseline or BASELINE}')}"

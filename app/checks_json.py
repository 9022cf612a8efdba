"""What the checks found, as the object that ``--json`` prints."""

from app.answer_json import Json
from model.service.checks import Checked


def checks_json(found: Checked) -> Json:
    """The verdict, each check with its ``status`` and ``reason``, and the tables behind them."""
    tables = found.found.model_dump(mode="json")
    figures: dict[str, Json] = {"fit": found.fit_check.model_dump(mode="json")}
    for name in ("priors", "shares", "influences", "uniformity", "sensitivities", "doubled"):
        table = tables[name]
        figures[table.pop("check")["name"]] = table
    return {
        "status": found.verdict.status.value,
        "reason": found.verdict.reason,
        "checks": [
            {**check.model_dump(mode="json"), "figures": figures[check.name]}
            for check in found.checks
        ],
        "questions_not_checked": list(found.unknown),
        "cannot_say": tables["blind_spots"],
        "posterior": found.posterior.model_dump(mode="json"),
    }

"""The cautions, written once: wherever results are shown, in a terminal or on a page."""

from typing import Final

SHORT: Final = (
    "Lines under tension recoil without warning: stand clear, out of the line of pull and out of "
    "bights. These results compare set-ups under one protocol: they are no design holding power, "
    "no advice for a particular boat, and do not say what is safe to lie to."
)
"""Beside every answer."""

ON_THE_WATER: Final = (
    """**Stand clear.** A line that parts or lets go suddenly whips back along the line of pull, and
    further to the side than one would think. Nobody stands in that line, in a bight or astride a
    line (UK Code of Safe Working Practices for Merchant Seafarers, 2024, chapter 26; MGN 592
    Amendment 2).""",
    """**Do not wait for a sound.** Synthetic line gives no audible warning before it parts
    (US Navy line handling).""",
    """**Gear rated above the pull.** Test gear has a safe working load of at least 110 % of the
    greatest pull that is planned (0021/ND); rope on a winch stands at least twice the winch's
    pull (MGN 308).""",
    """**Crew and propeller first.** Thrust comes off before anybody reaches for gear, and the rode
    stays clear of the propeller. A pull can always be stopped: a stopped pull still counts.""",
)

ABOUT_RESULTS: Final = (
    """**A comparison, not a rating.** Figures hold for this boat, these bottoms, these specimens
    and this way of pulling. They are no design holding power, no advice for any one boat.""",
    """**Rules come first.** Follow the maker's sizing, class and national rules, local rules on
    anchoring and on protecting the seabed, and the judgement of a qualified person.""",
    """**Not settled means not settled.** A likely answer may turn with the next pulls.""",
)

"""The cautions that travel with every paper: two lines, and the long text with its sources.

They say what this log is not: no permission, no veterinarian, no judge.
"""

from __future__ import annotations

__all__ = ["CAUTIONS", "LONG", "SHORT", "SOURCES"]

SHORT = (
    "Local law may restrict or forbid these collars. Follow the maker's instructions. In "
    "studies, rewards did as well or better.\n"
    "Pain, skin injury, fear or aggression: to a veterinarian or a licensed behaviour "
    "professional. This log observes and reminds; it does not decide."
)
"""Two short paragraphs for the foot of a page."""

CAUTIONS: tuple[str, ...] = (
    "Local law may restrict or forbid the use, the sale or the ownership of these collars. "
    "Some countries ban them outright, others allow them only to permit holders. Check the "
    "current law where you work.",
    "Follow the maker's instructions for fit, contact, wear and use. Where they are stricter "
    "than anything here, follow them.",
    "Pain, skin injury, fear or aggression are for a veterinarian or a licensed behaviour "
    "professional. Take the collar off until one has seen the dog.",
    "In studies that compared them, dogs trained with rewards did as well or better than dogs "
    "trained with these collars, and showed fewer signs of stress [1, 2]. One of the studies "
    "is disputed, and answered [3]. Dogs trained with the collars have shown fear and pain "
    "[4], and a European society of clinical ethology opposes their use [5].",
    "Most thresholds here are common practice with no published source; each finding says "
    "which. Times are when the person spoke, not when the dog acted.",
    "This log observes and reminds. It does not decide, it knows only what it was told, "
    "and a session without findings is not necessarily a good one.",
)
"""The long cautions, a paragraph each; numbers in brackets refer to `SOURCES`."""

SOURCES: tuple[str, ...] = (
    "Cooper et al., The welfare consequences and efficacy of training pet dogs with remote "
    "electronic training collars in comparison to reward based training, PLoS ONE "
    "9(9):e102722, 2014.",
    "China, Mills, Cooper, Efficacy of dog training with and without remote electronic "
    "collars vs. a focus on positive reinforcement, Front Vet Sci 7:508, 2020.",
    "Sargisson, McLean, Front Vet Sci 8:629746, 2021, and the authors' reply, Front Vet Sci "
    "8:675005, 2021.",
    "Schilder, van der Borg, Training dogs with help of the shock collar: short and long term "
    "behavioural effects, Appl Anim Behav Sci 85:319-334, 2004.",
    "Masson et al., J Vet Behav 25:71-75, 2018 (European Society of Veterinary Clinical Ethology).",
)

LONG = "\n\n".join(
    (*CAUTIONS, "\n".join(f"[{number}] {source}" for number, source in enumerate(SOURCES, 1)))
)
"""All of it as plain text."""

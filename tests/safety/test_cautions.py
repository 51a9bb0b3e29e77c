"""The cautions say what must be said, and name their sources."""

from voicelog.safety.cautions import CAUTIONS, LONG, SHORT, SOURCES


def test_the_short_caution_is_two_lines() -> None:
    assert len(SHORT.splitlines()) == 2


def test_both_say_law_maker_vet_rewards_and_limits() -> None:
    for text in (SHORT, LONG):
        for words in (
            "Local law may restrict or forbid",
            "maker's instructions",
            "Pain, skin injury, fear or aggression",
            "veterinarian or a licensed behaviour professional",
            "did as well or better",
            "observes and reminds",
            "does not decide",
        ):
            assert words.casefold() in " ".join(text.split()).casefold()


def test_every_source_is_cited_and_every_citation_has_a_source() -> None:
    paragraphs = " ".join(CAUTIONS)
    cited = {int(digit) for digit in paragraphs if digit.isdigit()}
    assert cited == set(range(1, len(SOURCES) + 1))

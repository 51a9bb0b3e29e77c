"""held-long and uncued."""

from tests.safety.ask import found, the
from tests.safety.build import Field
from voicelog.model import Dog, Transmitter


def test_a_press_longer_than_three_seconds_is_a_caution() -> None:
    finding = the(Field().cue().press(4).wait(5).off().out(), "held-long")
    assert finding.severity == "caution"
    assert finding.evidence == ("e2", "e3")
    assert finding.message == "Level 4 was held for 5 s in rep 1."
    assert not found(Field().cue().press(4).wait(3).off().out(), "held-long")


def test_the_makers_cut_off_is_never_passed() -> None:
    short = Dog(name="Juno", transmitter=Transmitter(cutoff_s=2))
    assert found(Field(short).cue().press(4).wait(3).off().out(), "held-long")
    long = Dog(name="Juno", transmitter=Transmitter(cutoff_s=8))
    assert found(Field(long).cue().press(4).wait(5).off().out(), "held-long")


def test_the_next_level_ends_a_press() -> None:
    assert found(Field().cue().press(4).wait(6).press(5).out(), "held-long")


def test_a_press_whose_end_was_not_said_has_no_length() -> None:
    assert not found(Field().cue().press(4).wait(20).out(), "held-long")
    assert not found(Field().cue().press(4).wait(20).out().rep(4), "held-long")


def test_a_tap_and_a_vibration_are_not_held() -> None:
    assert not found(Field().cue().tap(4).wait(9).off().out(), "held-long")
    assert not found(Field().cue().vibrate().wait(9).off().out(), "held-long")


def test_the_fourth_press_in_a_rep_is_a_caution() -> None:
    three = Field().cue().tap(2).tap(2).tap(2)
    assert not found(three, "held-long")
    finding = the(three.tap(2).out(), "held-long")
    assert finding.message == "4 presses in rep 1."
    assert not found(Field().rep(2).rep(2).rep(2).rep(2), "held-long")


def test_a_press_without_a_cue_is_a_remark() -> None:
    finding = the(Field().press(4).out(), "uncued")
    assert finding.severity == "remark"
    assert finding.message == "Level 4 was used in rep 1 with no cue heard in 10 s."


def test_a_cue_counts_for_ten_seconds() -> None:
    assert not found(Field().cue().wait(10).press(4).out(), "uncued")
    assert found(Field().cue().wait(11).press(4).out(), "uncued")


def test_a_press_in_a_cued_rep_carries_the_cue_on() -> None:
    assert not found(Field().cue().wait(8).press(4).wait(8).press(4).out(), "uncued")
    assert found(Field().cue().wait(8).press(4).out().wait(8).press(4).out(), "uncued")


def test_whistle_helper_and_a_cue_in_the_same_breath_count() -> None:
    for words in ("recall pips level 4 came", "helper called level 4 came", "level 4 here came"):
        assert not found(Field().say(words), "uncued")


def test_find_level_needs_no_cue() -> None:
    assert not found(Field().drill("find level").tap(1).sign("nothing"), "uncued")


def test_it_is_said_once_a_session() -> None:
    assert len(found(Field().say("level 4 came").say("level 4 came"), "uncued")) == 1

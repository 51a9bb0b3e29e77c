"""What she hears when, from a dialogue without microphone, clock or earphone."""

from __future__ import annotations

import pytest

from tests.live.fields import Field, said, tones, warned
from tests.live.incidents_script import SESSIONS
from voicelog.live import incidents
from voicelog.live.dialogue import TO_HEAR_S
from voicelog.live.incidents import Incident
from voicelog.live.outputs import CancelSpeech, LogFieldEvent, Output, PlayTone, SpeakWords
from voicelog.model import Action, Status
from voicelog.safety.history import History

BEGUN = "Bracken. Collar 4. Ceiling 6. Without the button first."

# --- tones -------------------------------------------------------------------------------


def test_a_rep_told_in_pieces_has_one_tone_at_its_end() -> None:
    field = Field().start()
    assert tones(field.says("here")) == []
    assert tones(field.says("level one")) == []
    assert tones(field.says("ear flick")) == []
    assert tones(field.says("came")) == ["accepted"]
    assert tones(field.says("praised")) == []


def test_a_rep_told_in_one_breath_has_its_tone_at_once() -> None:
    assert tones(Field().start().says("here level one came")) == ["accepted"]


def test_a_rep_with_a_doubtful_word_sounds_doubtful_once() -> None:
    field = Field().start()
    field.says("here")
    assert tones(field.says("level one", status="doubtful")) == []
    assert tones(field.says("came")) == ["doubtful"]


def test_a_word_missed_in_an_open_rep_makes_its_tone_doubtful() -> None:
    field = Field().start()
    field.says("here level one")
    assert tones(field.says("mumble", status="rejected", confidence=0.3)) == []
    assert tones(field.says("came")) == ["doubtful"]


def test_talk_to_the_dog_is_silent_and_a_likely_note_is_not() -> None:
    field = Field().start()
    assert tones(field.says("good girl", status="rejected", confidence=0.0)) == []
    assert tones(field.says("mumble", status="rejected", confidence=0.3)) == ["not understood"]


def test_a_note_of_no_rep_has_a_tone_of_its_own() -> None:
    field = Field().start()
    assert tones(field.says("distraction low")) == ["accepted"]
    assert tones(field.says("distraction high", status="doubtful")) == ["doubtful"]
    assert tones(field.says("came")) == ["doubtful"], "there was no rep that it could end"


def test_in_the_search_for_the_level_each_tap_has_its_tone_with_its_sign() -> None:
    field = Field().start()
    field.says("drill find level")
    assert tones(field.says("tap one")) == []
    assert tones(field.says("nothing")) == ["accepted"]
    assert tones(field.says("tap two nothing")) == ["accepted"]


def test_a_paused_log_and_a_memo_are_silent() -> None:
    field = Field().start()
    assert tones(field.says("pause log")) == ["accepted"]
    assert tones(field.says("here level one came")) == []
    assert tones(field.says("resume log")) == ["accepted"]
    assert tones(field.says("memo")) == ["accepted"]
    assert tones(field.says("level two")) == []
    assert tones(field.says("end memo")) == ["accepted"]
    assert tones(field.says("here level one came")) == ["accepted"]


def test_a_soft_tick_each_minute_means_listening_unless_it_is_deaf() -> None:
    field = Field()
    assert tones(field.waits(61.0)) == [], "nobody proved yet that it hears"
    assert said([*field.dialogue.device("listening")]) == ["Listening"]
    assert tones(field.waits(180.0)) == ["listening"] * 3
    field.settle(field.dialogue.device("gone"))
    assert tones(field.waits(120.0)) == []
    field.settle(field.dialogue.device("back"))
    assert tones(field.waits(60.0)) == ["listening"]


# --- the start ---------------------------------------------------------------------------


def test_the_ear_says_dog_collar_and_ceiling_and_affirm_confirms() -> None:
    field = Field()
    outputs = field.says("start session bracken")
    assert said(outputs) == [BEGUN]
    assert LogFieldEvent("acknowledgement", "dog Bracken") in field.says("affirm")


def test_skin_that_is_to_be_looked_at_is_said_at_the_start() -> None:
    field = Field(history=History(skin="red"))
    begun = "Bracken. Collar 4. Ceiling 6. Skin was red. Collar stays off."
    assert said(field.says("start session bracken")) == [begun]


def test_a_start_that_is_not_sure_is_asked_and_said_once_it_is_affirmed() -> None:
    field = Field()
    outputs = field.says("start session bracken", status="doubtful")
    assert said(outputs) == ["start session bracken?"]
    assert said(field.says("affirm")) == [BEGUN]
    assert entry_status(field, "start session bracken") == ("accepted", False, "Anna")
    assert LogFieldEvent("acknowledgement", "dog Bracken") in field.says("affirm")


def test_a_start_that_is_not_sure_and_is_negated_is_not_said() -> None:
    field = Field()
    field.says("start session bracken", status="doubtful")
    assert said(field.says("negative")) == []


def test_wrong_dog_mends_and_is_said_back() -> None:
    field = Field()
    field.says("start session bracken")
    assert said(field.says("negative")) == ["Say wrong dog and name"]
    assert said(field.says("wrong dog wren")) == [
        "Wren. No collar number. No ceiling. Without the button first."
    ]
    assert LogFieldEvent("acknowledgement", "dog Wren") in field.says("affirm")
    assert field.derived().sessions[0].dog.name == "Wren"


def test_a_ceiling_said_before_counts_at_the_next_answer() -> None:
    field = Field().start()
    field.says("ceiling five")
    assert said(field.says("say ceiling")) == ["Ceiling 5"]


def test_setting_up_a_dog_takes_under_thirty_seconds() -> None:
    field = Field()
    field.says("start session bracken")
    field.waits(2.5)
    field.says("affirm")
    field.says("fit check two fingers")
    assert field.at_s < 30.0
    assert said(field.says("say level")) == ["No level yet"]


# --- answers -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ask", "answer"),
    [
        ("say level", "Level 2"),
        ("say count", "3 reps, 1 no button"),
        ("say last", "here level two came"),
        ("say working level", "Answered at level 2"),
        ("say ceiling", "Ceiling 6"),
    ],
)
def test_what_is_asked_is_answered(ask: str, answer: str) -> None:
    field = Field().start()
    field.says("here no button came")
    field.says("here level two came")
    field.waits(30.0)
    outputs = field.says(ask)
    assert said(outputs) == [answer]
    assert tones(outputs) == []
    assert said(field.says("say again")) == [answer]


def test_the_working_level_is_remembered_from_earlier_sessions() -> None:
    from tests.live.fields import BRACKEN

    past = History(transmitter=BRACKEN.transmitter, answered={"": 3}, stimulated=2, vibrated=True)
    field = Field(history=past)
    field.says("start session bracken")
    assert said(field.says("say working level")) == ["Answered at level 3"]


def test_a_question_before_any_session_is_answered_too() -> None:
    assert said(Field().says("say count")) == ["No session yet"]


def test_what_is_open_is_told_with_what_this_session_brought() -> None:
    field = Field().start()
    assert said(field.says("what is open")) == ["Nothing is open"]
    field.says("here level seven came")
    field.waits(10.0)
    assert said(field.says("say open")) == ["Over ceiling open, no button"]


@pytest.mark.parametrize("state", ["lame", "ill"])
def test_a_dog_that_is_not_well_has_no_button_today(state: str) -> None:
    field = Field()
    field.says("start session bracken")
    field.waits(5.0)
    assert said(field.says(f"health {state}")) == ["Not well. No button today"]
    field.waits(10.0)
    assert "Stop. No button today" in said(field.says("here vibrate"))


# --- replies by setting ------------------------------------------------------------------


def test_every_entry_is_read_back_where_she_wants_it_but_not_in_an_open_rep() -> None:
    field = Field(replies="all").start()
    assert said(field.says("distraction low")) == ["distraction low"]
    assert said(field.says("here")) == []
    assert said(field.says("no button came")) == ["no button came"]
    assert said(field.waits(20.0)) == []


def test_no_entry_is_read_back_where_she_wants_none() -> None:
    field = Field(replies="none").start()
    field.says("distraction low", status="doubtful")
    assert said(field.waits(20.0)) == []


def test_what_was_said_under_its_own_voice_is_not_asked_about() -> None:
    field = Field().start()
    field.says("distraction low", status="doubtful", over_voice=True)
    assert said(field.waits(20.0)) == []


# --- doubt settled by voice --------------------------------------------------------------


def entry_status(field: Field, words: str) -> tuple[str, bool, str]:
    entry = next(e for e in field.derived().entries if e.reading == words)
    return entry.status, entry.voided, entry.who


def test_an_unsure_level_is_asked_after_the_rep_and_affirmed() -> None:
    field = Field().start()
    assert said(field.says("here tap two", status="doubtful")) == []
    assert said(field.waits(5.0)) == []
    assert said(field.says("came")) == ["tap two?"]
    outputs = field.says("affirm")
    assert tones(outputs) == ["accepted"]
    assert entry_status(field, "here tap two") == ("accepted", False, "Anna")
    assert not field.derived().line.reps[-1].doubtful


def test_negative_strikes_what_was_asked() -> None:
    field = Field().start()
    assert said(field.says("tap two came", status="doubtful")) == ["tap two?"]
    field.says("negative")
    assert entry_status(field, "tap two came")[1]


def test_another_level_takes_the_place_of_the_one_asked_about() -> None:
    field = Field().start()
    field.says("drill find level")
    field.says("tap two nothing", status="doubtful")
    field.waits(1.0)
    field.says("tap three")
    assert entry_status(field, "tap two nothing")[1]
    assert not entry_status(field, "tap three")[1]


def test_the_same_level_again_confirms_and_is_no_second_press() -> None:
    field = Field().start()
    field.says("drill find level")
    field.says("tap two nothing", status="doubtful")
    field.waits(1.0)
    field.says("tap two")
    assert entry_status(field, "tap two nothing")[:2] == ("accepted", False)
    presses = [m for m in field.derived().sessions[-1].marks if m.kind == "press"]
    assert [m.value for m in presses] == [None, 2]


def test_a_jump_is_asked_before_the_caution_that_rests_on_it() -> None:
    field = Field().start()
    field.says("here level one came")
    field.waits(70.0)
    outputs = field.says("here level four came")
    assert said(outputs) == ["level four?"]
    outputs = field.says("affirm")
    outputs += field.waits(10.0)
    assert "step-big" in warned(outputs)


def test_who_goes_on_without_an_answer_is_warned_at_once() -> None:
    field = Field().start()
    assert said(field.says("test failed", status="doubtful")) == ["test failed?"]
    field.waits(3.0)
    outputs = field.says("here level one came") + field.waits(1.0)
    assert warned(outputs) == ["test-failed"]


def test_a_jump_that_was_misheard_is_not_warned_of() -> None:
    field = Field().start()
    field.says("here level one came")
    field.waits(70.0)
    field.says("here level four came")
    outputs = field.says("negative") + field.waits(30.0)
    assert "step-big" not in warned(outputs)


def test_without_an_answer_it_stays_for_the_evening_and_is_warned_of() -> None:
    field = Field().start()
    field.says("here level one came")
    field.waits(70.0)
    field.says("here level four came")
    outputs = field.waits(30.0)
    assert "step-big" in warned(outputs)
    before = len(field.events)
    field.says("affirm")
    assert not any(isinstance(e, Action) for e in field.events[before:]), "too late for an answer"


def test_where_too_much_was_said_to_ask_a_jump_is_warned_of_at_once() -> None:
    field = Field()
    ready, ten = SESSIONS[1]
    jumps = [one for one in ten if one.name == "big step"]
    for pause_s, words in ready:
        field.waits(pause_s)
        field.says(words)
    for one in ten[: ten.index(jumps[0])]:
        for pause_s, words in (*one.before, one.proof):
            field.waits(pause_s)
            field.says(words)
        field.waits(one.by_time_s + 3.0)
    came = []
    for one in jumps:
        for pause_s, words in one.before:
            field.waits(pause_s)
            outputs = field.says(words)
        came.append(said(outputs))
        field.waits(one.proof[0])
        field.says(one.proof[1])
        field.waits(3.0)
    assert came == [["level four?"], ["That step was too big"]]


# --- findings ----------------------------------------------------------------------------


def test_a_caution_waits_for_the_outcome() -> None:
    field = Field().start()
    field.says("here")
    assert warned(field.says("level five")) == []
    assert warned(field.waits(3.0)) in ([], ["held-long"])
    assert warned(field.says("came") + field.waits(10.0))


def test_a_caution_waits_until_she_has_stopped_talking() -> None:
    field = Field(replies="none")
    field.says("start session bracken")
    field.dialogue.speech_changed(True)
    assert warned(field.says("here level one came")) == []
    assert warned(field.waits(5.0)) == []
    field.dialogue.speech_changed(False)
    assert warned(field.waits(TO_HEAR_S - 0.2)) == [], "what she said last is not heard yet"
    assert len(warned(field.waits(0.4))) == 1


def test_what_she_said_just_now_is_heard_before_an_older_caution_begins() -> None:
    field = Field(replies="none").start()
    field.says("here level four came")
    field.dialogue.speech_changed(True)
    assert warned(field.waits(3.0)) == []
    field.dialogue.speech_changed(False)
    assert warned(field.waits(0.5)) == []
    assert warned(field.says("no contact") + field.says("here level one came"))[:1] == [
        "contact-poor"
    ]


def test_cautions_come_one_by_one_with_time_between() -> None:
    field = Field(replies="none")
    field.says("start session bracken")
    field.waits(5.0)
    outputs = field.says("level four came")
    assert len(warned(outputs)) == 1
    assert warned(field.waits(5.0)) == []
    assert len(warned(field.waits(2.0))) == 1


def test_a_stop_speaks_into_an_open_rep_twice_and_ticks_until_roger() -> None:
    field = Field().start()
    field.says("here")
    outputs = field.says("level seven")
    assert [output for output in outputs if isinstance(output, SpeakWords)] == [
        SpeakWords("Stop. Above the ceiling", rule="over-ceiling", tone="stop")
    ]
    outputs = field.waits(20.0)
    stops = [
        output
        for output in outputs
        if isinstance(output, SpeakWords) and output.rule == "over-ceiling"
    ]
    assert len(stops) == 1, "said twice in all"
    assert tones(outputs).count("waiting") >= 2
    assert LogFieldEvent("acknowledgement", "over-ceiling") in field.says("roger")
    assert "waiting" not in tones(field.waits(20.0))


def test_a_stop_nobody_acknowledges_falls_silent_after_two_minutes() -> None:
    field = Field().start()
    field.says("here level seven came")
    field.waits(121.0)
    assert "waiting" not in tones(field.waits(60.0))


def test_each_press_over_the_ceiling_is_warned_of() -> None:
    field = Field(replies="none").start()
    for level in ("nine", "ten", "twelve"):
        outputs = field.says(f"here level {level}")
        assert warned(outputs).count("over-ceiling") == 1, level
        field.says("roger")
        field.says("came")
        field.waits(30.0)


def test_a_press_that_was_over_before_does_not_silence_the_next_ones() -> None:
    field = Field().start()
    held = []
    for held_s in (2.5, 13.0, 15.0):  # at the first, her "thumb off" came late
        outputs = field.says("here level one")
        outputs += field.waits(held_s) + field.says("thumb off") + field.says("came")
        held.append(said(outputs).count("Thumb off"))
        field.waits(60.0)
    assert held == [1, 1, 1]


def test_each_big_step_is_warned_of_once_and_no_more() -> None:
    field = Field(replies="none").start()
    for _ in range(3):
        field.says("level one came")
        outputs = field.says("level four came") + field.waits(60.0)
        assert warned(outputs).count("step-big") == 1


def test_said_again_a_warning_leaves_its_advice_out() -> None:
    field = Field(replies="none").start()
    assert "Thumb off. Rest one minute" in said(field.says("here level two yelped"))
    field.says("came")
    field.waits(120.0)
    assert said(field.says("here level one yelped"))[0] == "Thumb off"


@pytest.mark.parametrize(
    ("rule", "words"), [("stress-level-again", "level two came"), ("gun", "level one came")]
)
def test_a_rule_that_papers_tell_once_warns_of_each_press(rule: str, words: str) -> None:
    field = Field(replies="none").start()
    field.says("drill gun" if rule == "gun" else "level one yelped came")
    for _ in range(3):
        field.waits(130.0)
        assert rule in warned(field.says(words) + field.waits(60.0))


def test_a_strike_brings_no_old_stop_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """With more presses than are handed on, the oldest of those stays out when a new one goes."""
    monkeypatch.setattr(incidents, "NEWEST", 2)
    field = Field(replies="none").start()
    field.says("drill gun")
    for _ in range(4):
        assert "gun" in warned(field.says("level one came") + field.waits(130.0))
    outputs = field.says("strike that") + field.waits(60.0)
    assert "gun" not in warned(outputs)


def test_warnings_that_waited_together_are_said_as_one() -> None:
    field = Field(replies="none").start()
    field.dialogue.speech_changed(True)
    for words in ("level one came", "level four came", "level one came", "level four came"):
        field.says(words)
    field.dialogue.speech_changed(False)
    assert warned(field.waits(60.0)).count("step-big") == 1


# --- a strong sign -----------------------------------------------------------------------


def test_a_strong_sign_in_an_open_rep_has_its_tone_and_thumb_off_at_once() -> None:
    field = Field().start()
    field.says("here")
    field.says("level two")
    outputs = field.says("yelped")
    assert outputs[:2] == [
        PlayTone("accepted"),
        SpeakWords("Thumb off. Rest one minute", rule="stress-strong"),
    ]
    assert tones(field.waits(3.0)) == []
    assert tones(field.says("came")) == ["accepted"], "the rep has its own"


def test_a_doubtful_strong_sign_says_thumb_off_first_and_then_perhaps() -> None:
    field = Field().start()
    field.says("here")
    field.says("level two")
    field.dialogue.speech_changed(True)
    outputs = field.says("yelped", status="doubtful")
    assert tones(outputs) == ["doubtful"]
    assert said(outputs) == ["Thumb off, perhaps yelped"]
    field.dialogue.speech_changed(False)
    assert said(field.says("came") + field.waits(5.0)) == ["yelped?"], "then it asks"


@pytest.mark.parametrize(
    ("words", "warning"),
    [
        ("yelped", "Thumb off, perhaps yelped"),
        ("skin sore", "Perhaps stop. Skin sore, see vet"),
    ],
)
def test_what_is_not_decided_yet_is_warned_of_at_once(words: str, warning: str) -> None:
    field = Field().start()
    field.says("here level two")
    assert said(field.undecided(words)) == [warning]
    assert warning not in said(field.says(words, status="doubtful")), "it was said"


@pytest.mark.parametrize(("status", "at_once"), [("accepted", True), ("doubtful", False)])
def test_a_caution_waits_only_for_what_is_not_sure(status: Status, at_once: bool) -> None:
    field = Field().start()
    field.says("here level one came")
    assert bool(warned(field.undecided("here level four came", status))) is at_once
    then = warned(field.says("here level four came", status=status))
    assert then == [], "said already, or asked about first"


def test_an_affirm_to_check_ends_the_question_and_what_rests_on_it_is_said() -> None:
    field = Field().start()
    for words in ("here level one came", "here level four came"):
        asked = said(field.says(words) + field.waits(4.0))
    assert asked == ["level four?"]
    assert warned(field.undecided("affirm") + field.waits(0.2)) == ["step-big"]
    assert field.dialogue.question == "level four?"
    field.says("affirm", status="doubtful")
    assert field.dialogue.question is None


def test_a_warning_of_what_comes_to_nothing_is_left() -> None:
    field = Field().start()
    field.says("here level two")
    assert said(field.undecided("yelped"))
    (left,) = (one for one in field.says("came") if isinstance(one, CancelSpeech))
    assert isinstance(left.key, Incident)
    assert left.key.rule == "stress-strong"
    field.says("here level one")
    assert not field.undecided("neck twitch"), "nothing dangerous"


@pytest.mark.parametrize(("status", "silent"), [("accepted", True), ("doubtful", False)])
def test_only_a_sure_negative_silences_what_was_warned_of(status: Status, silent: bool) -> None:
    field = Field().start()
    field.says("here level seven came", status="doubtful")
    field.waits(3.0)
    field.says("negative", status=status)
    assert (field.dialogue.arbiter.stops == ()) is silent


def test_to_ask_in_doubt_is_answered_and_not_read_back() -> None:
    field = Field().start()
    field.says("here no button came")
    field.waits(10.0)
    outputs = field.says("say last", status="doubtful") + field.waits(20.0)
    assert said(outputs) == ["here no button came"]


def test_a_question_that_a_warning_interrupts_is_asked_again() -> None:
    field = Field().start()
    assert said(field.says("distraction low", status="doubtful")) == ["distraction low?"]
    field.at_s -= 1.2
    outputs = field.says("yelped") + field.waits(15.0)
    assert said(outputs)[0].startswith("Thumb off")
    assert said(outputs).count("distraction low?") == 1


def test_a_stop_that_came_while_the_earphone_was_gone_is_said_when_it_is_back() -> None:
    field = Field().start()
    field.dialogue.device("earphone gone", "gone")
    field.says("here level seven came")
    field.waits(20.0)
    outputs = [*field.dialogue.device("earphone back"), *field.waits(10.0)]
    assert warned(outputs).count("over-ceiling") == 2


def test_a_sign_that_ends_it_says_thumb_off_before_the_stop() -> None:
    field = Field().start()
    field.says("here")
    field.says("level two")
    assert said(field.says("screamed") + field.waits(1.0))[:2] == [
        "Thumb off",
        "Stop. No more stimulation today",
    ]


def test_a_strong_sign_after_the_rep_has_its_tone_too() -> None:
    field = Field().start()
    field.says("here level two came")
    outputs = field.says("yelped")
    assert tones(outputs) == ["accepted"]
    assert "stress-strong" in warned(outputs)


# --- what no longer stands ---------------------------------------------------------------


def cancelled(outputs: list[Output]) -> list[str]:
    """The rules of which nothing more is to sound."""
    return [
        output.key.rule
        for output in outputs
        if isinstance(output, CancelSpeech) and isinstance(output.key, Incident)
    ]


@pytest.mark.parametrize("words", ["strike that", "correction level five"])
def test_a_stop_that_no_longer_stands_is_silent_at_once(words: str) -> None:
    field = Field(replies="none").start()
    field.says("here")
    assert "over-ceiling" in warned(field.says("level seven"))
    outputs = field.says(words)
    assert "over-ceiling" in cancelled(outputs)
    outputs = field.waits(130.0)
    assert "over-ceiling" not in warned(outputs)
    assert "waiting" not in tones(outputs)


def test_a_stop_that_rested_on_what_she_negates_is_silent_at_once() -> None:
    field = Field().start()
    outputs = field.says("here level seven came", status="doubtful") + field.waits(3.0)
    assert {"Perhaps stop. Above the ceiling", "level seven?"} <= set(said(outputs))
    assert "over-ceiling" in cancelled(field.says("negative"))
    outputs = field.waits(130.0)
    assert "over-ceiling" not in warned(outputs)
    assert "waiting" not in tones(outputs)


def test_what_stands_beside_it_goes_on() -> None:
    field = Field(replies="none").start()
    field.says("here level seven came")
    field.says("here level eight came")
    field.says("strike that")
    assert "waiting" in tones(field.waits(20.0))
    assert len(field.dialogue.arbiter.stops) == 1


def test_a_cancel_covers_what_is_about_its_key_alone() -> None:
    one, other = Incident("s", "over-ceiling", "u-1"), Incident("s", "over-ceiling", "u-2")
    cancel = CancelSpeech(one)
    assert cancel.covers(SpeakWords("Stop.", key=one))
    assert not cancel.covers(SpeakWords("Stop.", key=other))
    assert not cancel.covers(SpeakWords("Level 3"))
    assert not cancel.covers(PlayTone("waiting"))
    assert not cancel.covers("Stop.")


# --- more of findings --------------------------------------------------------------------


def test_a_finding_on_doubt_says_perhaps() -> None:
    field = Field(replies="none").start()
    field.says("here level seven", status="doubtful")
    assert "Perhaps stop. Above the ceiling" in [
        stop.saying.words for stop in field.dialogue.arbiter.stops
    ]


def test_what_is_decided_at_the_end_of_a_session_is_told_with_its_count() -> None:
    field = Field().start()
    assert "ended-failed" not in warned(field.says("here no button ignored") + field.waits(30.0))
    outputs = field.says("end session") + field.waits(30.0)
    assert said(outputs) == ["2 reps, 0 unaided. End on something easy."]


def test_after_the_end_nothing_is_said_but_the_count_and_what_is_asked() -> None:
    field = Field()
    field.says("start session bracken")
    field.waits(5.0)
    field.says("level four came")  # cautions wait for each other
    outputs = field.says("end session") + field.waits(130.0)
    assert said(outputs) == ["1 rep, 0 unaided."]
    assert tones(outputs) == ["accepted"], "no tick either"
    assert said(field.says("say count")) == ["No session yet"]


def test_a_stop_is_said_to_its_end_after_the_session_and_no_more() -> None:
    field = Field().start()
    field.says("here level seven came")
    outputs = field.says("end session") + field.waits(130.0)
    assert warned(outputs) == ["over-ceiling"], "the second time"
    assert "waiting" not in tones(outputs)


# --- time --------------------------------------------------------------------------------


def test_a_press_over_its_limit_is_told_while_it_lasts() -> None:
    field = Field().start()
    field.says("here level one")
    outputs = field.waits(6.0)
    assert said(outputs) == ["Thumb off"]
    told_s = [a for a in outputs if isinstance(a, SpeakWords)]
    assert told_s[0].rule == "held-long"


def test_a_thumb_that_stayed_on_after_the_arrival_is_told_when_it_comes_off() -> None:
    field = Field().start()
    for words in ("fit check two fingers", "here", "vibrate", "came"):
        assert "kept-on" not in warned(field.says(words))
    field.waits(4.0)
    told = field.says("thumb off")
    told += field.waits(10.0)
    assert "kept-on" in warned(told)
    assert "Thumb off at the arrival" in said(told)


@pytest.mark.parametrize("words", ["tap one", "level one momentary", "here no button", "vibrate"])
def test_what_is_not_held_is_not_told_to_be_let_go(words: str) -> None:
    field = Field().start()
    field.says(words)
    assert "held-long" not in warned(field.waits(30.0))


def test_thumb_off_in_time_is_silent() -> None:
    field = Field().start()
    field.says("here level one")
    field.says("thumb off")
    assert "held-long" not in warned(field.waits(30.0))


def test_a_session_over_its_minutes_is_told_without_a_word_from_her() -> None:
    field = Field().start()
    field.says("here level one came")
    outputs = field.waits(8 * 60.0)
    assert "too-long" in warned(outputs)


def test_a_collar_worn_too_long_is_told_without_a_word_from_her() -> None:
    field = Field(replies="none")
    field.says("start session bracken")
    field.says("collar fitted")
    field.at_s += 2 * 3600 - 30
    assert "wear-long" not in warned(field.waits(5.0))
    assert "wear-long" in warned(field.waits(60.0))


# --- equipment ---------------------------------------------------------------------------


def test_trouble_is_said_at_once_also_in_an_open_rep_and_is_kept() -> None:
    field = Field().start()
    field.says("here level one")
    outputs = field.dialogue.device("gone")
    assert outputs == (SpeakWords("Microphone gone"), LogFieldEvent("device", "gone"))
    assert field.dialogue.troubles == {"gone": "Microphone gone"}
    field.dialogue.device("back")
    assert field.dialogue.troubles == {}


def test_what_was_not_heard_is_said_when_it_is_back() -> None:
    field = Field().start()
    for state in ("gone", "ear gone"):
        field.dialogue.device(state)
    field.waits(5.0)
    outputs = field.settle(field.dialogue.device("back", missed_s=12.3)) + field.waits(5.0)
    assert said(outputs) == ["Microphone back. 12 seconds not heard"]
    assert LogFieldEvent("device", "back, 12.3 s") in outputs
    outputs = field.settle(field.dialogue.device("ear back", missed_s=130.0)) + field.waits(5.0)
    assert said(outputs) == ["Hearing back. 2 minutes late"]


def test_nothing_spoken_is_longer_than_six_words() -> None:
    field = Field(replies="all").start()
    outputs = field.says("drill recall distraction low birds distance ten metres location field")
    for output in outputs:
        if isinstance(output, SpeakWords):
            assert all(len(part.split()) <= 6 for part in output.words.split(". "))
    assert tones(outputs) == [PlayTone("accepted").tone]


# --- questions about reps ------------------------------------------------------------------


def test_a_rep_without_an_outcome_is_asked_about_when_the_session_has_ended() -> None:
    field = Field().start()
    field.says("here")
    ended = said(field.says("end session"))
    assert ended == ["2 reps, 0 unaided. Rep 2: came, ignored, line help?"]
    assert said(field.waits(120.0)) == []


def test_several_reps_are_told_as_a_number_and_none_where_all_is_said() -> None:
    field = Field().start()
    assert said(Field().start().says("end session")) == ["1 rep, 0 unaided."]
    for _ in range(3):
        field.says("here")
        field.waits(15.0)
    assert said(field.says("end session")) == ["4 reps, 0 unaided. 3 reps to answer tonight."]


def test_nothing_is_asked_where_she_wants_no_replies_nor_while_the_session_goes_on() -> None:
    field = Field(replies="none").start()
    field.says("here")
    assert said(field.says("end session")) == []
    field = Field().start()
    field.says("here")
    field.waits(15.0)
    assert said(field.says("here no button came")) == []


def test_a_rep_that_is_no_longer_sure_sounds_again() -> None:
    field = Field().start()
    field.says("here level one")
    assert tones(field.says("came")) == ["accepted"]
    assert tones(field.says("no button")) == ["doubtful"]
    assert tones(field.says("no button")) == []


def test_what_mends_a_rep_soon_after_is_silent() -> None:
    field = Field().start()
    field.says("here")
    assert tones(field.says("ignored")) == ["accepted"]
    assert tones(field.says("line help")) == []

"""The demo's four stories: what truly happened, the words that tell it, what must be found.

Told by the phrases of grammars/en, with talk in between. Both dogs have the default profile:
a transmitter from 1 to 100, so a step is 5 levels; continuous unless said otherwise; the cue
"here". Each recording stands alone: to the program every dog is new each time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

__all__ = ["SCENARIOS", "PaperLine", "Rep", "Scenario"]


@dataclass(frozen=True)
class PaperLine:
    """One utterance. Commas part its phrases for the voice and are not words."""

    text: str
    who: str = "trainer"
    kind: str = "command"
    pause_s: float = 1.4

    @property
    def words(self) -> str:
        return self.text.replace(",", "").lower()


def say(text: str, pause_s: float = 1.4) -> PaperLine:
    return PaperLine(text, pause_s=pause_s)


def talk(text: str, pause_s: float = 1.4) -> PaperLine:
    return PaperLine(text, kind="talk", pause_s=pause_s)


def helper(text: str, pause_s: float = 1.2) -> PaperLine:
    return PaperLine(text, who="helper", kind="talk", pause_s=pause_s)


@dataclass(frozen=True)
class Rep:
    """What one rep must come out as; fields as in the contract, levels without times."""

    dog: str
    drill: str | None
    mode: str
    levels: tuple[int, ...] = ()
    outcome: str | None = None
    signs: tuple[str, ...] = ()
    cue: str | None = None
    cue_by: str | None = None
    rewards: tuple[str, ...] = ()
    distraction: str | None = None
    distance: int | None = None
    distance_unit: str | None = None
    stress: bool = False
    void: bool = False
    why_void: str | None = None

    def record(self, number: int) -> dict[str, Any]:
        """The rep for expected.json; numbers count per dog, void reps included."""
        return {
            "number": number,
            "dog": self.dog,
            "drill": self.drill,
            "mode": self.mode,
            "levels": list(self.levels),
            "peak_level": max(self.levels, default=None),
            "end_level": self.levels[-1] if self.levels else None,
            "outcome": self.outcome,
            "signs": list(self.signs),
            "cue": self.cue,
            "cue_by": self.cue_by,
            "cues": int(self.cue is not None),
            "rewards": list(self.rewards),
            "distraction": self.distraction,
            "distance": self.distance,
            "distance_unit": self.distance_unit,
            "stress": self.stress,
            "void": self.void,
            "why_void": self.why_void,
        }


@dataclass(frozen=True)
class Scenario:
    """One recording. findings: (rule, dog, numbers of reps that it must name, maybe others too).

    barks: (line after which a dog barks for 2.5 s, speech-to-bark ratio in dB).
    """

    JUDGED: ClassVar[tuple[str, ...]] = (
        "fit-missing", "contact-poor", "step-big", "over-ceiling", "over-range", "stress-strong",
        "stress-not-eased", "stress-twice", "ended-failed", "skin",
    )  # fmt: skip
    """The rules a scenario speaks for: those of them not in `findings` must stay silent."""

    folder: str
    told: str
    started_at: str
    trainer: str
    helper: str
    seed: int
    dogs: tuple[str, ...]
    lines: tuple[PaperLine, ...]
    reps: tuple[Rep, ...]
    findings: tuple[tuple[str, str, tuple[int, ...]], ...] = ()
    wind_snr_db: float | None = None
    barks: tuple[tuple[int, float], ...] = ()
    tempo: float = 0.95

    @property
    def audio(self) -> str:
        return f"{self.folder}.opus"


BRACKEN, WREN = "bracken", "wren"
HERE = {"cue": "here", "cue_by": "voice"}
NEAR = {"distraction": "low", "distance": 20, "distance_unit": "metres"}
NOTICED_NOTHING = ("nothing",)

DAY1 = Scenario(
    folder="day1-bracken",
    told=(
        "Bracken's first collar day. Two recalls on vibrate, then the lowest level is looked for "
        "with taps: nothing at one and two, a neck twitch at three. Three recalls at a low level "
        "or with none follow; one rep was no rep and is struck; the last two need no button."
    ),
    started_at="2026-04-18T07:32:00+01:00",
    trainer="heart",
    helper="flite-awb",
    seed=418,
    dogs=(BRACKEN,),
    wind_snr_db=24.0,
    barks=((19, 12.0), (46, 14.0)),
    lines=(
        say("start session, bracken"),
        talk("good boy, stand still while I do this up"),
        say("collar number three"),
        say("collar fitted"),
        say("fit check, two fingers"),
        say("contact solid"),
        say("skin clear, coat dry"),
        say("line clipped"),
        say("location field"),
        say("temperature twelve"),
        helper("shall I go down to the far hedge"),
        talk("yes please, and keep your hands in your pockets"),
        say("drill recall"),
        say("distraction low"),
        say("distance twenty metres"),
        talk("off you go then, have a sniff"),
        # two on vibrate
        say("bracken here", 2.4),
        say("vibrate", 1.0),
        say("on his way", 1.2),
        say("came, ear flick", 1.6),
        talk("what a clever boy, that was lovely"),
        say("here, vibrate, came", 2.6),
        say("praised", 1.0),
        helper("he looks quite happy about it"),
        # what does he notice
        say("drill find level", 2.2),
        say("tap one", 2.0),
        say("nothing", 1.8),
        say("tap two", 2.2),
        say("nothing", 1.8),
        say("tap three", 2.4),
        say("neck twitch", 1.2),
        talk("there it is, thank you my lad"),
        # recalls at the level he answers
        say("drill recall", 2.2),
        say("bracken here", 2.4),
        say("level three", 1.1),
        say("thumb off", 1.0),
        say("on his way", 0.9),
        say("came, head turn", 1.8),
        say("treat", 1.0),
        talk("well done, go and play"),
        say("here, level two, came", 3.0),
        helper("was that one you or was it my whistle"),
        say("strike that", 1.2),
        talk("that was yours, he was running to you"),
        say("here, level two, came", 3.2),
        talk("he turned on a sixpence that time"),
        say("bracken here, no button, came", 3.4),
        say("praised", 1.1),
        helper("shall I make it a bit harder now"),
        talk("no, let us leave it while it is good"),
        say("bracken here", 2.8),
        say("no button", 1.2),
        say("committed", 1.0),
        say("all in", 1.6),
        say("praised, retrieve", 1.2),
        say("collar stripped", 2.4),
        say("skin clear", 1.3),
        say("end session"),
        talk("home for breakfast then"),
    ),
    reps=(
        Rep(BRACKEN, "recall", "vibrate", outcome="complied", signs=("ear flick",), **HERE, **NEAR),
        Rep(BRACKEN, "recall", "vibrate", outcome="complied", rewards=("praised",), **HERE, **NEAR),
        Rep(BRACKEN, "find level", "momentary", (1,), signs=NOTICED_NOTHING, **NEAR),
        Rep(BRACKEN, "find level", "momentary", (2,), signs=NOTICED_NOTHING, **NEAR),
        Rep(BRACKEN, "find level", "momentary", (3,), signs=("neck twitch",), **NEAR),
        Rep(BRACKEN, "recall", "continuous", (3,), "complied", ("head turn",), **HERE,
            rewards=("treat",), **NEAR),
        Rep(BRACKEN, "recall", "continuous", (2,), "complied", **HERE, **NEAR, void=True,
            why_void="struck: the helper's whistle had called him"),
        Rep(BRACKEN, "recall", "continuous", (2,), "complied", **HERE, **NEAR),
        Rep(BRACKEN, "recall", "none", outcome="complied", rewards=("praised",), **HERE, **NEAR),
        Rep(BRACKEN, "recall", "none", outcome="complied", rewards=("praised", "retrieve"),
            **HERE, **NEAR),
    ),
)  # fmt: skip

YARD = {"distraction": "none"}
DAY2_WREN = Scenario(
    folder="day2-wren",
    told=(
        "Wren, and a mistake. Two taps show nothing and the contact turns out to be poor, for a "
        "wet coat; before anything is mended a recall is tried at level eleven, seven above the "
        "last tap. She yelps. Thumb off, a rest, the collar fitted anew; then two recalls with "
        "no button, one at the lowest level, and a good end without."
    ),
    started_at="2026-04-19T08:05:00+01:00",
    trainer="flite-rms",
    helper="heart-low",
    seed=419,
    dogs=(WREN,),
    wind_snr_db=26.0,
    barks=((24, 10.0),),
    tempo=1.0,
    lines=(
        say("start session, wren"),
        say("collar fitted"),
        say("fit check, two fingers"),
        say("skin clear, coat wet"),
        say("line trailing"),
        say("location yard"),
        say("drill recall"),
        say("distraction none"),
        talk("she has been in the brook again"),
        say("wren here, vibrate, came", 2.6),
        talk("good girl, that is the way"),
        # taps that she does not feel
        say("drill find level", 2.2),
        say("tap one", 1.8),
        say("nothing", 1.7),
        say("tap four", 2.2),
        say("nothing", 1.7),
        say("no contact", 2.0),
        helper("her coat is sopping under there"),
        talk("let me just see this one"),
        # the mistake
        say("drill recall", 1.6),
        say("wren here", 2.0),
        say("level eleven", 1.6),
        say("yelped, thumb off", 0.5),
        say("came", 1.6),
        talk("oh I am sorry my girl, that was my fault"),
        helper("is she all right"),
        talk("she is fine, but we wait a minute and dry her properly"),
        say("collar fitted", 6.0),
        say("fit check, one finger", 1.6),
        say("contact solid", 1.4),
        say("coat dry", 1.3),
        talk("right, now something easy"),
        say("wren here", 2.4),
        say("no button", 1.1),
        say("on her way", 1.0),
        say("came", 1.4),
        say("praised", 1.0),
        say("here, no button, came", 3.0),
        say("treat", 1.1),
        helper("her tail is up again"),
        say("wren here", 2.6),
        say("level one", 1.2),
        say("thumb off", 0.9),
        say("came, ear flick", 1.8),
        talk("much better, much better"),
        say("wren here, no button, came", 3.0),
        say("praised", 1.0),
        say("collar stripped", 2.0),
        say("skin clear", 1.3),
        say("end session"),
    ),
    reps=(
        Rep(WREN, "recall", "vibrate", outcome="complied", **HERE, **YARD),
        Rep(WREN, "find level", "momentary", (1,), signs=NOTICED_NOTHING, **YARD, void=True,
            why_void="no contact"),
        Rep(WREN, "find level", "momentary", (4,), signs=NOTICED_NOTHING, **YARD, void=True,
            why_void="no contact"),
        Rep(WREN, "recall", "continuous", (11,), "complied", ("yelped",), **HERE, **YARD,
            stress=True),
        Rep(WREN, "recall", "none", outcome="complied", rewards=("praised",), **HERE, **YARD),
        Rep(WREN, "recall", "none", outcome="complied", rewards=("treat",), **HERE, **YARD),
        Rep(WREN, "recall", "continuous", (1,), "complied", ("ear flick",), **HERE, **YARD),
        Rep(WREN, "recall", "none", outcome="complied", rewards=("praised",), **HERE, **YARD),
    ),
    findings=(
        ("contact-poor", WREN, (4,)),
        ("step-big", WREN, (4,)),
        ("stress-strong", WREN, (4,)),
    ),
)  # fmt: skip

LANE = {"distraction": "low"}
DAY2_BRACKEN = Scenario(
    folder="day2-bracken",
    told=(
        "A short one with Bracken by the assistant, who forgets the fit check until it is "
        "pointed out. One level is said wrong and corrected. The collar comes off after four "
        "reps, and the rest is recall and stop without one."
    ),
    started_at="2026-04-19T17:40:00+01:00",
    trainer="fest-slt",
    helper="kok-kumo",
    seed=420,
    dogs=(BRACKEN,),
    wind_snr_db=22.0,
    barks=((14, 14.0),),
    tempo=0.9,
    lines=(
        say("start session, bracken"),
        say("collar fitted"),
        say("line loose"),
        say("location woods"),
        say("drill recall"),
        say("distraction low, scent"),
        talk("come along, this way, never mind the rabbits"),
        say("bracken here, vibrate, came", 2.6),
        talk("good lad"),
        say("bracken here", 2.4),
        say("level one", 1.4),
        say("up to three", 1.5),
        say("on his way", 1.1),
        say("came, neck twitch", 1.6),
        talk("nicely done"),
        helper("did you look how tight that strap is"),
        talk("I did not, I will do it now"),
        say("fit check, two fingers", 2.2),
        say("contact solid", 1.3),
        say("here, level four, came", 3.0),
        say("correction, here, level two, came", 1.4),
        talk("it was two, I was looking at the wrong number"),
        say("recall pips, no button, came", 3.0),
        say("praised", 1.1),
        say("collar stripped", 2.2),
        say("skin clear", 1.2),
        talk("now let us see what you know without it"),
        # no collar on: nothing but the cue and what he did
        say("bracken here, came", 3.0),
        say("drill stop", 1.8),
        say("long blast, stood fast", 3.0),
        helper("I could not have stopped quicker myself"),
        say("long blast, stood fast", 3.2),
        say("drill recall", 1.8),
        say("bracken here", 2.4),
        say("all in slow", 2.6),
        talk("there was something under that log"),
        say("bracken here, came", 3.2),
        say("treat", 1.0),
        say("end session", 1.8),
    ),
    reps=(
        Rep(BRACKEN, "recall", "vibrate", outcome="complied", **HERE, **LANE),
        Rep(BRACKEN, "recall", "continuous", (1, 3), "complied", ("neck twitch",), **HERE, **LANE),
        Rep(BRACKEN, "recall", "continuous", (2,), "complied", **HERE, **LANE),
        Rep(BRACKEN, "recall", "none", outcome="complied", cue="recall pips", cue_by="whistle",
            rewards=("praised",), **LANE),
        Rep(BRACKEN, "recall", "none", outcome="complied", **HERE, **LANE),
        Rep(BRACKEN, "stop", "none", outcome="complied", cue="long blast", cue_by="whistle",
            **LANE),
        Rep(BRACKEN, "stop", "none", outcome="complied", cue="long blast", cue_by="whistle",
            **LANE),
        Rep(BRACKEN, "recall", "none", outcome="slow", **HERE, **LANE),
        Rep(BRACKEN, "recall", "none", outcome="complied", rewards=("treat",), **HERE, **LANE),
    ),
    findings=(("fit-missing", BRACKEN, (2,)),),
)  # fmt: skip

MIN_NAME_SCORE = {"distraction": "low", "distance": 40, "distance_unit": "metres"}
CLOSE = {"distraction": "low", "distance": 15, "distance_unit": "metres"}
DAY3 = Scenario(
    folder="day3-both",
    told=(
        "Both dogs in one recording. Wren works with no button, once with the lowest level; when "
        "her collar comes off the skin under it is red, so she rests until it is clear. Then "
        "Bracken, further out: he ignores one call, is helped by the line at the next, is "
        "brought nearer and finishes well."
    ),
    started_at="2026-04-20T07:15:00+01:00",
    trainer="heart",
    helper="kok-kumo",
    seed=430,
    dogs=(WREN, BRACKEN),
    wind_snr_db=18.0,
    barks=((23, 12.0), (33, 14.0), (58, 12.0)),
    lines=(
        talk("is it running, yes there is the light"),
        say("start session, wren"),
        say("collar number one", 1.2),
        say("collar fitted", 1.2),
        say("fit check, two fingers", 1.2),
        say("contact solid", 1.2),
        say("line clipped", 1.2),
        say("location field", 1.2),
        say("drill recall", 1.2),
        say("distraction low", 1.2),
        say("distance fifteen metres", 1.3),
        talk("steady now, wait for it"),
        say("wren here, vibrate, came", 2.6),
        say("praised", 1.0),
        say("wren here", 2.6),
        say("level one", 1.2),
        say("thumb off", 0.9),
        say("on her way", 1.0),
        say("came, ear flick", 1.5),
        helper("she hardly needed that"),
        say("wren here, no button, came", 2.8),
        say("treat", 1.0),
        say("helper called, no button, came", 3.0),
        talk("thank you, that was just right"),
        say("wren here, no button, all in", 3.0),
        say("collar stripped", 2.0),
        talk("let me look at you"),
        say("skin red", 1.5),
        helper("is that from yesterday"),
        talk("it may be, so it stays off until it has healed"),
        # the second dog
        say("next dog, bracken", 3.0),
        say("collar number three", 1.3),
        say("collar fitted", 1.2),
        say("fit check, two fingers", 1.3),
        say("contact solid", 1.2),
        say("line clipped", 1.2),
        say("drill recall", 1.2),
        say("distraction low", 1.2),
        say("distance forty metres", 1.2),
        say("bracken here, vibrate, came", 2.6),
        talk("what a good start"),
        say("bracken here", 2.6),
        say("level one", 1.2),
        say("up to two", 1.6),
        say("committed", 1.2),
        say("came, neck twitch", 1.6),
        say("praised", 1.0),
        say("bracken here", 2.8),
        say("no button", 1.2),
        say("ignored", 2.2),
        talk("a bit too far out for him today"),
        say("bracken here", 2.4),
        say("no button", 1.2),
        say("line help", 2.0),
        talk("come nearer and make it easy for him"),
        say("distance fifteen metres", 1.8),
        say("bracken here", 2.6),
        say("level two", 1.2),
        say("rolled back to one", 1.2),
        say("came", 1.6),
        say("gave bird", 1.2),
        helper("he did enjoy that"),
        say("bracken here, no button, came", 3.0),
        say("praised", 1.0),
        say("collar stripped", 2.0),
        say("skin clear", 1.3),
        say("end session", 1.4),
        talk("that will do, thank you everybody"),
    ),
    reps=(
        Rep(WREN, "recall", "vibrate", outcome="complied", rewards=("praised",), **HERE, **CLOSE),
        Rep(WREN, "recall", "continuous", (1,), "complied", ("ear flick",), **HERE, **CLOSE),
        Rep(WREN, "recall", "none", outcome="complied", rewards=("treat",), **HERE, **CLOSE),
        Rep(WREN, "recall", "none", outcome="complied", cue="called", cue_by="helper", **CLOSE),
        Rep(WREN, "recall", "none", outcome="complied", **HERE, **CLOSE),
        Rep(BRACKEN, "recall", "vibrate", outcome="complied", **HERE, **MIN_NAME_SCORE),
        Rep(BRACKEN, "recall", "continuous", (1, 2), "complied", ("neck twitch",), **HERE,
            rewards=("praised",), **MIN_NAME_SCORE),
        Rep(BRACKEN, "recall", "none", outcome="ignored", **HERE, **MIN_NAME_SCORE),
        Rep(BRACKEN, "recall", "none", outcome="helped", **HERE, **MIN_NAME_SCORE),
        Rep(BRACKEN, "recall", "continuous", (2, 1), "complied", **HERE,
            rewards=("gave bird",), **CLOSE),
        Rep(BRACKEN, "recall", "none", outcome="complied", rewards=("praised",), **HERE, **CLOSE),
    ),
    findings=(("skin", WREN, ()),),
)  # fmt: skip

SCENARIOS = (DAY1, DAY2_WREN, DAY2_BRACKEN, DAY3)

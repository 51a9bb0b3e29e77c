"""Other talk for the benchmarks: what a trainer says to the dog, a helper or herself.

All of it is invented. None of it contains a whole command, so every record made from it is
a false one; it is full of near misses ("come on then", "level ground", "two of them").
TUNE and TEST share no sentence pattern. `sentences` fills the patterns' slots, which makes
several hundred different sentences on each side.
"""

from __future__ import annotations

import itertools
import random
import re

__all__ = ["DOGS", "PATTERNS", "held_commands", "sentences"]

DOGS = {
    "tune": ("bracken", "teasel", "juniper", "marlow", "fennel", "otter", "pippin", "heather"),
    "test": ("wren", "hazel", "rowan", "bramble", "sorrel", "clover", "merlin", "tansy"),
    "fresh": ("finch", "willow", "barley", "nettle", "jasper", "maple", "linnet", "copper"),
}

SLOTS = {
    "tune": {
        "dog": DOGS["tune"],
        "gate": ("gate", "stile", "fence", "wire", "ditch", "trailer"),
        "who": ("martin", "the keeper", "my sister", "that walker", "the lad"),
        "thing": ("lead", "dummy", "whistle", "water bowl", "jacket", "bag", "towel"),
        "when": ("tomorrow", "on friday", "next week", "this evening", "after lunch"),
    },
    "test": {
        "dog": DOGS["test"],
        "gate": ("hedge", "brook", "bank", "cattle grid", "wall", "van"),
        "who": ("janet", "the farmer", "your uncle", "that cyclist", "the girl"),
        "thing": ("slip", "stick", "flask", "blanket", "spare coat", "crate", "brush"),
        "when": ("on sunday", "at the weekend", "in march", "first thing", "before dark"),
    },
    "fresh": {
        "dog": DOGS["fresh"],
        "gate": ("orchard", "bridge", "barn", "puddle", "corner", "fallen tree"),
        "who": ("peter", "the shepherd", "my cousin", "that jogger", "the postman"),
        "thing": ("launcher", "chair", "umbrella", "rucksack", "notebook", "bucket", "scarf"),
        "when": ("on monday", "in the autumn", "at noon", "later today", "in a fortnight"),
    },
}

PATTERNS = {
    "tune": (
        "good girl come on then",
        "good boy {dog} good boy",
        "what a clever dog you are",
        "come along {dog} come along",
        "mind the {gate} would you",
        "hold the {gate} open for me please",
        "can you pass me the {thing}",
        "where did i put the {thing}",
        "i left the {thing} in the car again",
        "have you seen {who} this morning",
        "{who} said he would be along {when}",
        "we will try the long grass {when}",
        "remind me to ring {who} {when}",
        "it is blowing a bit from the west now",
        "look at those clouds over there",
        "is that rain or is it just the trees",
        "watch your step it is slippery by the {gate}",
        "stand still a moment please",
        "no you can not have that {dog}",
        "leave it {dog} leave it",
        "that is enough now settle down",
        "oh you are a silly thing",
        "what have you found there then",
        "give me a second i need to catch my breath",
        "you go round the other side of the {gate}",
        "throw it a little further this time",
        "wait until i wave before you move",
        "not yet not yet hang on",
        "right then let us have another go",
        "he was much better than last week",
        "she is looking at you not at me",
        "they are all a bit wild this morning",
        "how old is this one again",
        "who is that coming up the track",
        "there is a car in the yard",
        "the neighbour's sheep are out again",
        "keep him close until they have passed",
        "i think we are nearly done with this",
        "shall we stop for a cup of tea",
        "my hands are freezing today",
        "did you bring the spare battery for the camera",
        "the ground is level enough by the oak",
        "take two of them and leave the rest",
        "there were three of us out there",
        "seven o'clock would suit me better",
        "put five or six in the bag",
        "come back to me when you are ready",
        "you got home late last night did you not",
        "nobody has touched the {thing} have they",
        "turn it down a little i can not hear",
        "up you get {dog} up you get",
        "over you go then good dog",
        "wait wait wait and go on",
        "sit there and do not move a muscle",
        "that was lovely that was really lovely",
        "i am so pleased with you",
        "she has been like this since the spring",
        "her owner wants her back {when}",
        "we should let {who} have a look at that",
        "you have mud all over your face",
        "the vet said to rest her for a week",
        "do not let {dog} near the road",
        "call {who} and ask about the pheasants",
        "i can hear a tractor somewhere",
        "that one will make a grand dog some day",
        "what time did you say {who} was due",
        "they want forty pounds for a new {thing}",
        "it was a hundred and ten last year",
        "stay behind me and keep quiet",
        "just stroll along as if nobody was looking",
        "we could use the little wood instead",
        "try to keep your arms by your side",
        "the wind keeps taking my voice",
        "do you mind if i sit down",
        "this {thing} has seen better days",
        "there you are you beautiful girl",
        "where has that dog got to now",
        "easy now easy does it",
        "let us walk on for a bit",
        "give {dog} a drink before we go on",
    ),
    "test": (
        "who is a good girl then",
        "oh well done {dog} well done",
        "this way {dog} this way",
        "come by me sweetheart",
        "careful of the {gate} it is sharp",
        "could you shut that behind you",
        "hand me the {thing} when you get a chance",
        "i had the {thing} a minute ago",
        "the {thing} must be under the seat",
        "was that {who} at the door",
        "{who} will want to see this {when}",
        "we might go to the lake {when}",
        "tell {who} that we are busy {when}",
        "feels like it might snow later",
        "the sun is right in my eyes",
        "listen to those rooks",
        "walk round the {gate} and meet me there",
        "do not wave your arms about so much",
        "stop that {dog} you know better",
        "drop it please thank you very much",
        "quiet now there is no need for all that",
        "you great big softie",
        "did you roll in something horrible",
        "my knee is playing up this morning",
        "stand by the {gate} where i can see you",
        "a bit more to your left please",
        "when i nod you can let him go",
        "hang on hang on let me get set",
        "okay once more and then we are finished",
        "that is twice as good as yesterday",
        "she only has eyes for the ducks",
        "he did not sleep at all last night",
        "is this the one from the big litter",
        "somebody has parked across the lane",
        "the cows have been moved to the top",
        "let those riders go by first",
        "i reckon that will do for today",
        "i could murder a bacon sandwich",
        "these gloves are soaked through",
        "have you charged the telephone",
        "the bottom field is higher than it looks",
        "one for you and one for me",
        "both of them ran off to the {gate}",
        "half past nine or thereabouts",
        "there must be twenty of them in that tree",
        "you can go back now thanks",
        "he was second at the county show",
        "not one of them knows where the {thing} is",
        "i will turn round at the corner",
        "in you hop {dog} good dog",
        "down off there please",
        "and relax there we are",
        "do you want to try it with yours",
        "what lovely manners you have today",
        "i could not have asked for more",
        "he has hardly put a foot wrong",
        "the owners are away until {when}",
        "would {who} mind if we crossed there",
        "look at the state of your paws",
        "that cut is healing very well",
        "keep {dog} away from the ditch",
        "ask {who} how many they are expecting",
        "there is a helicopter over the hill",
        "give her time she is only young",
        "when does {who} get back from town",
        "fifteen pounds for a {thing} is daylight robbery",
        "thirty years i have been doing this",
        "walk slowly and do not look at her",
        "pretend that you have not seen us",
        "perhaps the other meadow would be better",
        "fold your arms if that helps",
        "you will have to speak louder than that",
        "shall i carry the {thing} for you",
        "who left this {thing} out all night",
        "hello my lovely hello",
        "has anybody fed {dog} today",
        "gently gently that is the way",
        "we can cut across by the {gate}",
        "she needs a rest and so do i",
        "the kettle will be on when we get back",
    ),
    "fresh": (
        "hello {dog} hello my friend",
        "steady {dog} steady now",
        "let me see you my darling",
        "you are full of beans today are you not",
        "have a sniff if you must",
        "mind your feet by the {gate}",
        "bring the {thing} over when you have a hand free",
        "whose {thing} is that on the roof",
        "{who} borrowed the {thing} and never gave it back",
        "ask {who} to keep the sheep in {when}",
        "{who} rang me about it {when}",
        "we could walk past the {gate} {when}",
        "it is getting warm for this sort of thing",
        "that mist is lifting off the river at last",
        "smell that somebody is burning leaves",
        "go and wait for us at the {gate}",
        "a little slower if you please",
        "hold your hand out wide and say no more",
        "on my count you let him have the lead",
        "again from the top and then some lunch",
        "much better than the other one i must say",
        "he hears a deer long before i see it",
        "he was as good as gold for the children",
        "how many puppies did she have in the end",
        "a van has got stuck in the lane",
        "there are geese on the far bank",
        "let the horse past and then we carry on",
        "that is plenty for a young dog",
        "would you fancy some soup",
        "the batteries are empty again i suppose",
        "there is more level grass beyond the {gate}",
        "two of us can lift it easily",
        "eight of them sat in a row",
        "a quarter past ten suits them",
        "about thirty crows in that field",
        "you may go home whenever you wish",
        "nobody won the cup that year",
        "who knows what became of my {thing}",
        "turn the {thing} round the other way",
        "up the steps {dog} good lad",
        "off you trot then",
        "and breathe that is the idea",
        "show me how you do it with him",
        "what a polite young fellow you are",
        "it could have been so much worse",
        "she seldom puts her nose wrong",
        "they are back from holiday {when}",
        "does {who} know that the {gate} is closed",
        "you need a bath and no mistake",
        "the stitches are out and it looks clean",
        "keep {dog} out of the brambles",
        "tell {who} that we need six of them",
        "an aeroplane went over just now",
        "take your time there is no hurry",
        "when is {who} due home",
        "nineteen pounds for that {thing} seems fair",
        "forty years ago all this was marsh",
        "amble along and look at the view",
        "act as if we were far away",
        "we might do it in the yard tomorrow",
        "put your hands in your pockets",
        "speak up i can not hear you over the stream",
        "can i take the {thing} off you",
        "somebody left the {thing} by the {gate}",
        "morning my beauty morning",
        "did {dog} eat up last night",
        "softly now softly",
        "follow the path as far as the {gate}",
        "i am ready to drop and so is she",
        "there is cake in the tin at home",
    ),
}

_NUMBER = (
    r"(?:zero|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\w+teen|twenty"
    r"|thirty|forty|fifty|sixty|seventy|eighty|ninety|(?:a |one )?hundred)"
)
_COMMANDS = re.compile(
    r"\b(?:"
    r"committed|arrived|complied|ignored|broke|scratching|hesitated|nothing|yelped|squealed"
    r"|screamed|froze|cowered|bolted|flinched|growling|snapped|whined|yawned|panting|trembled"
    r"|startled|confused|salivating|spun|clingy|flat|praised|treat|retrieve|affirm|negative"
    r"|roger|vibrate|tone|here|memo|all in|on place|loaded up|stood fast|peeled off|line help"
    r"|on (?:his|her) way|neck twitch|ear flick|head turn|posture change|no reaction|tail tucked"
    r"|rolled over|wet (?:himself|herself)|bit (?:the collar|me)|lip lick|shook off|paw lift"
    r"|moved away|gave bird|strike that|flag that|say (?:level|count|last|ceiling|again)"
    r"|no button|(?:thumb|button) off|notch (?:up|down)|long blast|(?:recall|turn) pips"
    r"|helper called|called (?:twice|\w+ times)|(?:start|end) session|next dog|wrong dog"
    r"|(?:pause|resume) log|collar (?:fitted|stripped|turned|slipped)|test (?:good|failed)"
    r"|no contact|contact solid|skin (?:clear|red|sore)|coat (?:wet|dry)"
    r"|line (?:clipped|trailing|loose)|drill \w+|distraction \w+|location \w+"
    rf"|(?:level|tap|dial|(?:up|down|back) to|distance|temperature|ceiling|shot) {_NUMBER}"
    r"|came)\b"
)


def held_commands(sentence: str) -> list[str]:
    """The whole commands that a sentence contains; other talk must contain none."""
    return _COMMANDS.findall(sentence)


def sentences(split: str, seed: int = 0) -> list[str]:
    """Every sentence of a split, each once, in an order fixed by the seed.

    The order goes round the patterns, so the first eighty come from eighty patterns.
    """
    rng = random.Random(f"{split} {seed}")
    rounds: list[list[str]] = []
    for pattern in PATTERNS[split]:
        names = re.findall(r"{(\w+)}", pattern)
        fillings = itertools.product(*(SLOTS[split][name] for name in names))
        filled = [pattern.format(**dict(zip(names, words, strict=True))) for words in fillings]
        rng.shuffle(filled)
        rounds.append(filled)
    turns = itertools.zip_longest(*rounds)
    ordered: list[str] = []
    for turn in turns:
        said = [sentence for sentence in turn if sentence is not None]
        rng.shuffle(said)
        ordered.extend(said)
    return ordered


def main() -> None:
    """Count the sentences, and stop at one that contains a command."""
    for split in PATTERNS:
        said = sentences(split)
        held = [sentence for sentence in said if held_commands(sentence)]
        print(split, len(said), "sentences,", len(set(said)), "different; with commands:", held)


if __name__ == "__main__":
    main()

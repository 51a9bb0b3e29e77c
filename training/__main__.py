"""python -m training [STEP ...]: make the artifact, or the steps named. README.md tells of each."""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tomllib
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from tests.bench.voices import data_dir
from training.artifact import LAYER_FILE, TEEN_LAYER_FILE, read_card, write_artifact
from training.candidates import NOISES, HeardBy, Observation, hear, observations
from training.cards import layer_card, teens_card
from training.evaluation import Judged, accepted, cross_validated, curve
from training.fusion_weights import FEATURES, fit_weights, rounded
from training.layer_files import LAYERS, PACKAGED, layer_file
from training.speech import Texts, speakers, spoken
from training.teen_speech import encode_teens
from voicelog.recognition.fusion import FusionModel, FusionModels
from voicelog.recognition.trained_artifact import ARTIFACT_FOLDER, shipped_artifact

THRESHOLDS = Path(__file__).parent / "thresholds.toml"
HEARD: dict[str, HeardBy] = {
    "quick": "quick",
    "careful": "both",
    "unaligned": "both",
    "both": "both",
}
"""By whom what each model is fitted on was heard."""


def speak(asked: argparse.Namespace) -> None:
    """Speak the training speech."""
    texts = Texts()
    for number, speaker in enumerate(speakers()):
        if number % asked.shards == asked.shard:
            print(
                speaker.voice.name, sum(1 for _ in spoken(speaker, texts, asked.share)), flush=True
            )


def run_pack(asked: argparse.Namespace) -> None:
    """Pack speech, noise and the encoder into few files, which `layers` alone reads."""
    from training.packed_speech import pack

    pack(asked.share)


def layers(asked: argparse.Namespace) -> None:
    """Train the layer that ships and those without the speakers of a fold."""
    # JAX takes seconds to load, and only this step and `teens` need it.
    from training.packaged_layer import train_layer

    for name in asked.layer or LAYERS:
        train_layer(name, asked.share)


def recordings(_: argparse.Namespace) -> None:
    """Make the tuning recordings."""
    bench = [sys.executable, "-m", "tests.bench"]
    for module, options in (
        ("narrations", ["--count", "24", "--condition", *NOISES, "wind5", "pink20"]),
        ("units", ["--set", "digits", "human"]),
        ("units", ["--set", "beyond", "within", "--condition", *NOISES]),
        ("people", ["--condition", "clean", "kitchen24", "kitchen12", "kitchen6"]),
    ):
        bench[-1] = f"tests.bench.{module}"
        subprocess.run([*bench, "--split", "tune", *options], check=True)


def candidates(asked: argparse.Namespace) -> None:
    """Hear them, and keep the evidence for each reading."""
    hear(asked.shard, asked.shards, shipped_layer=asked.shipped_layer)


def fusion(asked: argparse.Namespace) -> None:
    """Fit the weights, show how well they do on voices they were not fitted on, and keep both."""
    thresholds = tomllib.loads(THRESHOLDS.read_text("utf-8"))
    kept: dict[str, Any] = {"models": {}, "figures": {}, "segments": {}}
    kept["shipped_layer"] = asked.shipped_layer
    for company, by in HEARD.items():
        seen = observations(by)
        fit = partial(fit_company, company, like_shipped=asked.shipped_layer)
        model = FusionModel(weights=rounded(fit(seen)), **thresholds[company])
        some = cross_validated(seen, fit)
        kept["models"][company] = model.model_dump(mode="json")
        kept["figures"][company] = {
            condition: [counts["right"], counts["wrong"]]
            for condition, counts in accepted(some, model).items()
        }
        kept["segments"][company] = len(seen)
        show(company, model, some)
    fusion_file().write_text(json.dumps(kept, indent=1))


def fit_company(
    company: str, seen: Sequence[Observation], *, like_shipped: bool
) -> dict[str, float]:
    """The weights of a set of recognizers.

    like_shipped: they are fitted to how the weights that ship judge, not to what was said, and
    differ from them only as far as the signs ask for it.
    """
    if not like_shipped:
        return fit_weights(seen, FEATURES[company])
    known: FusionModel = getattr(shipped_artifact().fusion, company)
    return fit_weights(seen, FEATURES[company], teacher=known.weights)


def show(company: str, model: FusionModel, some: list[Judged]) -> None:
    """Print a model, what it accepts, and the curves that thresholds are chosen on."""
    print(f"\n{company}")
    for name, weight in model.weights.items():
        print(f"  {name:28}{weight:8.2f}")
    for condition, counts in accepted(some, model).items():
        print(f"  {condition:10} accepted: {counts['right']} right, {counts['wrong']} wrong")

    def kind(one: Judged) -> str:
        return f"{one.kind}, {'noisy' if one.observation.noisy else 'quiet'}"

    def beyond(one: Judged) -> bool:
        return one.observation.options[one.option].beyond

    for each in sorted({kind(one) for one in some}):
        here = curve([one for one in some if kind(one) == each and not beyond(one)])
        print(f"  {each}:", "; ".join(f"{w} wrong {r} right ({p:.3f})" for w, r, p in here))
    for one in sorted(some, key=lambda one: -one.probability):
        if not one.right and one.probability > 0.6:
            words = one.observation.options[one.option].words
            where = f"{one.observation.condition} {one.observation.voice}"
            print(f"  wrong {one.probability:.3f} {where}: {words!r} for {one.observation.said}")


def teens(_: argparse.Namespace) -> None:
    """Train the layer that tells -teen from -ty, and write it into the package, one version up."""
    # Loads JAX; see layers.
    from training.teen_layer import SEED, teen_file, train_teen_layers

    encode_teens()
    figures = train_teen_layers()
    chosen = tomllib.loads(THRESHOLDS.read_text("utf-8"))["both"]
    shipped = shipped_artifact().fusion
    bars = {
        name: getattr(shipped.both, name)._replace(teen_margin=chosen[name]["teen_margin"])
        for name in ("quiet", "noisy")
    }
    card = read_card(ARTIFACT_FOLDER)
    about = {part: _without_files(card[part]) for part in ("layer", "fusion")}
    write_artifact(
        ARTIFACT_FOLDER,
        int(card["version"]) + 1,
        ARTIFACT_FOLDER / LAYER_FILE,
        teen_file("all"),
        shipped.model_copy(update={"both": shipped.both.model_copy(update=bars)}),
        about_layer=about["layer"],
        about_teens=teens_card(seed=SEED, figures=figures),
        about_fusion=about["fusion"],
    )


def _without_files(part: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in part.items() if name not in FILE_KEYS}


def write(asked: argparse.Namespace) -> None:
    """Write the artifact into the package, with its card."""
    kept = json.loads(fusion_file().read_text())
    for company in asked.keep:
        shipped: FusionModel = getattr(shipped_artifact().fusion, company)
        kept["models"][company] = shipped.model_dump(mode="json")
        del kept["figures"][company], kept["segments"][company]
    card = read_card(ARTIFACT_FOLDER)
    trained = layer_file("all", PACKAGED)
    about_layer = _without_files(card["layer"])
    if trained.exists() and trained.read_bytes() != (ARTIFACT_FOLDER / LAYER_FILE).read_bytes():
        version = int(card["layer"]["version"]) + 1
        about_layer = layer_card(version=version, share=asked.share, figures={})
    write_artifact(
        ARTIFACT_FOLDER,
        int(card["version"]) + 1,
        trained if trained.exists() else ARTIFACT_FOLDER / LAYER_FILE,
        ARTIFACT_FOLDER / TEEN_LAYER_FILE,
        FusionModels.model_validate(kept["models"]),
        about_layer=about_layer,
        about_teens=_without_files(card["teens"]),
        about_fusion={
            "licence": "Apache-2.0",
            "fitted_on": asked.fitted_on,
            "kept_from_the_version_before": list(asked.keep),
            "segments": kept["segments"],
            "seed": "none: the fit is convex",
            "command": "python -m training candidates fusion artifact"
            + (" --shipped-layer" if kept["shipped_layer"] else ""),
            "phones": KNOWN_PHONES if kept["shipped_layer"] else UNKNOWN_PHONES,
            "thresholds": "training/thresholds.toml, chosen by a person",
            "figures": {
                "of": "accepted readings: right, wrong; each speaker judged by a fit on the others",
                **kept["figures"],
            },
        },
    )


FILE_KEYS = ("file", "sha256")
UNKNOWN_PHONES = "told by layers that had not heard the speaker"
KNOWN_PHONES = (
    "told by the layer that ships, which has heard these voices: so the weights are fitted to how "
    "the version before judged, with the signs held, and the figures are too good"
)


def fusion_file() -> Path:
    """Where what `fusion` found waits for `artifact`."""
    return data_dir() / "fusion.json"


STEPS: dict[str, Callable[[argparse.Namespace], None]] = {
    "speak": speak,
    "pack": run_pack,
    "layers": layers,
    "recordings": recordings,
    "candidates": candidates,
    "fusion": fusion,
    "artifact": write,
    "teens": teens,
}


def main() -> None:
    """Run the steps, each going on where it was stopped."""
    about = "; ".join(f"{name}: {step.__doc__}" for name, step in STEPS.items())
    parser = argparse.ArgumentParser(prog="python -m training", description=about)
    parser.add_argument("steps", nargs="*", metavar="STEP", help="default: all, in order")
    parser.add_argument("--of", default="0/1", help="I/N: only every Nth part, from the Ith on")
    parser.add_argument(
        "--share",
        type=float,
        default=1.0,
        help="of the training speech, and of the batches of `layers` (0 to 1)",
    )
    parser.add_argument(
        "--layer", action="append", choices=LAYERS, help="of `layers`: this one alone"
    )
    parser.add_argument(
        "--shipped-layer",
        action="store_true",
        help="tell phones by the layer that ships, and fit to how the weights that ship judge",
    )
    parser.add_argument(
        "--keep",
        action="append",
        default=[],
        choices=list(HEARD),
        help="a set of recognizers whose weights and thresholds `artifact` leaves as they ship",
    )
    parser.add_argument("--fitted-on", default="the tuning recordings", help="for the card")
    asked = parser.parse_args()
    asked.shard, asked.shards = map(int, asked.of.split("/"))
    for name in asked.steps or STEPS:
        if name not in STEPS:
            parser.error(f"Found the step '{name}', wanted one of {', '.join(STEPS)}.")
        STEPS[name](asked)


if __name__ == "__main__":
    main()

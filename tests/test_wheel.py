"""What is installed is whole: a wheel, built here, and the manual that lies in it."""

from __future__ import annotations

import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from voicelog.app.manual import copy_manual
from voicelog.model import VoicelogError

ROOT = Path(__file__).parents[1]
SHIPPED = "voicelog/_shipped"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, unpacked."""
    folder = tmp_path_factory.mktemp("wheel")
    pip = (sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation")
    subprocess.run([*pip, "-w", folder, ROOT], check=True)
    (built,) = folder.glob("voicelog-*.whl")
    zipfile.ZipFile(built).extractall(folder / "unpacked")
    return folder / "unpacked"


def test_a_wheel_carries_grammars_demo_models_and_migrations(wheel: Path) -> None:
    assert (wheel / SHIPPED / "grammars/en/numbers.jsgf").is_file()
    assert (wheel / SHIPPED / "demo_audio/day1-bracken/day1-bracken.opus").is_file()
    for name in ("artifact/card.toml", "artifact/fusion.json", "artifact/tiny.en-phones.npz"):
        assert (wheel / "voicelog/recognition" / name).is_file()
    for name in ("card.toml", "silero-vad.npz", "LICENSE.silero"):
        assert (wheel / "voicelog/recognition/detector" / name).is_file()
    for number in (1, 2):
        migration = f"voicelog/store/migrations/versions/revision_000{number}.py"
        assert (wheel / migration).is_file()


def test_its_manual_has_every_chapter_and_needs_no_network(wheel: Path) -> None:
    site = wheel / SHIPPED / "manual"
    pages = {path.name: path.read_text("utf-8") for path in site.glob("*.html")}
    chapters = {path.name for path in (ROOT / "docs").glob("*.md")}
    assert pages.keys() == {name.replace(".md", ".html") for name in chapters} | {"search.html"}
    assert {path.name for path in (site / "_sources").iterdir()} == {f"{n}.txt" for n in chapters}
    assert sum(path.stat().st_size for path in site.rglob("*") if path.is_file()) < 3_000_000
    assert all((site / f"_static/LICENSE.{name}.txt").is_file() for name in ("furo", "sphinx"))

    used = set()
    for name, text in pages.items():
        used |= set(re.findall(r'src="([^"]+)"', text))
        used |= set(re.findall(r'<link[^>]* href="([^"]+)"', text))
        for link in re.findall(r'<a [^>]*?href="([^"]+)"', text):
            place, _, part = link.partition("#")
            if ":" in place:
                continue  # leads out of the manual, to those who made its pages' style
            assert not place or (site / place).is_file(), f"{name}: {link}"
            if part and (place or name) in pages:
                assert f'id="{part}"' in pages[place or name], f"{name}: {link}"
    for one in used - {"#"}:  # a page that names itself
        assert (site / one.partition("?")[0]).is_file(), one
    assert {"_images/page.png", "_images/summary.svg"} <= used
    for path in (*site.rglob("*.css"), *site.rglob("*.svg")):
        fetched = re.findall(
            r"""(?:url\(|@import )['"]?(?:https?:)?//\S*""", path.read_text("utf-8")
        )
        assert fetched == [], path.name


def test_the_manual_is_copied_to_a_folder_or_a_sentence_says_why_not(tmp_path: Path) -> None:
    site = tmp_path / "manual"
    (site / "_static").mkdir(parents=True)
    (site / "index.html").write_text("first")
    for _ in range(2):
        first = copy_manual(site, tmp_path / "new" / "copy")
        assert first == tmp_path / "new" / "copy" / "index.html"
        assert first.read_text() == "first"
    (tmp_path / "file").write_text("")
    with pytest.raises(VoicelogError, match="name another with --folder"):
        copy_manual(site, tmp_path / "file")

"""The tutorial speaks of words that really stand on the pages."""

import re
from pathlib import Path

import outshop.pages

TUTORIAL = Path(__file__).parents[2] / "docs" / "tutorial" / "one-engine.md"
PAGES = Path(outshop.pages.__file__).parent


def test_every_bold_word_of_the_tutorial_stands_on_a_page():
    shown = "\n".join(
        p.read_text(encoding="utf-8") for p in PAGES.rglob("*") if p.suffix in (".html", ".py")
    )
    words = re.findall(r"\*\*(.+?)\*\*", TUTORIAL.read_text(encoding="utf-8"))
    assert len(words) > 20
    missing = {word for word in words if word != "bold" and f'"{word}"' not in shown}
    assert missing == set()

"""The documentation says what the program does."""

import importlib.util
from pathlib import Path

ROOT = Path(__file__).parents[2]


def load_generator():
    spec = importlib.util.spec_from_file_location(
        "generate_reference", ROOT / "docs/reference/generate.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_command_reference_is_the_help_of_today():
    generator = load_generator()
    assert generator.TARGET.read_text(encoding="utf-8") == generator.render(), "run `make docs`"


def test_every_command_says_what_it_does():
    headings = load_generator().render().split("\n## ")
    assert len(headings) > 5
    for heading in headings:
        name, _, text = heading.partition("\n")
        assert text.strip(), f"{name} has no help"


def test_every_relative_link_in_the_docs_leads_somewhere():
    import re

    pages = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *(ROOT / "docs").rglob("*.md")]
    broken = [
        f"{page.relative_to(ROOT)}: {target}"
        for page in pages
        for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8"))
        if not (page.parent / target).exists()
    ]
    assert broken == []

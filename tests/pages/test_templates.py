"""What must hold for every template of every room."""

import re
from pathlib import Path

import pytest

import outshop.pages

FOLDER = Path(outshop.pages.__file__).parent
TEMPLATES = sorted((FOLDER / "templates").rglob("*.html"))
STATIC = sorted(p for p in (FOLDER / "static").rglob("*") if p.is_file())
NAMES = [str(p.relative_to(FOLDER / "templates")) for p in TEMPLATES]
CODE = re.compile(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}", re.DOTALL)
TRANSLATED = re.compile(r"\{% blocktranslate.*?\{% endblocktranslate %\}", re.DOTALL)


@pytest.mark.parametrize("template", TEMPLATES, ids=NAMES)
def test_no_template_needs_what_the_content_policy_forbids(template):
    """CSP level 3: inline style, inline script and event attributes are refused."""
    text = template.read_text(encoding="utf-8")
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=|hx-on|javascript:", text)
    for script in re.findall(r"<script[^>]*>", text):
        assert " src=" in script or 'type="application/json"' in script


@pytest.mark.parametrize("template", TEMPLATES, ids=NAMES)
def test_no_template_points_outside_this_machine(template):
    text = template.read_text(encoding="utf-8")
    assert not re.search(r"""(?:src|href|action|hx-\w+)=["'](?:https?:)?//""", text)


@pytest.mark.parametrize("template", TEMPLATES, ids=NAMES)
def test_every_word_of_a_template_can_be_translated(template):
    text = template.read_text(encoding="utf-8")
    text = TRANSLATED.sub(" ", text)
    text = CODE.sub(" ", text)
    bare = re.sub(r"<[^>]*>", " ", text)
    words = re.findall(r"[A-Za-z]{3,}", bare.replace("&nbsp;", " "))
    assert set(words) <= {"Outshop", "doctype", "html"}, words


@pytest.mark.parametrize("template", TEMPLATES, ids=NAMES)
def test_every_form_that_changes_something_is_guarded(template):
    """Each post form carries the token against forged requests."""
    text = template.read_text(encoding="utf-8")
    for form in re.findall(r'<form[^>]*method="post".*?</form>', text, re.DOTALL):
        assert "{% csrf_token %}" in form


@pytest.mark.parametrize("file", STATIC, ids=[p.name for p in STATIC])
def test_no_style_or_script_points_outside_this_machine(file):
    text = file.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
    assert "//" not in re.sub(r"^\s*//.*$|(?<=\s)//.*$", "", text, flags=re.MULTILINE)
    assert "eval(" not in text


def test_every_text_colour_stands_out_from_its_ground():
    """WCAG 2.2, 1.4.3: at least 4.5 to 1, by its own formula of relative luminance."""
    css = (FOLDER / "static/outshop/outshop.css").read_text(encoding="utf-8")
    day, night = css.split("@media (prefers-color-scheme: dark)", 1)
    for block in (day, night[: night.index("}")]):
        colours = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", block))
        for text in ("ink", "faint", "good", "warn", "stop", "accent"):
            for ground in ("paper", "sheet", "wash"):
                ratio = contrast(colours[text], colours[ground])
                assert ratio >= 4.5, f"{text} on {ground}: {ratio:.2f}"


def contrast(one: str, two: str) -> float:
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))

"""Templates, style sheet and fonts, read as text."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont
from jinja2 import UndefinedError

from colophony.app.look import FONTS_DIR, STATIC_DIR, environment, stylesheet
from colophony.app.look.gallery import render_gallery
from colophony.app.look.stylesheet import FACES


def test_templates_escape_and_refuse_unknown_names(tmp_path: Path) -> None:
    """A student's name cannot become markup, and a slip of the pen in a template is an error."""
    (tmp_path / "a.html.j2").write_text(
        '{% import "components.html.j2" as c %}{{ c.notice(text) }}{{ rest }}'
    )
    template = environment(tmp_path).get_template("a.html.j2")
    assert "&lt;b&gt;&amp;&#34;" in template.render(text='<b>&"', rest="")
    with pytest.raises(UndefinedError):
        template.render(text="")


def test_pages_need_no_inline_style_or_handler() -> None:
    """Content Security Policy level 3 without 'unsafe-inline' stays possible."""
    page = render_gallery(stylesheet="/static/look.css")
    assert not re.search(r"<[^>]* style=", page)
    assert not re.search(r"<[^>]* on[a-z]+=", page)
    assert "<script" not in page
    assert "<style" not in page


def test_every_custom_property_that_is_used_is_defined() -> None:
    """One source of colours and sizes: no rule asks for a token that does not exist."""
    sheet = stylesheet(fonts="/fonts") + render_gallery(stylesheet="/x")
    defined = set(re.findall(r"(--[a-z-]+):", sheet))
    assert set(re.findall(r"var\((--[a-z-]+)", sheet)) <= defined


def test_rules_name_no_colour_of_their_own() -> None:
    """The rules take every colour from the tokens."""
    rules = (STATIC_DIR / "look.css").read_text(encoding="utf-8")
    assert not re.search(r"#[0-9a-fA-F]{3,8}\b|rgba?\(|hsla?\(|gradient", rules)


def test_fonts_are_small_and_carry_their_licences() -> None:
    """SIL Open Font License 1.1, condition 2: the licence travels with the fonts. All under 700 kB."""
    assert sum(path.stat().st_size for path in FONTS_DIR.iterdir()) < 700_000
    for name in ("Piazzolla", "AlegreyaSans"):
        text = (FONTS_DIR / f"LICENSE-{name}.txt").read_text(encoding="utf-8")
        assert "SIL OPEN FONT LICENSE Version 1.1" in text
        assert "with Reserved Font Name" not in text.split("-----")[0]


@pytest.mark.parametrize("stem", [face[3] for face in FACES])
def test_fonts_set_names_notes_and_figures(stem: str) -> None:
    """Names of Europe, accidentals and units have glyphs on screen and paper; digits can be tabular."""
    for ending in ("ttf", "woff2"):
        with TTFont(FONTS_DIR / f"{stem}.{ending}") as font:
            known = font.getBestCmap()
            missing = [letter for letter in "ÅéñőŁžşğßœ♯♭♮–−’“”…·°±≈≤≥→←\u00a0" if ord(letter) not in known]
            assert missing == []
            features = {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}
            assert "tnum" in features

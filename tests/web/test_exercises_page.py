"""A teacher writes an exercise on a form: kept when it is right, given back with every mistake when not."""

from __future__ import annotations

import tomllib

import pytest
from serving import Site

from colophony.app.own_exercises import form_fields, own_exercises

FIELDS = form_fields() | {
    "title": "Sing & swell",
    "aim": "crescendo",
    "trains_weight": "yes",
    "adult": "Begin soft <and> grow.",
    "listen_adult": "It grows.",
}


def test_an_exercise_is_written_changed_passed_on_and_removed(site: Site) -> None:
    studio = site.desk.studio
    page = site.client.post("/practice/exercises", data=FIELDS)
    assert page.url.path == "/practice/exercises"
    assert "Sing &amp; swell" in page.text
    assert [exercise.key for exercise in own_exercises(studio)] == ["sing-swell"]
    form = site.client.get("/practice/exercises/own/sing-swell").text
    assert "Begin soft &lt;and&gt; grow." in form
    site.client.post("/practice/exercises/own/sing-swell", data=FIELDS | {"tempo": "50"})
    assert [exercise.stroke.tempo for exercise in own_exercises(studio)] == [50.0]
    file = site.client.get("/practice/exercises/own.toml").text
    assert tomllib.loads(file)["exercise"][0]["title"] == "Sing & swell"
    site.client.post("/practice/exercises/own/sing-swell/remove")
    assert own_exercises(studio) == ()
    site.client.post("/practice/exercises/file", data={"text": file})
    assert [exercise.key for exercise in own_exercises(studio)] == ["sing-swell"]
    site.client.post("/practice/exercises/own/sing-swell/remove")


@pytest.mark.parametrize(("title", "key"), [("New", "new"), ("File", "file"), ("Own", "own")])
def test_an_exercise_may_be_called_as_a_page_is(site: Site, title: str, key: str) -> None:
    """Its key comes from its title, and its address hides no page and is hidden by none."""
    site.client.post("/practice/exercises", data=FIELDS | {"title": title})
    form = site.client.get(f"/practice/exercises/own/{key}").text
    assert "Begin soft &lt;and&gt; grow." in form
    site.client.post(f"/practice/exercises/own/{key}", data=FIELDS | {"title": title, "tempo": "50"})
    assert [exercise.stroke.tempo for exercise in own_exercises(site.desk.studio)] == [50.0]
    site.client.post(f"/practice/exercises/own/{key}/remove")
    assert own_exercises(site.desk.studio) == ()


def test_a_form_with_mistakes_comes_back_as_it_was_typed(site: Site) -> None:
    answer = site.client.post("/practice/exercises", data=FIELDS | {"beats": "many", "count": "0"})
    assert answer.status_code == 400
    assert 'value="many"' in answer.text
    assert "is out of range" in answer.text
    assert "Beats in one bow: &#39;many&#39;" in answer.text
    assert own_exercises(site.desk.studio) == ()


def test_a_file_with_mistakes_keeps_nothing(site: Site) -> None:
    answer = site.client.post("/practice/exercises/file", data={"text": "[[exercise]]\nkey = 'a b'"})
    assert answer.status_code == 400
    assert "key = &#39;a b&#39;" in answer.text
    assert own_exercises(site.desk.studio) == ()


def test_an_own_exercise_may_begin_as_one_of_the_library(site: Site) -> None:
    form = site.client.get("/practice/exercises/new?like=hold-point-whole").text
    assert 'value="Whole bows in one lane"' in form
    assert site.client.get("/practice/exercises/new?like=nothing").status_code == 400


def test_what_is_not_there_is_said(site: Site) -> None:
    assert site.client.get("/practice/exercises/own/nothing").status_code == 400
    assert site.client.post("/practice/exercises/own/nothing", data=FIELDS).status_code == 400
    assert site.client.post("/practice/exercises/own/nothing/remove").status_code in (400, 404)

"""German speaks to a child as to a child, to an adult as to an adult, in the words that were chosen."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from sentences import called

import colophony
from colophony.language import _, speaking

PACKAGE = Path(colophony.__file__).parent
READERS = ("child", "adult", "teacher")
#: Words that address a reader with "du"; a capital "Sie" within a sentence addresses one with "Sie".
FAMILIAR = re.compile(r"\b(du|dich|dir|dein\w*)\b", re.IGNORECASE)
POLITE = re.compile(r"(?<![.:?!…“] )(?<!^)\b(Sie|Ihnen|Ihr|Ihre[nmrs]?)\b")


@cache
def told() -> tuple[tuple[str, str], ...]:
    """Return reader and text of every thought in the source and in its data."""
    return tuple(in_source())


def in_source() -> Iterator[tuple[str, str]]:
    """Yield reader and text of every thought in the source and in its data."""
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and called(node) == "Say":
                given = dict(zip(READERS, node.args, strict=False))
                given |= {keyword.arg: keyword.value for keyword in node.keywords if keyword.arg in READERS}
                for reader, text in given.items():
                    if isinstance(text, ast.Constant) and isinstance(text.value, str) and text.value:
                        yield reader, text.value
    for path in PACKAGE.rglob("*.toml"):
        yield from in_data(tomllib.loads(path.read_text(encoding="utf-8")))


def in_data(data: object) -> Iterator[tuple[str, str]]:
    if isinstance(data, list):
        for item in data:
            yield from in_data(item)
    elif isinstance(data, dict):
        for key, value in data.items():
            if key in READERS and isinstance(value, str):
                yield key, value
            else:
                yield from in_data(value)


@cache
def in_german(reader: str) -> tuple[str, ...]:
    with speaking("de"):
        return tuple(_(text) for role, text in told() if role == reader)


def test_a_child_is_spoken_to_with_du() -> None:
    assert len(in_german("child")) > 200
    assert [said for said in in_german("child") if POLITE.search(said)] == []
    assert sum(bool(FAMILIAR.search(said)) for said in in_german("child")) > 50


@pytest.mark.parametrize("reader", ["adult", "teacher"])
def test_an_adult_is_spoken_to_with_sie(reader: str) -> None:
    assert len(in_german(reader)) > 200
    assert [said for said in in_german(reader) if FAMILIAR.search(said)] == []


def test_weight_is_never_called_pressure() -> None:
    """The word asks the hand to press (`docs/german.md`)."""
    pressure = re.compile(r"\b(Bogen)?[Dd]ruck\b")
    assert [said for reader in READERS for said in in_german(reader) if pressure.search(said)] == []


def test_a_child_reads_short_sentences_in_german_too() -> None:
    """At most 18 words a sentence: common practice for early readers, no source."""
    for said in in_german("child"):
        for sentence in re.split(r"(?<=[.!?:;])\s+", said):
            assert len(re.findall(r"[\w{}'-]+", sentence)) <= 18, sentence

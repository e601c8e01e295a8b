"""Translations: found under resources/, and filled in like the English sentences."""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from herdbook import words


def catalogue(sentences: Mapping[str, str]) -> bytes:
    """Return a translation as the machine reads it: the format that the GNU gettext manual describes."""
    pairs = sorted({"": "Content-Type: text/plain; charset=UTF-8\n", **sentences}.items())
    at, tables, texts = 28 + 16 * len(pairs), b"", b""
    for column in zip(*pairs, strict=True):
        for text in column:
            tables += struct.pack("<2I", len(text.encode()), at + len(texts))
            texts += text.encode() + b"\0"
    return struct.pack("<7I", 0x950412DE, 0, len(pairs), 28, 28 + 8 * len(pairs), 0, at) + tables + texts


@pytest.fixture
def afresh() -> Iterator[None]:
    """Have the translation looked for anew, here and in the tests that follow."""
    words._translation.cache_clear()
    yield
    words._translation.cache_clear()


@pytest.mark.usefixtures("afresh")
def test_a_translation_among_the_resources_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def resource(name: str) -> Path:
        asked.append(name)
        return tmp_path / name

    file = tmp_path / "locale" / "cy" / "LC_MESSAGES" / "herdbook.mo"
    file.parent.mkdir(parents=True)
    file.write_bytes(catalogue({"{n} cows due": "{n} buwch i ddod"}))
    monkeypatch.setenv("LANGUAGE", "cy")
    monkeypatch.setattr(words, "resource", resource)
    assert words.say("{n} cows due", n=3) == "3 buwch i ddod"
    assert words.say("{n} bulls", n=2) == "2 bulls"
    assert asked == ["locale"]

"""The door's refusals as messages of the catalogue, so that they can be said in another language than English."""

from __future__ import annotations

from protocols.refusals import WORDS

REFUSAL_WORDS = {
    f"refuse.{key}.{part}": words
    for key, pair in WORDS.items()
    for part, words in zip(("why", "remedy"), pair, strict=True)
}
"""Made from the words of the engine, which stay the only place where they are written."""

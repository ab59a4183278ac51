"""One fact: what it is about, small, and it in words below; where it comes from, smaller still."""

from __future__ import annotations

from typing import Any

from kivy.uix.boxlayout import BoxLayout

from screens.widgets.text import Words


class FactRow(BoxLayout):
    """Shows one fact. `bad` for what went otherwise than planned, `under` for its source."""

    def __init__(self, about: str, words: str, under: str = "", bad: bool = False, **kwargs: Any) -> None:
        super().__init__(orientation="vertical", size_hint_y=None, **kwargs)
        self.bind(minimum_height=self.setter("height"))
        self.add_widget(Words(about, step="mark", role="quiet"))
        self.add_widget(Words(words, step="body", role="over_text" if bad else "ink"))
        if under:
            self.add_widget(Words(under, step="detail", role="quiet"))

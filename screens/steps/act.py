"""The buttons of an offer: each choice one tap. They are rebuilt only when the choices change, never under a finger."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout

from screens import theme
from screens.offer import Choice, Offer, Typed
from screens.steps.parts import Lines
from screens.telling import left_text
from screens.widgets.button import BigButton, ButtonRow
from screens.widgets.text import width_px
from screens.words import say

_TILES_IN_ROW = 3
# Words of a tile are not set below this share of their size; then the tiles are made wider. Own figure.
_SMALLEST_TILE = 0.8
# Narrower than this no more than two buttons stand whole beside a bar. Own figure.
_NARROW_DP = 300.0


class Act(BoxLayout):
    """All buttons of one offer, as a column that is as high as it needs."""

    def __init__(self, choose: Callable[[Choice], None], type_value: Callable[[Typed], None], **kwargs: Any) -> None:
        super().__init__(orientation="vertical", size_hint_y=None, height=0, spacing=dp(theme.GAP_DP), **kwargs)
        self._choose, self._type = choose, type_value
        self._built: object = None
        self._offer: Offer | None = None
        self._buttons: list[BigButton] = []
        self._states = Lines()
        self.bind(minimum_height=self.setter("height"))

    def show(self, offer: Offer, low: bool = False) -> None:
        """Show the buttons of this offer; the same ones again only have their small words changed.

        What a tap states stands right above the buttons, so that it is never on another leaf. On a `low` screen a long
        row of values is cut to the first ones and the typed one.
        """
        if low and offer.typed and len(offer.choices) > 2:
            offer = replace(offer, choices=offer.choices[:2])
        self._offer = offer
        self._states.tell(say("need.title"), offer.states, short=low)
        key = (
            bool(offer.states),
            low,
            round(self.width),
            tuple((c.words, c.do, c.subject, repr(dict(c.values)), c.confirm, c.lead) for c in offer.choices),
            tuple((t.words, t.name, t.do, t.subject, repr(dict(t.values))) for t in offer.typed),
        )
        if key != self._built:
            self._built = key
            self._build(offer, low)
        for button, choice in zip(self._buttons, offer.choices, strict=False):
            self._dress(button, choice)

    @staticmethod
    def _dress(button: BigButton, choice: Choice) -> None:
        waits = choice.ready_in_s > 0
        under = say("steps.ready_in", left=left_text(choice.ready_in_s)) if waits else choice.under
        if button.under != under or button.words != choice.words:
            button.set_words(choice.words, under)
        if button.disabled != waits:
            button.disabled = waits
        look = "plain" if waits else choice.look
        if button.look != look:
            button.look = look

    def _build(self, offer: Offer, low: bool) -> None:
        self.clear_widgets()
        if offer.states:
            self.add_widget(self._states)
        self._buttons = [self._button(number, choice) for number, choice in enumerate(offer.choices)]
        typed = list(offer.typed)
        buttons = list(self._buttons)
        if (len(buttons) > 2 or (low and len(buttons) == 2)) and len(typed) == 1:
            buttons.append(self._typed(typed.pop(), say("act.type"), "plain"))
        if len(buttons) <= 2:
            self._add(buttons)
        else:
            in_row = _tiles([button.words for button in buttons], self.width)
            # A row that would not be full comes first: the main choice then has the whole width.
            at = len(buttons) % in_row
            self._add(buttons[:at])
            for start in range(at, len(buttons), in_row):
                self._add(buttons[start : start + in_row])
        main = len(typed) == 1 and len(buttons) <= 1 and all(c.look == "plain" for c in offer.choices)
        others = [self._typed(one, one.words, "act" if main else "plain") for one in typed]
        if main and buttons:
            self.add_widget(others[0], index=1)
        else:
            self._add(others)

    def _add(self, buttons: list[BigButton]) -> None:
        if len(buttons) == 1:
            self.add_widget(buttons[0])
        elif buttons:
            self.add_widget(ButtonRow(buttons))

    def _button(self, number: int, choice: Choice) -> BigButton:
        button = BigButton(choice.words, choice.under, look=choice.look)

        def press(*_: Any) -> None:
            # The choice as of the last look, not as it was when the button was built.
            if self._offer is not None and number < len(self._offer.choices):
                self._choose(self._offer.choices[number])

        button.bind(on_command=press)
        return button

    def _typed(self, typed: Typed, words: str, look: str) -> BigButton:
        button = BigButton(words, look=look)
        button.bind(on_command=lambda *_: self._type(typed))
        return button


def parted(offer: Offer, low: bool, width: float) -> tuple[Offer, Offer]:
    """Promise the offer for the first leaf and what of it waits for the next: on a `low` screen only rare choices.

    Beside the head of a handheld on its side two buttons are all that stand whole on one leaf.
    """
    narrow = low and width < dp(_NARROW_DP)
    rare = low and len(offer.typed) > (0 if narrow else 1) and bool(offer.choices)
    kept = 2 if narrow else len(offer.choices)
    first = replace(offer, typed=() if rare else offer.typed, choices=offer.choices[:kept])
    return first, replace(offer, typed=offer.typed if rare else (), choices=offer.choices[kept:], states=())


def _tiles(words: list[str], width: float) -> int:
    """How many tiles go in a row: three, or two where there are four or where a long word would be set too small."""
    room = (width - 2 * dp(theme.GAP_DP)) / _TILES_IN_ROW - 2 * dp(theme.PAD_DP)
    longest = max(width_px(word, "button", bold=True) for text in words for word in text.split(" "))
    return 2 if len(words) == 4 or longest * _SMALLEST_TILE > room > 0 else _TILES_IN_ROW

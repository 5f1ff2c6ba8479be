"""What goes wrong with a provider, in a sentence that can be shown to anyone."""

import datetime as dt


class Trouble(Exception):
    """A provider could not be asked, or its answer not be taken.

    The sentence never holds a credential. `again`: a later try may do better; `after`: the
    provider asks to be left alone for so long.
    """

    def __init__(
        self, sentence: str, *, again: bool = False, after: dt.timedelta | None = None
    ) -> None:
        super().__init__(sentence)
        self.sentence, self.again, self.after = sentence, again, after

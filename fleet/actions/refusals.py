"""The refusals of actions: a sentence for the person, a word for the program."""


class Refused(Exception):
    """An action that was not done. `code` names why; the message says it to a person."""

    def __init__(self, code: str, sentence: str, *, field: str = "") -> None:
        super().__init__(sentence)
        self.code, self.sentence, self.field = code, sentence, field

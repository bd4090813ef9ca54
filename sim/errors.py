"""The one way in which input is refused."""


class InputError(ValueError):
    """Something that a person wrote, or pointed at, cannot be used.

    source : file or option that holds it
    place : key, line, point or cell inside the source; empty where the whole source is meant
    problem : what is wrong, in plain words
    remedy : what to do
    The text is one line, whatever the parts hold.
    """

    def __init__(self, source: str, place: str, problem: str, remedy: str):
        parts = [source] + ([place] if place else []) + [f"{problem}; {remedy}"]
        super().__init__(" ".join(": ".join(parts).split()))
        self.source, self.place, self.problem, self.remedy = source, place, problem, remedy

"""The exception that carries every mistake of a file at once."""


class ProblemsError(Exception):
    """All that is wrong with a file; `problems` holds one line each."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems

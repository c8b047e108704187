"""How a command ends: exit codes, and the one exception that carries one with words for a person."""

DONE = 0
OUR_FAULT = 1
BAD_ARGUMENTS = 2
BAD_RECORDING = 3
NOT_AVAILABLE = 4


class CommandError(Exception):
    """A command cannot go on; the message names what is wrong, where, and what to do."""

    def __init__(self, code: int, message: str) -> None:
        super().__init__(message)
        self.code = code

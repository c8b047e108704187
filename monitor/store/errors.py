"""What can be wrong with the store, as the wiring must tell it apart; each message says where and what to do."""


class StoreError(Exception):
    """The store cannot do what was asked."""


class StoreInUseError(StoreError):
    """Another process writes to the data directory."""


class StoreUnavailableError(StoreError):
    """The data directory or its database cannot be used: missing, no permission, disk full, or another program's."""


class StoreTooNewError(StoreError):
    """A newer version of the program made the database."""


class StoreDamagedError(StoreError):
    """The database file is damaged; `set_aside` moves it away so that a new one can begin."""


class BlockDamageError(ValueError):
    """The bytes of a sealed block are not what was written: CRC or form is wrong."""


class DamagedBlockError(StoreError):
    """One sealed block cannot be read; `block` is its number. The others can."""

    def __init__(self, block: int, where: str, reason: str) -> None:
        super().__init__(f"block {block} ({where}) is damaged: {reason}; restore it from a backup or an export")
        self.block = block

"""What register and archive ask of whatever keeps their tables, file or server.

Queries are the SQL that both engines understand, with values by name (`:mark`). A change is one transaction, lasting
when the call returns, and changes of several processes wait for each other, so that what has been looked up within one
still holds when it is written.
"""

from contextlib import AbstractContextManager
from typing import Protocol

Value = str | int | float | bytes | None
"""What a column may hold. Neither engine takes the other's truth values, so yes and no are 1 and 0."""


class Database(Protocol):
    """An open one; whatever goes wrong with it is raised as one line, of the kind it was opened with."""

    @property
    def name(self) -> str:
        """Where it is, fit to be shown: never a password."""

    def rows(self, query: str, /, **values: Value) -> list[tuple[object, ...]]:
        """Give all rows that answer a query."""

    def row(self, query: str, /, **values: Value) -> tuple[object, ...] | None:
        """Give the first row that answers a query, None without any."""

    def change(self, statement: str, /, **values: Value) -> None:
        """Change rows; only within `changing`."""

    def insert(self, table: str, row: dict[str, Value]) -> None:
        """Add a row; only within `changing`."""

    def insert_numbered(self, table: str, row: dict[str, Value]) -> int:
        """Add a row to a table whose `id` numbers itself, and give its number; only within `changing`."""

    def changing(self) -> AbstractContextManager[None]:
        """One transaction: all of it lasting, or nothing."""

    def close(self) -> None:
        """Let go of it."""

"""Commands about a board on the bench."""

__all__: list[str] = []

"""Commands about a heat that is over."""

__all__ = ["report", "tell"]

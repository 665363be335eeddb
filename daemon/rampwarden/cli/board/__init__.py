"""Commands about a board on the bench."""

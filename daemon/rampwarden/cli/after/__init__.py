"""Commands about a heat that is over."""

"""The one immutable picture of a heat that every display draws from."""

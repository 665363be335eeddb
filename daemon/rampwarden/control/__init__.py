"""The control socket: how other terminals ask a running watch and tell it."""

"""Commands about the crucibles in the register."""

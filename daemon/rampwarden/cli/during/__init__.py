"""Commands that run a watch, or speak to one."""

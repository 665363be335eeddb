"""What is looked at before lighting up: one module a part of the watch, each giving one line a question."""

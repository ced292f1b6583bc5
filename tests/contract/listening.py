"""A plugin of pytest that notes what the service says; `sentences.py` loads it before any module of the service."""

from tests.contract.sentences import listen

listen()

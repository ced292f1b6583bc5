"""The kind `net_content`: the average and the single shortages of a declared content, by a named rule or by own figures.

`rules` holds the figures, a module a law; `figures` says what they are made of, `checks` compares, `ruling` brings a finding
together, `set_point` reports the mean that would do.
"""

from service.engine.requirements.net_content.compiling import compiled, flaws
from service.engine.requirements.net_content.documents import NetContent
from service.engine.requirements.net_content.ruling import NetContentRule

__all__ = ["NetContent", "NetContentRule", "compiled", "flaws"]

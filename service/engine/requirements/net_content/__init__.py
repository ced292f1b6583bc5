"""The kind `net_content`: the average and the shortages of a declared content, by a named rule or by the grade's own figures.

`rules` has the figures, one module for each law, and `figures` their types. `checks` compares, `ruling` makes the finding of
the three checks, and `set_point` calculates the mean that would meet them.
"""

from service.engine.requirements.net_content.compiling import compiled, flaws
from service.engine.requirements.net_content.documents import NetContent
from service.engine.requirements.net_content.ruling import NetContentRule

__all__ = ["NetContent", "NetContentRule", "compiled", "flaws"]

"""The rules whose figures are stored here, one module for each law; all of them are public texts of laws."""

from collections.abc import Mapping

from service.engine.requirements.net_content.figures import Law
from service.engine.requirements.net_content.rules import de_fpackv, eu_76_211, uk_2006_659

LAWS: Mapping[str, Law] = {law.name: law for law in (eu_76_211.LAW, uk_2006_659.LAW, de_fpackv.MASS, de_fpackv.LENGTH)}
"""The laws by the name that a specification gives in `rule`."""

__all__ = ["LAWS"]

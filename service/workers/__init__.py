"""Who does much work at the same time: processes of this machine, or a cluster."""

from service.workers.cluster import Cluster
from service.workers.processes import Processes

__all__ = ["Cluster", "Processes"]

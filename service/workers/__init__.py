"""Worker pools for parallel work: processes of this machine, or a Dask cluster."""

from service.workers.cluster import Cluster
from service.workers.processes import Processes

__all__ = ["Cluster", "Processes"]

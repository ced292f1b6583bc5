"""Grades and revisions: drafts, releases, the revision in force, differences, and the cache of compiled grades."""

from service.usecases.grades import catalogue
from service.usecases.grades.cache import CachedGrade, CacheSizes, GradeCache
from service.usecases.grades.catalogue import check_there, revision_in_force
from service.usecases.grades.changes import Changes
from service.usecases.grades.reviewing import Review, review

__all__ = [
    "CacheSizes",
    "CachedGrade",
    "Changes",
    "GradeCache",
    "Review",
    "catalogue",
    "check_there",
    "review",
    "revision_in_force",
]

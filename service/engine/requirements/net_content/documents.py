"""The kind `net_content` as a specification writes it."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.documents import Name, Whole
from service.engine.requirements.documents import NotNegative, OnCharacteristic
from service.engine.sampling import Sample

Positive = Annotated[float, Meta(gt=0)]
RuleName = Literal["eu-76-211", "uk-2006-659", "de-fpackv", "de-fpackv-length", "nist-hb133", "own"]
Scheme = Literal["single", "double"]


class Tolerable(Struct, frozen=True, forbid_unknown_fields=True):
    """What a package may be short by, one of two: a share of the nominal content, or an amount in the characteristic's unit."""

    percent: Annotated[float, Meta(gt=0, le=100)] | UnsetType = UNSET
    amount: Positive | UnsetType = UNSET
    rounding_up_to: Positive | UnsetType = UNSET
    """The share is rounded up to a multiple of this, in the characteristic's unit."""


class Own(Struct, frozen=True, forbid_unknown_fields=True):
    """The figures that the grade gives itself: all of them for `own`, the plan and what is tolerable for `nist-hb133`."""

    sample: Sample
    tolerable: Tolerable
    at_most_beyond: Whole | UnsetType = UNSET
    """So many packages at most may be short by more than is tolerable; left out where the plan has an accept number."""
    mean_factor: NotNegative | UnsetType = UNSET
    """The mean and so many standard deviations are compared with the nominal content; the plain mean where left out."""
    none_beyond_times: Annotated[float, Meta(ge=1)] | UnsetType = UNSET
    """No package may be short by more than so many times what is tolerable; not looked at where left out."""


class SetPoint(Struct, frozen=True, forbid_unknown_fields=True):
    """With what chance, in percent, each check is to be met by the mean that is reported as the set-point."""

    chance: Annotated[float, Meta(gt=0, le=100)]


class NetContent(OnCharacteristic, frozen=True, kw_only=True, tag="net_content"):
    """The average and the single shortages of a declared content, by a named rule or by the grade's own figures."""

    rule: RuleName
    nominal: Positive | UnsetType = UNSET
    """In the characteristic's unit; one of this and `of_declared`."""
    of_declared: Name | UnsetType = UNSET
    """The characteristic whose declared number is the nominal content."""
    scheme: Scheme | UnsetType = UNSET
    """For a rule that has both; `single` where left out."""
    destructive: bool | UnsetType = UNSET
    """True where packages are opened: the rule's smaller sample, for a rule that has one of its own for it."""
    yarn: bool | UnsetType = UNSET
    """True for yarn, of which the German rule on length allows a package up to 100 m to be short by more."""
    own: Own | UnsetType = UNSET
    set_point: SetPoint | UnsetType = UNSET

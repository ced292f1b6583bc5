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
    """The tolerable shortage of a package: a share of the nominal content, or an amount in the characteristic's unit."""

    percent: Annotated[float, Meta(gt=0, le=100)] | UnsetType = UNSET
    amount: Positive | UnsetType = UNSET
    rounding_up_to: Positive | UnsetType = UNSET
    """The share is rounded up to a multiple of this, in the characteristic's unit."""


class Own(Struct, frozen=True, forbid_unknown_fields=True):
    """The figures that the grade states: all of them for `own`, the plan and the tolerable shortage for `nist-hb133`."""

    sample: Sample
    tolerable: Tolerable
    at_most_beyond: Whole | UnsetType = UNSET
    """The most packages that may be short by more than is tolerable; left out where the plan has an accept number."""
    mean_factor: NotNegative | UnsetType = UNSET
    """The mean plus this many standard deviations is compared with the nominal content; the plain mean where left out."""
    none_beyond_times: Annotated[float, Meta(ge=1)] | UnsetType = UNSET
    """No package may be short by more than this many times the tolerable shortage; not checked where left out."""


class SetPoint(Struct, frozen=True, forbid_unknown_fields=True):
    """The chance, in percent, with which each check is to be met by the mean that is reported as the set-point."""

    chance: Annotated[float, Meta(gt=0, le=100)]


class NetContent(OnCharacteristic, frozen=True, kw_only=True, tag="net_content"):
    """The average and the shortages of a declared content, by a named rule or by the grade's own figures."""

    rule: RuleName
    nominal: Positive | UnsetType = UNSET
    """In the characteristic's unit; either this or `of_declared` is given."""
    of_declared: Name | UnsetType = UNSET
    """The characteristic whose declared number is the nominal content."""
    scheme: Scheme | UnsetType = UNSET
    """The plan, for a rule that has both; `single` where left out."""
    destructive: bool | UnsetType = UNSET
    """True where packages are opened: the smaller sample of a rule that has one for such checks."""
    yarn: bool | UnsetType = UNSET
    """True for yarn, for which the German rule on length tolerates a larger shortage of packages of up to 100 m."""
    own: Own | UnsetType = UNSET
    set_point: SetPoint | UnsetType = UNSET

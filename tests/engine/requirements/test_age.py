"""How old a lot is, in days of the local calendar, beside how old it may be.

How long twine may lie is a term of the contract, counted from the day of manufacture; no law for twine was found. Ropes have
published ages: ten years at most (ASTM F1740-96, 5.2.2, SEEN second hand).
"""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.engine.documents import Flaw
from tests.support.grades import FORCE, Document, grade, mean
from tests.support.judging import flaws_in, flaws_of, judged

DAYS = st.dates(date(1, 1, 1), date(9999, 12, 31))


def aged(**members: object) -> Document:
    """A grade of sisal twine that may be a year old when it is asked for, unless `members` say something else."""
    document = {"id": "age", "kind": "age", "from": "made", "to": "asked", "limits": {"upper": 365}, **members}
    return {"characteristics": [FORCE], "requirements": [document]}


def dated(**days: str) -> Document:
    """Evidence with the day of each event."""
    return {"lot": {"id": "L-1"}, "dates": [{"event": event, "date": day} for event, day in days.items()]}


def found(specification: Document, **days: str) -> Document:
    """The finding on a lot with these dates."""
    finding: Document = judged(specification, dated(**days))["findings"][0]
    return finding


def julian_day(year: int, month: int, day: int) -> int:
    """Days since noon of 1 January 4713 BC, from the calendar's rules alone.

    Source: Fliegel and Van Flandern, Communications of the ACM 11 (1968), 657 (MEM).
    """
    before = (month - 14) // 12 + (1 if (month - 14) % 12 else 0)
    return (
        1461 * (year + 4800 + before) // 4
        + 367 * (month - 2 - 12 * before) // 12
        - 3 * ((year + 4900 + before) // 100) // 4
        + day
        - 32075
    )


def test_a_lot_that_is_young_enough_passes() -> None:
    """January 10 to November 25 are 21 + 28 + 31 + 30 + 31 + 30 + 31 + 31 + 30 + 31 + 25 = 319 days."""
    assert {
        "requirement": "age",
        "kind": "age",
        "binding": True,
        "outcome": "pass",
        "measured": {"statistic": "age", "value": 319, "unit": "d"},
        "limits": {"upper": 365, "unit": "d"},
        "margin": 46,
        "reasons": [
            {
                "code": "within",
                "text": "The age from `made` to `asked`, 319 d, is 46 d below the upper limit of 365 d.",
                "with": {"value": 319, "limit": 365, "unit": "d", "by": 46},
                "rule": "/requirements/0/limits/upper",
                "at": ["/dates/0", "/dates/1"],
                "at_total": 2,
            }
        ],
    } == found(aged(), made="2026-01-10", asked="2026-11-25")


@pytest.mark.parametrize(
    ("made", "asked", "days"),
    [
        ("2026-11-25", "2026-11-25", 0),
        ("2025-03-01", "2026-03-01", 365),
        ("2024-02-28", "2024-03-01", 2),
        ("2023-02-28", "2023-03-01", 1),
        ("2100-02-28", "2100-03-01", 1),
        ("2000-02-28", "2000-03-01", 2),
        ("2026-03-29", "2026-03-30", 1),
        ("0001-01-01", "9999-12-31", 3_652_058),
    ],
)
def test_days_are_those_of_the_calendar(made: str, asked: str, days: int) -> None:
    """A leap day counts, an hour lost or won in spring or autumn does not."""
    assert days == found(aged(limits={"lower": 0}), made=made, asked=asked)["measured"]["value"]


@pytest.mark.parametrize(("made", "outcome", "margin"), [("2024-03-01", "pass", 0), ("2024-02-29", "fail", -1)])
def test_the_last_day_still_counts(made: str, outcome: str, margin: int) -> None:
    """Limits include their own value: from 1 March 2024 to 1 March 2025 are 365 days."""
    finding = found(aged(), made=made, asked="2025-03-01")

    assert (outcome, margin) == (finding["outcome"], finding["margin"])


def test_a_lot_that_is_too_old_fails() -> None:
    """The reason says by how much and by which term."""
    [reason] = found(aged(), made="2025-01-10", asked="2026-11-25")["reasons"]

    assert ("above-upper", "/requirements/0/limits/upper") == (reason["code"], reason["rule"])
    assert "The age from `made` to `asked`, 684 d, is 319 d above the upper limit of 365 d." == reason["text"]


def test_a_lot_can_be_too_young() -> None:
    """A rope that has to rest after it is laid is not asked for on the next day."""
    [reason] = found(aged(limits={"lower": 2, "upper": 365}), made="2026-11-24", asked="2026-11-25")["reasons"]

    assert "below-lower" == reason["code"]
    assert "The age from `made` to `asked`, 1 d, is 1 d below the lower limit of 2 d." == reason["text"]


@pytest.mark.parametrize(("made", "outcome"), [("2024-03-02", "pass"), ("2024-03-01", "fail")])
def test_the_last_day_does_not_count_where_the_limit_is_excluded(made: str, outcome: str) -> None:
    """Younger than 365 days leaves out the 365th: 1 March 2024 to 1 March 2025 are 365 days."""
    assert outcome == found(aged(limits={"below": 365}, past="fail"), made=made, asked="2025-03-01")["outcome"]


def test_a_limit_need_not_be_whole() -> None:
    """Half a year is 182.5 days to whoever writes so."""
    finding = found(aged(limits={"upper": 182.5}), made="2026-01-01", asked="2026-07-03")

    assert ("fail", -0.5) == (finding["outcome"], finding["margin"])
    assert "The age from `made` to `asked`, 183 d, is 0.5 d above the upper limit of 182.5 d." == finding["reasons"][0]["text"]


@pytest.mark.parametrize(
    ("days", "events", "text"),
    [
        (
            {"made": "2026-01-10"},
            ["asked"],
            "No date of `asked` is given, and the age is counted from `made` to `asked`. Give it in `dates`.",
        ),
        (
            {"asked": "2026-01-10"},
            ["made"],
            "No date of `made` is given, and the age is counted from `made` to `asked`. Give it in `dates`.",
        ),
        (
            {},
            ["made", "asked"],
            ("No date of `made` and `asked` is given, and the age is counted from `made` to `asked`. Give them in `dates`."),
        ),
    ],
)
def test_without_a_date_it_is_undecided(days: dict[str, str], events: list[str], text: str) -> None:
    """A lot whose label is lost is not taken for a fresh one, and the day of asking is never read from a clock."""
    finding = found(aged(), **days)
    [reason] = finding["reasons"]

    assert ("undecided", "date-missing", {"events": events}) == (finding["outcome"], reason["code"], reason["with"])
    assert text == reason["text"]


def test_a_lot_past_its_date_is_undecided_where_it_may_be_retested() -> None:
    """Sisal that has lain for too long is tested again, not thrown away; until then nobody knows."""
    specification = aged(past="undecided", restarted_by="retested")
    finding = found(specification, made="2025-01-10", asked="2026-11-25")
    [reason] = finding["reasons"]

    assert ("undecided", "retest-due") == (finding["outcome"], reason["code"])
    assert {"statistic": "age", "value": 684, "unit": "d"} == finding["measured"]
    assert (
        "The age from `made` to `asked`, 684 d, is 319 d above the upper limit of 365 d, so the lot is due for a retest. "
        "Retest it, and give the day as `retested` in `dates`." == reason["text"]
    )


def test_a_retest_that_lets_nothing_count_anew_is_only_asked_for() -> None:
    """Where the grade says nothing of a date of the retest, none is asked for."""
    [reason] = found(aged(past="undecided"), made="2025-01-10", asked="2026-11-25")["reasons"]

    assert reason["text"].endswith("so the lot is due for a retest. Retest it.")


def test_a_lot_that_may_be_retested_can_still_be_too_young() -> None:
    """`past` is about the upper limit alone."""
    specification = aged(past="undecided", limits={"lower": 2, "upper": 365})

    assert "fail" == found(specification, made="2026-11-24", asked="2026-11-25")["outcome"]


@pytest.mark.parametrize(
    ("retested", "start", "days", "at"),
    [
        ("2026-10-01", "retested", 55, ["/dates/0", "/dates/1", "/dates/2"]),
        ("2025-01-09", "made", 684, ["/dates/0", "/dates/1", "/dates/2"]),
        ("2025-01-10", "made", 684, ["/dates/0", "/dates/1", "/dates/2"]),
    ],
)
def test_after_a_retest_the_days_count_anew(retested: str, start: str, days: int, at: list[str]) -> None:
    """They count from the later of the two days: a test from before it was made into a ball does not make it older."""
    specification = aged(past="undecided", restarted_by="retested")
    finding = found(specification, made="2025-01-10", retested=retested, asked="2026-11-25")

    assert (days, at) == (finding["measured"]["value"], finding["reasons"][0]["at"])
    assert finding["reasons"][0]["text"].startswith(f"The age from `{start}` to `asked`, ")


def test_a_retest_does_not_stand_in_for_the_day_of_making() -> None:
    """Which of the two is later can't be told."""
    assert "undecided" == found(aged(restarted_by="retested"), retested="2026-10-01", asked="2026-11-25")["outcome"]


WRONG_DATES = [
    (
        dated(made="2026-02-29", asked="2026-11-25"),
        [Flaw("no-such-day", "`2026-02-29` is not a day of the calendar. Write it as 2025-06-01.", "/dates/0/date")],
    ),
    (
        dated(made="2026-11-26", asked="2026-11-25"),
        [
            Flaw(
                "dates-in-wrong-order",
                "The date of `asked`, 2026-11-25, is before that of `made`, 2026-11-26. Correct one of the two.",
                "/dates/1/date",
                "/requirements/0/to",
            )
        ],
    ),
    (
        dated(asked="2026-11-25", made="2026-01-10", retested="2026-11-26"),
        [
            Flaw(
                "dates-in-wrong-order",
                "The date of `asked`, 2026-11-25, is before that of `retested`, 2026-11-26. Correct one of the two.",
                "/dates/2/date",
                "/requirements/0/restarted_by",
            )
        ],
    ),
    (
        dated(mad="2026-01-10", asked="2026-11-25"),
        [
            Flaw(
                "unknown-event",
                "No requirement of the grade depends on the date of `mad`. Did you mean `made`?",
                "/dates/0/event",
            )
        ],
    ),
    (
        dated(wound="2026-01-10"),
        [
            Flaw(
                "unknown-event",
                ("No requirement of the grade depends on the date of `wound`. It depends on `asked`, `made` and `retested`."),
                "/dates/0/event",
            )
        ],
    ),
    (
        {"lot": {"id": "L-1"}, "dates": [{"event": "made", "date": "2026-01-10"}] * 2},
        [Flaw("dated-twice", "`made` is already dated at /dates/0. Remove one of the two.", "/dates/1/event")],
    ),
]


@pytest.mark.parametrize(("evidence", "flaws"), WRONG_DATES)
def test_what_is_wrong_with_dates_is_told(evidence: Document, flaws: list[Flaw]) -> None:
    """A typing error in a date is no old lot, and no young one."""
    assert flaws == flaws_in(aged(restarted_by="retested"), evidence)


def test_a_date_is_refused_where_no_requirement_goes_by_one() -> None:
    """Whoever sends a date means it to count."""
    [flaw] = flaws_in(grade(mean(lower=1400)), dated(made="2026-01-10"))

    assert ("unknown-event", "/dates/0/event") == (flaw.code, flaw.at)
    assert "No requirement of the grade depends on a date, so that of `made` changes nothing. Remove it." == flaw.text


def test_two_requirements_that_find_the_same_wrong_tell_it_once() -> None:
    """One mistake is one thing to mend."""
    specification = aged()
    specification["requirements"].append({**specification["requirements"][0], "id": "age-2"})

    assert 1 == len(flaws_in(specification, dated(made="2026-11-26", asked="2026-11-25")))


def test_flaws_of_dates_stand_after_those_of_declarations() -> None:
    """They come in the order of the document, each with its own."""
    evidence = {**dated(made="2026-11-26", asked="2026-11-25"), "declared": [{"characteristic": "x", "value": 1}]}

    assert ["/declared/0/characteristic", "/dates/1/date"] == [flaw.at for flaw in flaws_in(aged(), evidence)]


WRONG_AGES = [
    ({"to": "made"}, "event-twice", "/requirements/0/to", "`to` is the same event as `from`, `made`. Name another event."),
    (
        {"restarted_by": "asked"},
        "event-twice",
        "/requirements/0/restarted_by",
        "`restarted_by` is the same event as `to`, `asked`. Name another event.",
    ),
    (
        {"limits": {"lower": 2}, "past": "undecided"},
        "past-without-upper",
        "/requirements/0/past",
        "`limits` has no upper side, so no lot can be past it. Give an upper limit, or remove `past`.",
    ),
    (
        {"limits": {"lower": 400, "upper": 365}},
        "limits-upside-down",
        "/requirements/0/limits",
        "The lower limit, 400 d, is above the upper one, 365 d. Swap them or correct one.",
    ),
    (
        {"limits": {"upper": {"percent": 50, "of_declared": "age"}}},
        "limit-depends-here",
        "/requirements/0/limits/upper",
        "This limit must be a number; it cannot depend on the lot. Give the number.",
    ),
    (
        {"limits": {"upper": -1}},
        "negative",
        "/requirements/0/limits/upper",
        "Age is never negative, and -1 is. Correct the limit.",
    ),
    (
        {"limits": {}},
        "limits-without-sides",
        "/requirements/0/limits",
        "The limits have neither a lower nor an upper side. Give at least one.",
    ),
]


@pytest.mark.parametrize(("members", "code", "at", "text"), WRONG_AGES)
def test_what_is_wrong_with_an_age_is_told(members: Document, code: str, at: str, text: str) -> None:
    """A term that lets every lot pass, or none, is told before it is released."""
    assert [Flaw(code, text, at)] == flaws_of(aged(**members))


@given(DAYS, DAYS)
def test_the_age_is_that_of_another_count_of_days(one: date, other: date) -> None:
    """Two ways to count the days of the calendar agree on every pair of them."""
    made, asked = sorted((one, other))
    days = julian_day(asked.year, asked.month, asked.day) - julian_day(made.year, made.month, made.day)
    finding = found(aged(limits={"upper": 365}), made=made.isoformat(), asked=asked.isoformat())

    assert days == finding["measured"]["value"]
    assert ("pass" if days <= 365 else "fail") == finding["outcome"]


@given(st.dates(date(1900, 1, 1), date(2100, 1, 1)), st.integers(0, 2000), st.integers(0, 2000), st.integers(0, 40_000))
def test_a_retest_never_makes_a_lot_older(made: date, until_retest: int, until_asked: int, later: int) -> None:
    """And all of it moved by the same number of days is the same lot."""
    asked, retested = made + timedelta(until_asked), made + timedelta(min(until_retest, until_asked))
    days = {"made": made, "asked": asked, "retested": retested}
    specification = aged(restarted_by="retested")
    without = found(specification, made=made.isoformat(), asked=asked.isoformat())
    finding = found(specification, **{event: day.isoformat() for event, day in days.items()})
    moved = found(specification, **{event: (day + timedelta(later)).isoformat() for event, day in days.items()})

    assert finding["measured"]["value"] <= without["measured"]["value"]
    assert finding == moved

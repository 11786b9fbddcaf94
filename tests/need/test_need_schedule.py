"""Schedules keep every limit, cover every need, and are not declared impossible where one exists."""

from __future__ import annotations

from itertools import combinations, pairwise, permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import ScenarioError
from optimizer.need.demand import Demand, longest_gap, step_up
from optimizer.need.levers import lengthened
from optimizer.need.placing import earliest_start
from optimizer.need.schedule import arrange, surely_too_much
from optimizer.need.shortage import find_shortage
from optimizer.need.timer import Allowance, Timer, Window, clock, day_names

LITRE_A_MINUTE = 1.0e-3 / 60.0


def every_day(start, end, days=range(7)):
    return tuple(Window(day, start, end) for day in days)


def demand(zone, minutes_per_day, most=1000.0, gap=7, flow=10 * LITRE_A_MINUTE):
    return Demand(zone, minutes_per_day, most, gap, flow)


def zone_faults(zone, asked, allowance):
    """Limits of its own that a zone's times break."""
    timer, starts = allowance.timer, sorted(zone.starts_min)
    rules = {
        "step": zone.minutes % timer.step_min == 0,
        "longest run": zone.minutes <= timer.longest_run_min,
        "starts": len(starts) <= timer.starts_per_day,
        "soil": zone.minutes <= max(asked.most_minutes, timer.step_min) + 1e-6,
        "need": zone.minutes * len(starts) * len(zone.weekdays) >= 7 * asked.minutes_per_day - 1e-6,
        "pause": all(b - a >= zone.minutes + allowance.soak_min for a, b in pairwise(starts)),
    }
    return [f"{zone.zone}: {name}" for name, kept in rules.items() if not kept]


def faults(times, demands, allowance):
    """Everything a schedule breaks; single minutes are marked on a wall of days."""
    by_zone = {d.zone: d for d in demands}
    found = [fault for zone in times for fault in zone_faults(zone, by_zone[zone.zone], allowance)]
    free = {(w.weekday, m) for w in allowance.windows for m in range(w.start_min, w.end_min)}
    runs = [(zone, day, start) for zone in times for day in zone.weekdays for start in zone.starts_min]
    volume = dict.fromkeys(range(7), 0.0)
    for zone, day, start in runs:
        cells = {(day, minute) for minute in range(start, start + zone.minutes)}
        found += [] if cells <= free else [f"{zone.zone}: day {day} from {start} is taken or not allowed"]
        free -= cells
        volume[day] += zone.minutes * 60 * zone.flow_m3_s
    if allowance.volume_per_day_m3 is not None and max(volume.values()) > allowance.volume_per_day_m3 * (1 + 1e-6):
        found.append("volume")
    return found


@st.composite
def gardens(draw):
    days = draw(st.lists(st.integers(0, 6), min_size=1, max_size=7, unique=True))
    windows = []
    for day in days:
        start = draw(st.integers(0, 30)) * 10
        length = draw(st.integers(2, 30)) * 10
        windows.append(Window(day, start, start + length))
        if draw(st.booleans()):
            windows.append(Window(day, start + length + 20, start + length + 20 + 10 * draw(st.integers(1, 12))))
    timer = Timer(8, draw(st.sampled_from([1, 5, 10])), draw(st.sampled_from([30, 60, 120])), draw(st.integers(1, 4)))
    volume = draw(st.one_of(st.none(), st.floats(0.2, 5.0)))
    zones = [
        demand(f"Z{n}", draw(st.floats(0.0, 40.0)), draw(st.floats(5.0, 200.0)), draw(st.integers(1, 7)))
        for n in range(draw(st.integers(1, 4)))
    ]
    return zones, Allowance(tuple(windows), timer, draw(st.sampled_from([0, 30])), volume_per_day_m3=volume)


@given(gardens())
@settings(derandomize=True, max_examples=150, deadline=None)
def test_what_is_arranged_breaks_no_limit_and_covers_every_need(case):
    zones, allowance = case
    times = arrange(zones, allowance)
    if times is None:
        return
    assert {t.zone for t in times} == {d.zone for d in zones if d.minutes_per_day > 1e-9}
    assert faults(times, zones, allowance) == []
    assert times == arrange(zones, allowance)


def can_be_placed(runs, allowance):
    """Whether runs (minutes, days), one start each, fit one after another: every start minute of every order."""
    first, last = min(w.start_min for w in allowance.windows), max(w.end_min for w in allowance.windows)
    for starts in product(range(first, last), repeat=len(runs)):
        taken, fits = set(), True
        for (minutes, days), start in zip(runs, starts, strict=True):
            cells = {(day, m) for day in days for m in range(start, start + minutes)}
            allowed = all(
                any(w.weekday == d and w.start_min <= start and start + minutes <= w.end_min for w in allowance.windows)
                for d in days
            )
            fits = fits and allowed and not cells & taken
            taken |= cells
        if fits:
            return True
    return False


def enumerated(demands, allowance):
    """Whether any choice of days and starts covers two needs with one run a day, by trying everything."""
    sets = [days for size in range(1, 4) for days in combinations(allowance.weekdays, size)]
    for choice in product(sets, repeat=len(demands)):
        runs = []
        for asked, days in zip(demands, choice, strict=True):
            runs.append((step_up(asked.week_minutes / len(days), allowance.timer.step_min), days))
        if all(minutes <= allowance.timer.longest_run_min for minutes, _ in runs) and can_be_placed(runs, allowance):
            return True
    return False


SMALL_WINDOW = st.tuples(st.integers(0, 2), st.integers(0, 3), st.integers(2, 5))


@given(
    st.lists(SMALL_WINDOW, min_size=1, max_size=3, unique_by=lambda window: window[0]),
    st.lists(st.integers(1, 9), min_size=1, max_size=2),
)
@settings(derandomize=True, max_examples=60, deadline=None)
def test_impossible_only_if_trying_everything_finds_nothing(days, weeks):
    windows = tuple(Window(day, start, start + length) for day, start, length in days)
    allowance = Allowance(windows, Timer(4, 1, 60, 1))
    demands = [demand(f"Z{n}", week / 7.0) for n, week in enumerate(weeks)]
    assert (arrange(demands, allowance) is not None) == enumerated(demands, allowance)


def test_window_thirty_percent_too_short():
    """By hand: two zones of 50 min a day are 700 min a week; 70 min a day are 490; 490/700 = 70 %, so 30 % short.

    Cut to 70 % each runs 35 min a day. Levers: the need 30 % less; both at once (50 <= 70) at 10 + 12 = 22 L/min;
    100 min a day instead of 70, that is 30 more.
    """
    allowance = Allowance(every_day(360, 430), Timer(2, 1, 120, 1), usable_flow_m3_s=25 * LITRE_A_MINUTE)
    zones = [demand("A", 50.0), demand("B", 50.0, flow=12 * LITRE_A_MINUTE)]
    assert arrange(zones, allowance) is None
    short = find_shortage(zones, allowance, mulch_saves=0.1)
    assert short is not None
    assert (short.short_pct, short.proven) == (30, True)
    assert [(t.zone, t.minutes, t.weekdays, t.wanted_week_min) for t in short.covered] == [
        ("A", 35, tuple(range(7)), 350.0),
        ("B", 35, tuple(range(7)), 350.0),
    ]
    flow, hours, need = short.levers
    assert (flow.kind, flow.within_reach) == ("flow", True)
    assert flow.amount / LITRE_A_MINUTE == pytest.approx(22.0)
    assert (hours.kind, hours.amount, hours.unit) == ("hours", 30.0, "min")
    assert hours.text == "let each window end 30 min later (3.5 h more a week)"
    assert (need.kind, need.amount, need.within_reach) == ("need", 30.0, False)


def test_mulch_that_saves_enough_comes_first():
    short = find_shortage([demand("A", 100.0)], Allowance(every_day(0, 70), Timer(1, 1, 240, 1)), mulch_saves=0.35)
    assert short is not None
    assert (short.levers[0].kind, short.levers[0].within_reach) == ("need", True)


@pytest.mark.parametrize(("usable", "reach"), [(22.0, True), (21.9, False), (None, False)])
def test_zones_run_together_only_on_a_supply_that_feeds_them(usable, reach):
    """10 + 12 = 22 L/min."""
    flow = None if usable is None else usable * LITRE_A_MINUTE
    allowance = Allowance(every_day(360, 430), Timer(2, 1, 120, 1), usable_flow_m3_s=flow)
    short = find_shortage([demand("A", 50.0), demand("B", 50.0, flow=12 * LITRE_A_MINUTE)], allowance, 0.0)
    assert short is not None
    (lever,) = [each for each in short.levers if each.kind == "flow"]
    assert lever.within_reach is reach
    assert lever.text == "run together A + B: needs 22.0 L/min at working pressure"


def test_the_pair_of_like_minutes_and_least_flow_is_run_together():
    """40 + 40 + 40 in 80: any pair does; A + C needs 15 L/min, A + B 25, B + C 20; with C at 10 min A + B is alike."""
    allowance = Allowance(every_day(360, 440), Timer(3, 1, 120, 1), usable_flow_m3_s=1.0)
    zones = [demand("A", 40.0), demand("B", 40.0, flow=15 * LITRE_A_MINUTE), demand("C", 40.0, flow=5 * LITRE_A_MINUTE)]
    short = find_shortage(zones, allowance, 0.0)
    assert short is not None
    assert "run together A + C: needs 15.0 L/min" in " ".join(lever.text for lever in short.levers)
    short = find_shortage([*zones[:2], demand("C", 10.0, flow=5 * LITRE_A_MINUTE)], allowance, 0.0)
    assert short is not None
    assert "run together A + B: needs 25.0 L/min" in " ".join(lever.text for lever in short.levers)


def test_zones_of_different_need_can_run_together_but_one_gets_too_much():
    short = find_shortage([demand("A", 50.0), demand("B", 30.0)], Allowance(every_day(0, 60), Timer(2, 1, 99, 1)), 0.0)
    assert short is not None
    (lever,) = [each for each in short.levers if each.kind == "flow"]
    assert lever.text.endswith("and the one that needs less gets too much")
    assert not lever.within_reach


@pytest.mark.parametrize(("usable", "reach"), [(14.3, True), (14.2, False)])
def test_more_flow_in_one_zone_needs_a_supply_that_feeds_it(usable, reach):
    """100 min in 70: 143 % of 10 L/min."""
    allowance = Allowance(every_day(0, 70), Timer(1, 1, 240, 1), usable_flow_m3_s=usable * LITRE_A_MINUTE)
    short = find_shortage([demand("A", 100.0)], allowance, 0.0)
    assert short is not None
    (lever,) = [each for each in short.levers if each.kind == "flow"]
    assert lever.within_reach is reach
    assert lever.text.endswith("needs 14.3 L/min")


def test_one_zone_alone_is_helped_by_more_flow():
    """By hand: 100 min wanted in 70: flow times 100/70 = 1.43, so 143 % (142 % still needs 70.4 min)."""
    short = find_shortage([demand("A", 100.0)], Allowance(every_day(0, 70), Timer(1, 1, 240, 1)), mulch_saves=0.0)
    assert short is not None
    flow = next(lever for lever in short.levers if lever.kind == "flow")
    assert flow.amount / (10 * LITRE_A_MINUTE) == pytest.approx(1.43)
    assert "143 %" in flow.text


def test_more_days_are_offered_where_hours_end_at_midnight():
    """By hand: 90 min a week; one window of 60 up to midnight; another such day gives 120."""
    allowance = Allowance((Window(5, 1380, 1440),), Timer(1, 1, 240, 1))
    short = find_shortage([demand("A", 90.0 / 7.0)], allowance, mulch_saves=0.0)
    assert short is not None
    days = next(lever for lever in short.levers if lever.kind == "days")
    assert (days.amount, days.text) == (1.0, "water also on Mon, at the same hours")


def test_a_timer_with_too_few_starts():
    """By hand: 60 min a day where the soil takes 20 at once need 3 starts; with 2 only 40 min: 66 %, 33.3 % short."""
    allowance = Allowance(every_day(0, 600), Timer(1, 1, 240, 2))
    short = find_shortage([demand("A", 60.0, most=20.0)], allowance, mulch_saves=0.0)
    assert short is not None
    assert (short.short_pct, short.proven) == (34, False)
    assert (short.levers[0].kind, short.levers[0].amount) == ("starts", 3.0)


def test_short_of_water_a_day():
    """By hand: 70 min a day at 10 L/min are 700 L; 490 L allowed are 70 %; 700/490 = 142.9, so 143 %: 700.7 L."""
    allowance = Allowance(every_day(0, 600), Timer(1, 1, 240, 1), volume_per_day_m3=0.490)
    short = find_shortage([demand("A", 70.0)], allowance, mulch_saves=0.0)
    assert short is not None
    assert (short.short_pct, short.proven) == (30, True)
    volume = next(lever for lever in short.levers if lever.kind == "volume")
    assert volume.amount == pytest.approx(0.7007)
    assert volume.text == "allow 701 L a day instead of 490 L"


def test_every_lever_makes_it_fit():
    """The changes are made by hand here and planned again."""
    allowance = Allowance(every_day(360, 430, (0, 2, 4)), Timer(2, 5, 120, 1), usable_flow_m3_s=1.0)
    zones = [demand("A", 20.0), demand("B", 18.0)]
    short = find_shortage(zones, allowance, mulch_saves=0.9)
    assert short is not None
    by_kind = {lever.kind: lever for lever in short.levers}
    less = [demand(z.zone, z.minutes_per_day * (1 - by_kind["need"].amount / 100)) for z in zones]
    assert arrange(less, allowance) is not None
    longer = Allowance(every_day(360, 430 + int(by_kind["hours"].amount), (0, 2, 4)), allowance.timer)
    assert arrange(zones, longer) is not None
    assert arrange([demand("A + B", 20.0)], allowance) is not None


def test_sand_and_clay_split_the_run_and_let_it_soak():
    """By hand: 60 min a day where the soil takes 25 at once: three runs of 20 with 30 min between: 0:00, 0:50, 1:40."""
    allowance = Allowance(every_day(0, 240), Timer(1, 1, 240, 4), soak_min=30)
    (times,) = arrange([demand("clay", 60.0, most=25.0, gap=1)], allowance)
    assert (times.minutes, times.starts_min, times.weekdays) == (20, (0, 50, 100), tuple(range(7)))
    assert times.bridged
    assert times.week_minutes == 420
    assert times.week_m3 == pytest.approx(4.2)


def test_another_zone_runs_while_the_first_soaks():
    allowance = Allowance(every_day(0, 120), Timer(2, 1, 240, 2), soak_min=30)
    first, second = arrange([demand("A", 40.0, most=20.0, gap=1), demand("B", 30.0, gap=1)], allowance)
    assert (first.starts_min, first.minutes) == ((0, 50), 20)
    assert (second.starts_min, second.minutes) == ((20,), 30)


def test_minutes_are_steps_of_the_timer_and_rounded_up():
    """By hand: 10 min a day are 70 a week; on Mon Wed Fri 23.3 each, in steps of 5: 25."""
    (times,) = arrange([demand("A", 10.0, gap=3)], Allowance(every_day(0, 60, (0, 2, 4)), Timer(1, 5, 60, 1)))
    assert (times.minutes, times.weekdays, times.week_minutes) == (25, (0, 2, 4), 75)


def test_soil_that_cannot_bridge_the_pause_is_told():
    """Weekends only: from Sunday to Saturday are 6 days, the soil bridges 2."""
    (times,) = arrange([demand("A", 10.0, gap=2)], Allowance(every_day(0, 200, (5, 6)), Timer(1, 1, 240, 1)))
    assert (times.weekdays, times.bridged) == ((5, 6), False)


def test_zones_get_days_of_their_own_where_no_common_day_fits():
    """Monday 60 min, Tuesday 40 min: a run of 60 and one of 40 a week fit on one day each, on no common day."""
    allowance = Allowance((Window(0, 0, 60), Window(1, 0, 40)), Timer(2, 1, 240, 1))
    times = arrange([demand("A", 60 / 7), demand("B", 40 / 7)], allowance)
    assert [(t.zone, t.weekdays, t.minutes) for t in times] == [("A", (0,), 60), ("B", (1,), 40)]


def test_litres_a_day_spread_zones_over_days():
    """Runs of 30 min (the only step) take 300 L; 300 L a day are allowed, so two zones cannot share a day."""
    allowance = Allowance(every_day(0, 300, (0, 3)), Timer(2, 30, 30, 1), volume_per_day_m3=0.3)
    times = arrange([demand("A", 30 / 7), demand("B", 30 / 7)], allowance)
    assert [(t.zone, t.weekdays, t.minutes) for t in times] == [("A", (0,), 30), ("B", (3,), 30)]
    assert faults(times, [demand("A", 30 / 7), demand("B", 30 / 7)], allowance) == []


def test_nothing_asked_nothing_scheduled():
    assert arrange([demand("A", 0.0)], Allowance(every_day(0, 10), Timer())) == ()


def test_sums_prove_a_shortage_only_beyond_the_window():
    allowance = Allowance(every_day(0, 70), Timer(1, 1, 240, 1))
    assert not surely_too_much([demand("A", 70.0)], allowance)
    assert surely_too_much([demand("A", 70.1)], allowance)


@pytest.mark.parametrize(("days", "gap"), [((0,), 7), ((0, 2, 4), 3), ((5, 6), 6), (tuple(range(7)), 1), ((0, 3), 4)])
def test_longest_pause_of_a_set_of_days(days, gap):
    assert longest_gap(days) == gap


def test_windows_grow_up_to_the_next_one_and_midnight():
    """Two windows of a day with 10 min between, the second 20 min before midnight: 10 and 20 more."""
    allowance = Allowance((Window(0, 1300, 1350), Window(0, 1360, 1420)), Timer())
    assert [w.end_min for w in lengthened(allowance, 60).windows] == [1360, 1440]


def test_earliest_start_skips_taken_minutes_and_windows_too_small():
    allowance = Allowance((Window(0, 0, 20), Window(0, 40, 100)), Timer())
    assert earliest_start(30, (0,), 0, allowance, []) == 40
    assert earliest_start(30, (0,), 0, allowance, [(0, 40, 60)]) == 60
    assert earliest_start(30, (0,), 0, allowance, [(0, 40, 80)]) is None
    assert earliest_start(15, (0,), 3, allowance, []) == 3


@pytest.mark.parametrize("order", sorted(permutations(range(3))))
def test_the_order_of_zones_does_not_decide_whether_they_fit(order):
    """Two windows of 50 and 30: runs of 30, 30 and 20 fit only as 30 + 20 and 30."""
    allowance = Allowance((Window(0, 0, 50), Window(0, 100, 130)), Timer(3, 1, 60, 1))
    minutes = [30, 30, 20]
    times = arrange([demand(f"Z{i}", minutes[i] / 7) for i in order], allowance)
    assert times is not None


@pytest.mark.parametrize(
    "build",
    [
        lambda: Window(0, 60, 60),
        lambda: Window(7, 0, 60),
        lambda: Timer(step_min=0),
        lambda: Timer(step_min=10, longest_run_min=5),
        lambda: Allowance((), Timer()),
        lambda: Allowance((Window(0, 0, 60), Window(0, 30, 90)), Timer()),
        lambda: Allowance((Window(0, 0, 60),), Timer(), volume_per_day_m3=0.0),
        lambda: Allowance((Window(0, 0, 60),), Timer(), tolerance=2.0),
    ],
)
def test_limits_that_cannot_be_are_refused(build):
    with pytest.raises(ScenarioError):
        build()


def test_clock_and_days_in_words():
    assert (clock(0), clock(390), clock(1439)) == ("00:00", "06:30", "23:59")
    assert day_names((4, 0)) == "Mon Fri"

"""What tube may and may not do, on gardens small enough to measure by hand."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from optimizer.routes.graph import GroundGraph, RoutePrice
from optimizer.routes.ground import GardenPath, Ground, GroundError, NoRouteError
from optimizer.routes.rectilinear import rectilinear_graph
from optimizer.routes.result import Route
from optimizer.routes.shortest import shortest_route
from optimizer.routes.visibility import visibility_graph

PLAIN = RoutePrice(1)


def square(ground: Ground, source: tuple[float, float], goal: tuple[float, float], axis: float = 0.0) -> Route:
    return shortest_route(rectilinear_graph(ground, source, [goal], axis), PLAIN)


def straight(ground: Ground, source: tuple[float, float], goal: tuple[float, float]) -> Route:
    return shortest_route(visibility_graph(ground, source, [goal]), PLAIN)


def test_free_ground_needs_one_bend() -> None:
    route = square(Ground(), (0, 0), (3, 4))
    assert (route.length_mm, route.turns) == (7000, 1)
    assert straight(Ground(), (0, 0), (3, 4)).length_mm == 5000  # 3-4-5 triangle
    assert straight(Ground(), (0, 0), (3, 4)).turns == 0


def test_lengths_are_whole_millimetres_rounded_up_when_slanted() -> None:
    assert straight(Ground(), (0, 0), (1, 1)).length_mm == 1415  # 1414.2 mm
    assert straight(Ground(), (0, 0), (0.001, 0.001)).length_mm == 2  # 1.4 mm


def test_tube_runs_along_the_edge_of_a_keep_out_but_not_through_it() -> None:
    ground = Ground(keep_outs=(box(1, -1, 2, 3),))
    assert square(ground, (0, 0), (3, 0)).length_mm == 3000 + 2 * 1000
    assert square(ground, (0, 3), (3, 3)).length_mm == 3000
    # sqrt(1 + 1) at both ends and 1 m along the lower edge
    assert straight(ground, (0, 0), (3, 0)).length_mm == 2 * 1415 + 1000


def test_two_keep_outs_side_by_side_leave_no_seam() -> None:
    ground = Ground(keep_outs=(box(1, -2, 2, 0), box(1, 0, 2, 3)))
    assert square(ground, (0, 0), (3, 0)).length_mm == 3000 + 2 * 2000


def test_a_keep_out_on_the_plot_edge_leaves_no_seam() -> None:
    ground = Ground(keep_outs=(box(1, 0, 2, 3),), region=box(0, 0, 3, 5))
    assert square(ground, (0, 0), (3, 0)).length_mm == 3000 + 2 * 3000


def test_the_opening_of_a_barrier_is_used() -> None:
    # a fence along x = 2 from -5 to 5, open between y = 3 and y = 4
    fence = (LineString([(2, -5), (2, 3)]), LineString([(2, 4), (2, 5)]))
    assert square(Ground(barriers=fence), (0, 0), (4, 0)).length_mm == 4000 + 2 * 3000
    assert straight(Ground(barriers=fence), (0, 0), (4, 0)).length_mm == 2 * math.ceil(math.hypot(2, 3) * 1000)
    closed = (LineString([(2, -5), (2, 5)]),)
    assert square(Ground(barriers=closed), (0, 0), (4, 0)).length_mm == 4000 + 2 * 5000
    with pytest.raises(NoRouteError, match=r"terminal 1 at \(4\.000 m, 0\.000 m\)"):
        square(Ground(barriers=closed, region=box(-1, -5, 5, 5)), (0, 0), (4, 0))


@pytest.mark.parametrize("route", [square, straight])
def test_tube_along_a_barrier_stays_on_its_side(route) -> None:  # type: ignore[no-untyped-def]
    # from below the fence to above it, both places 1 mm off: round the nearer end
    ground = Ground(barriers=(LineString([(0, 0), (10, 0)]),))
    found = route(ground, (9, -0.001), (9, 0.001))
    assert 2000 <= found.length_mm <= 2004
    alongside = route(ground, (1, 0.001), (9, 0.001))
    assert alongside.length_mm == 8000


@pytest.mark.parametrize("route", [square, straight])
def test_a_bent_barrier_is_not_crossed_at_its_bend(route) -> None:  # type: ignore[no-untyped-def]
    # an L open to the upper right; from inside the corner to outside it
    ground = Ground(barriers=(LineString([(0, 6), (0, 0), (4, 0)]),))
    found = route(ground, (1, 1), (-1, -1))
    if route is square:
        assert found.length_mm == 3000 + 1000 + 5000 + 1000  # round (4, 0)
    else:
        assert found.length_mm == math.ceil(math.hypot(3, 1) * 1000) + math.ceil(math.hypot(5, 1) * 1000)


@pytest.mark.parametrize("route", [square, straight])
@pytest.mark.parametrize("miss_m", [0.0, 0.001, 0.002, -0.003])
def test_a_fence_that_meets_a_house_or_fence_leaves_no_slit(route, miss_m: float) -> None:  # type: ignore[no-untyped-def]
    house = Ground(keep_outs=(box(-1, 5, 1, 8),), barriers=(LineString([(0, 0), (0, 5 - miss_m)]),))
    expected = 1000 + 2 * 1000 if route is square else None
    found = route(house, (-0.5, 1), (0.5, 1))
    assert found.length_mm == (expected or 2 * math.ceil(math.hypot(0.5, 1) * 1000))
    # a T of two fences on a bounded plot parts it
    fences = (LineString([(-5, 5), (5, 5)]), LineString([(0, 0), (0, 5 - miss_m)]))
    with pytest.raises(NoRouteError):
        route(Ground(barriers=fences, region=box(-5, 0, 5, 8)), (-0.5, 1), (0.5, 1))


def test_a_gap_a_grower_left_on_purpose_stays_open() -> None:
    fences = (LineString([(-5, 5), (5, 5)]), LineString([(0, 0), (0, 4.95)]))
    found = square(Ground(barriers=fences, region=box(-5, 0, 5, 8)), (-0.5, 1), (0.5, 1))
    assert found.length_mm == 1000 + 2 * 3950


def test_a_fence_slanted_onto_another_leaves_no_slit() -> None:
    # the ends meet at (1/3, 1/3), which is on no millimetre
    fences = (LineString([(-4, -4), (5, 5)]), LineString([(5, -4), (1 / 3, 1 / 3)]))
    with pytest.raises(NoRouteError):
        square(Ground(barriers=fences, region=box(-4, -4, 5, 5)), (2, 0), (0, -2))
    with pytest.raises(NoRouteError):
        straight(Ground(barriers=fences, region=box(-4, -4, 5, 5)), (2, 0), (0, -2))


def test_crossings_are_counted_with_place_and_covered_length() -> None:
    path = GardenPath("main", box(2, -10, 3, 10))
    route = square(Ground(paths=(path,)), (0, 0), (5, 0))
    assert [(c.path, c.point, c.length_mm) for c in route.crossings] == [("main", (2.5, 0.0), 1000)]
    assert route.length_mm == 5000


def test_a_path_is_crossed_straight_even_where_a_bend_would_be_shorter() -> None:
    # the tap is left of the path, the inlet right of it: tube bends before or after, never underneath
    path = GardenPath("main", box(1, -10, 2, 10))
    graph = rectilinear_graph(Ground(paths=(path,), guides=(LineString([(1.5, -3), (1.5, 3)]),)), (0, 0), [(3, 2)])
    route = shortest_route(graph, PLAIN)
    assert (route.length_mm, route.turns, len(route.crossings)) == (5000, 1, 1)
    assert all(not 1 < x < 2 for x, _ in route.points)


def test_a_dear_crossing_is_walked_round() -> None:
    # a path of 4 m length: 2 m up and down saves a crossing dearer than 4 m of tube
    path = GardenPath("short", box(2, -2, 3, 2))
    graph = rectilinear_graph(Ground(paths=(path,)), (0, 0), [(5, 0)])
    assert shortest_route(graph, RoutePrice(1, 3999)).length_mm == 5000
    assert shortest_route(graph, RoutePrice(1, 4001)).length_mm == 9000
    assert shortest_route(graph, RoutePrice(1, 2000, 2)).length_mm == 5000  # 2000 + 2 x 1000 mm of cover
    assert shortest_route(graph, RoutePrice(1, 2001, 2)).length_mm == 9000


def test_a_path_is_not_run_along() -> None:
    limited = GardenPath("lane", box(0, -0.5, 20, 0.5), longest_crossing_m=1.5)
    route = square(Ground(paths=(limited,)), (-1, 0), (21, 0))
    assert route.length_mm == 22000 + 2 * 500
    assert route.crossings == ()
    assert len(square(Ground(paths=(GardenPath("lane", box(0, -0.5, 20, 0.5)),)), (-1, 0), (21, 0)).crossings) == 1


def test_paths_side_by_side_are_two_crossings_and_their_seam_is_one() -> None:
    paths = (GardenPath("a", box(1, -5, 2, 5)), GardenPath("b", box(2, -5, 3, 5)))
    assert [c.path for c in square(Ground(paths=paths), (0, 0), (4, 0)).crossings] == ["a", "b"]
    stacked = (GardenPath("a", box(1, -5, 2, 0)), GardenPath("b", box(1, 0, 2, 5)))
    assert [c.path for c in square(Ground(paths=stacked), (0, 0), (4, 0)).crossings] == ["a"]


def test_turned_axes_give_the_same_route_turned() -> None:
    angle = math.radians(30)

    def turned(x: float, y: float) -> tuple[float, float]:
        return (x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle))

    hole = Polygon([turned(*p) for p in ((1, -1), (2, -1), (2, 3), (1, 3))])
    route = square(Ground(keep_outs=(hole,)), turned(0, 0), turned(3, 0), angle)
    assert route.length_mm == 5000
    for found, expected in zip(route.points, [turned(*p) for p in ((0, 0), (0, -1), (3, -1), (3, 0))], strict=True):
        assert found == pytest.approx(expected, abs=1e-3)


def test_of_the_shortest_routes_the_one_with_fewest_bends_is_laid() -> None:
    guides = tuple(LineString([(k, k), (k + 1, k + 1)]) for k in range(6))
    assert square(Ground(guides=guides), (0, 0), (6, 6)).turns == 1


def test_round_obstacles_are_passed_at_their_outermost_points() -> None:
    tree = Point(2, 0).buffer(0.5)
    assert square(Ground(keep_outs=(tree,)), (0, 0), (4, 0)).length_mm == 5000
    wide = straight(Ground(keep_outs=(tree,), smallest_corner_rad=0.0), (0, 0), (4, 0)).length_mm
    # taut string round a circle of 0.5 m: two tangents and an arc, and the polygon with its corners on the circle is
    # no longer than that
    taut = 2 * math.sqrt(4 - 0.25) + 0.5 * (math.pi - 2 * math.acos(0.25))
    assert taut * 1000 - 10 <= wide <= taut * 1000 + 15


def test_the_region_may_be_in_parts_and_have_holes() -> None:
    ring = box(0, 0, 10, 10).difference(box(2, 2, 8, 8))
    assert square(Ground(region=ring), (1, 5), (9, 5)).length_mm == 8000 + 2 * 3000
    islands = MultiPolygon([box(0, 0, 1, 1), box(2, 0, 3, 1)])
    with pytest.raises(NoRouteError):
        square(Ground(region=islands), (0.5, 0.5), (2.5, 0.5))


@pytest.mark.parametrize("build", [lambda g, s, t: rectilinear_graph(g, s, t), visibility_graph])
@pytest.mark.parametrize(
    ("ground", "source", "goals", "message"),
    [
        (Ground(keep_outs=(box(0, 0, 2, 2),)), (1, 1), [(5, 5)], r"the source at \(1\.000 m, 1\.000 m\) is inside"),
        (Ground(keep_outs=(box(0, 0, 2, 2),)), (3, 3), [(5, 5), (1, 1)], "terminal 2 .* is inside"),
        (Ground((box(0, 0, 1, 1),), region=box(0, 0, 2, 2)), (0.5, 0), [(2, 2)], "the source .* is shut in between"),
        (Ground(region=box(0, 0, 2, 2)), (1, 1), [(5, 5)], "terminal 1 .* outside"),
        (Ground(barriers=(LineString([(0, 0), (2, 0)]),)), (1, 0), [(5, 5)], "the source .* is on a barrier"),
        (Ground(keep_outs=(Polygon([(0, 0), (2, 2), (2, 0), (0, 2)]),)), (5, 0), [(5, 5)], "keep-out 1.*Self-inter"),
        (Ground(paths=(GardenPath("p", box(0, 0, 1, 1)),) * 2), (5, 0), [(5, 5)], "two paths share a name"),
        (Ground(paths=(GardenPath("p", box(0, 0, 1, 1), 0.0),)), (5, 0), [(5, 5)], "longest crossing"),
        (Ground(), (5, 0), [], "at least one terminal"),
        (Ground(), (5, math.nan), [(1, 1)], "finite"),
    ],
)
def test_wrong_ground_is_refused(build, ground, source, goals, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(GroundError, match=message):
        build(ground, source, goals)


def test_prices_that_make_no_sense_are_refused() -> None:
    for wrong in ((0, 0, 0), (1, -1, 0), (1, 0, -1)):
        with pytest.raises(ValueError, match="tube must cost"):
            RoutePrice(*wrong)
    with pytest.raises(ValueError, match="coarser"):
        rectilinear_graph(Ground(), (0, 0), [(5, 5)]).costs(RoutePrice(10**15))


def test_every_edge_is_in_exactly_one_chain() -> None:
    fence = (LineString([(2, 0), (2, 2), (3, 2)]), LineString([(1, 2), (2, 2)]))
    ground = Ground((box(4, 4, 5, 5),), fence, (GardenPath("p", box(0, 2.5, 6, 3)),), (), box(0, 0, 6, 6))
    graph = rectilinear_graph(ground, (0, 0), [(6, 6), (3, 1), (1, 5)])
    chained = [tuple(sorted(pair)) for f in graph.families for chain in f for pair in pairwise(chain)]
    assert sorted(chained) == [(e.start, e.end) for e in graph.edges]
    assert all(len({n for chain in f for n in chain}) == sum(map(len, f)) for f in graph.families)


def test_graph_is_the_same_every_time() -> None:
    def build() -> GroundGraph:
        return rectilinear_graph(Ground((box(1, 1, 2, 2), box(3, 0, 4, 2))), (0, 0), [(5, 1), (2, 4)])

    assert build() == build()

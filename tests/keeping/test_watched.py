"""Results of functions that are given more than they look at."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest

from pipeline.elements.hall_shape import Ground, Hall
from pipeline.keeping.kept import NOTHING_KEPT, Kept, around
from pipeline.keeping.watched import altered, watch

from .test_kept import Drawer

HALL = Hall(scale=48, width=170.0, height=140.0, depth=250.0, floor=3.0, apron=0.0, front=0.6, springing=70.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """Three lengths, and one that follows from two of them."""

    wide: float = 3.0
    high: float = 2.0
    deep: float = 5.0

    @property
    def area(self) -> float:
        """What stands upright."""
        return self.wide * self.high

    def higher(self, by: float) -> Sizes:
        """The same, so much higher."""
        return altered(self, high=self.high + by)


def test_what_is_looked_at_is_noted_through_properties_and_methods() -> None:
    """Whatever a property or a method looks at counts; what a change put in its place does not."""
    seen: set[str] = set()
    stand_in = watch(Sizes(), seen)
    assert stand_in.area == 6.0
    assert seen == {"wide", "high"}
    seen.clear()
    assert stand_in.higher(1.0).area == 9.0
    assert seen == {"wide", "high"}
    seen.clear()
    assert altered(stand_in, high=7.0).high == 7.0
    assert seen == set()


def test_a_result_stays_while_all_it_looked_at_stays() -> None:
    """Only a field that was looked at makes a result anew; then it is the right one."""
    kept, made = Kept(), []

    def depth_or_area(sizes: Sizes) -> float:
        made.append(sizes)
        return sizes.deep if sizes.wide > 4 else sizes.area

    def asked(sizes: Sizes) -> float:
        return kept.watching(("of these",), sizes, depth_or_area)

    assert [asked(Sizes()), asked(Sizes(deep=9.0)), asked(Sizes(high=4.0))] == [6.0, 6.0, 12.0]
    assert len(made) == 2
    # Another way through the function looks at other fields; both ways are remembered.
    assert [asked(Sizes(wide=5.0, high=h, deep=8.0)) for h in (1.0, 2.0)] == [8.0, 8.0]
    assert len(made) == 3
    assert asked(Sizes(deep=1.0)) == 6.0
    assert len(made) == 3


def test_other_inputs_make_another_result() -> None:
    """What is named beside the value counts whole."""
    kept = Kept()
    assert [kept.watching((n,), Sizes(), lambda sizes, n=n: n * sizes.wide) for n in (1, 2)] == [3.0, 6.0]  # type: ignore[misc]


def test_results_that_looked_at_little_are_found_on_the_shelf() -> None:
    """A new process finds which fields were looked at, and the result."""
    shelf = Drawer()
    assert Kept(shelf).watching(("area",), Sizes(), lambda sizes: sizes.area) == 6.0
    assert Kept(shelf).watching(("area",), Sizes(deep=1.0), lambda _: pytest.fail("it was kept")) == 6.0
    assert Kept(shelf).watching(("area",), Sizes(wide=1.0), lambda sizes: sizes.area) == 2.0


@pytest.mark.parametrize(
    "ask",
    [
        lambda hall: hall.size("back-wall"),
        lambda hall: hall.below_vault.height,
        lambda hall: hall.over(Ground(part="dais", level=9.0, origin=0.0, near=5.0, far=9.0)).height,
        lambda hall: hall.standing(1.0, 20.0).floor,
        lambda hall: hall.millimetres(2.0),
        lambda hall: hall.ground(1.0, 5.0),
        lambda hall: hall.imagined_from_host("floor").tolist(),
        lambda hall: hall.shape.width,
    ],
)
def test_a_watched_hall_answers_as_the_hall(ask: object) -> None:
    """Each property and method gives the same; none of these needs to know where the faces start."""
    seen: set[str] = set()
    assert callable(ask)
    assert ask(watch(HALL, seen)) == ask(HALL)
    assert seen
    assert seen.isdisjoint({"front", "web_front", "least_ends", "covers"})
    assert ask(watch(replace(HALL, front=7.0), set())) == ask(HALL)


def test_parts_of_a_result_are_kept_where_it_is() -> None:
    """Within a making, whoever keeps its result keeps its parts; outside nobody does."""
    kept, made = Kept(), []

    def part(number: int) -> int:
        made.append(number)
        return number

    def whole(numbers: tuple[int, ...]) -> int:
        return sum(around().given(("part", number), lambda number=number: part(number)) for number in numbers)  # type: ignore[misc]

    for numbers in ((1, 2), (1, 3)):
        kept.given(("whole", numbers), lambda numbers=numbers: whole(numbers))  # type: ignore[misc]
    assert made == [1, 2, 3]
    assert around() is NOTHING_KEPT
    whole((1, 2))
    assert made == [1, 2, 3, 1, 2]

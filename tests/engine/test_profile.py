"""Firing order and numbering travel together: FAA-H-8083-32B pp. 1-15 and 1-16."""

import pytest

from leanwright.engine.profile import Place, opposed, renumbered_order

SIX = [(1, 6, 3, 2, 5, 4), (1, 4, 5, 2, 3, 6)]
FOUR = [(1, 3, 2, 4), (1, 4, 2, 3)]


def test_cylinder_one_lies_right_rear_when_counted_from_the_rear_and_two_left_of_it() -> None:
    """FAA-H-8083-32B p. 1-15: 1 right rear, 2 left rear, 3 forward of 1, 4 forward of 2."""
    assert opposed(6, "from-rear").places == {
        1: Place(2, "right"),
        2: Place(2, "left"),
        3: Place(1, "right"),
        4: Place(1, "left"),
        5: Place(0, "right"),
        6: Place(0, "left"),
    }


def test_counted_from_the_front_the_rows_are_turned_round() -> None:
    assert opposed(4, "from-front").places == {
        1: Place(0, "right"),
        2: Place(0, "left"),
        3: Place(1, "right"),
        4: Place(1, "left"),
    }


@pytest.mark.parametrize(("rear", "front"), [SIX, FOUR])
def test_counting_from_the_other_end_turns_one_printed_order_into_the_other(
    rear: tuple[int, ...], front: tuple[int, ...]
) -> None:
    """Both orders of each pair are in use; the pairs are one physical order under two numberings (arithmetic)."""
    assert renumbered_order(rear) == front
    assert renumbered_order(front) == rear


@pytest.mark.parametrize("cylinders", [4, 6])
def test_both_profiles_of_an_engine_fire_the_same_places_in_the_same_order(cylinders: int) -> None:
    rear, front = opposed(cylinders, "from-rear"), opposed(cylinders, "from-front")
    fired_rear = [rear.places[number] for number in rear.firing_order]
    fired_front = [front.places[number] for number in front.firing_order]
    first = fired_front.index(fired_rear[0])
    assert fired_front[first:] + fired_front[:first] == fired_rear


def test_the_order_that_the_handbook_prints_beside_rear_numbering_is_the_usual_one_backwards() -> None:
    usual = opposed(6, "from-rear").firing_order
    assert (usual[0], *reversed(usual[1:])) == (1, 4, 5, 2, 3, 6)


@pytest.mark.parametrize("order", SIX)
def test_orders_of_six_change_the_bank_at_every_step(order: tuple[int, ...]) -> None:
    assert all((a + b) % 2 for a, b in zip(order, (*order[1:], order[0]), strict=True))


def test_an_order_of_its_own_is_kept() -> None:
    assert opposed(6, "from-rear", (1, 4, 5, 2, 3, 6)).firing_order == (1, 4, 5, 2, 3, 6)


def test_an_order_that_leaves_a_cylinder_out_is_refused() -> None:
    with pytest.raises(ValueError, match=r"\(1, 2, 2, 4\) does not name each of 1 to 4 once"):
        opposed(4, "from-rear", (1, 2, 2, 4))


def test_engines_without_a_usual_order_have_none() -> None:
    assert opposed(8).firing_order == opposed(0).firing_order == opposed(8, "from-front").firing_order == ()

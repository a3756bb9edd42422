"""Sales that may be of one piece are answered together, however they come."""

from __future__ import annotations

import random
from uuid import UUID

from stallkeep.domain.matching.competing import Competing


def an_id(number: int) -> UUID:
    return UUID(int=number)


def competing(*claims: tuple[int, ...]) -> Competing:
    """Lines 0, 1, 2, … with the pieces that each may be of."""
    made = Competing()
    for line, pieces in enumerate(claims):
        made.add(an_id(line), [an_id(piece) for piece in pieces], is_open=line % 2 == 1)
    return made


def packs(made: Competing, least: int = 1) -> list[list[int]]:
    return [[claim.line.int for claim in pack] for pack in made.packs(least)]


def test_lines_that_share_no_piece_are_apart_in_the_order_they_came() -> None:
    assert packs(competing((7,), (), (5, 6))) == [[0], [1], [2]]


def test_lines_that_share_a_piece_by_way_of_others_are_together() -> None:
    assert packs(competing((1,), (2,), (3,), (1, 3), (9,))) == [[0, 2, 3], [1], [4]]


def test_a_pack_is_closed_once_it_has_enough_lines() -> None:
    assert packs(competing((1,), (2,), (3,), (3,), (4,)), least=2) == [[0, 1], [2, 3], [4]]


def test_a_line_can_be_put_together_with_those_that_may_be_of_a_piece() -> None:
    made = competing((1,), (2,), (3,))
    made.join([(an_id(0), an_id(3)), (an_id(1), an_id(99))])
    assert packs(made) == [[0, 2], [1]]
    assert [claim.pieces for pack in made.packs(1) for claim in pack] == [
        (an_id(1),),
        (an_id(3),),
        (an_id(2),),
    ]


def test_no_lines_make_no_pack() -> None:
    assert packs(Competing()) == []


def test_a_line_keeps_its_pieces_in_the_order_they_were_found() -> None:
    ((first,), (second,)) = competing((8, 3, 5), (4,)).packs(1)
    assert first.pieces == (an_id(8), an_id(3), an_id(5))
    assert (first.is_open, second.is_open) == (False, True)


def test_packs_hold_every_line_once_and_share_no_piece() -> None:
    for seed in range(50):
        dice = random.Random(seed)  # noqa: S311 - chance, not secrecy
        claims = [tuple(dice.sample(range(30), dice.choice((0, 1, 1, 2, 4)))) for _ in range(40)]
        made = competing(*claims)
        found = list(made.packs(dice.randint(1, 9)))
        assert sorted(claim.line.int for pack in found for claim in pack) == list(range(40))
        used = [{piece for claim in pack for piece in claim.pieces} for pack in found]
        assert sum(map(len, used)) == len(set().union(*used)) == len(made.pieces)

from __future__ import annotations

from uuid import UUID, uuid4

import pytest

from stallkeep.store.ids import id_at, new_id, new_id_texts
from stallkeep.work.token_text import new_token, read_token


def test_the_example_of_the_standard() -> None:
    # RFC 9562, appendix A.6 (from memory): 2022-02-22T14:22:22-05:00 is 0x017F22E279B0
    # milliseconds; rand_a is 0xCC3 and rand_b 0x18C4DC0C0C07398F.
    made = id_at(0x017F22E279B0, (0xCC3 << 62) | 0x18C4DC0C0C07398F)
    assert made == UUID("017F22E2-79B0-7CC3-98C4-DC0C0C07398F")


def test_later_ids_sort_after_earlier_ones() -> None:
    assert id_at(1, 2**80 - 1) < id_at(2, 0)


def test_a_new_id_is_of_version_7_and_the_standards_variant() -> None:
    made = new_id()
    assert (made.version, made.variant) == (7, "specified in RFC 4122")
    assert made != new_id()


def test_ids_made_at_once_are_like_those_made_singly_and_rise() -> None:
    made = [UUID(text) for text in new_id_texts(10_000)]
    assert made == sorted(set(made))
    assert {(one.version, one.variant) for one in made} == {(7, "specified in RFC 4122")}
    assert abs((made[0].int >> 80) - (new_id().int >> 80)) < 60_000


def test_a_token_says_its_shop_and_proves_its_secret() -> None:
    made = new_token(uuid4(), new_id())
    read = read_token(str(made))
    assert read == made
    assert read is not None
    assert read.is_proven_by(made.secret_sha256())
    assert not read.is_proven_by(new_token(made.shop_id, made.token_id).secret_sha256())
    assert made.secret not in made.secret_sha256()


@pytest.mark.parametrize("text", ["", "sk_", "sk_" + "A" * 63, "sk_" + "A" * 65, "sk_" + "é" * 64])
def test_another_text_is_no_token(text: str) -> None:
    assert read_token(text) is None

"""What is published of numbers, rounded so that it tells of nobody."""

import pytest

from service.usecases.local_documents import contributors_band, round_count


@pytest.mark.parametrize(
    ("count", "told"),
    # by definition: the largest of 1, 2, 5, 10, 20, 50 ... that is not above
    [(0, 0), (0.9, 0), (1, 1), (4.9, 2), (5, 5), (9, 5), (10, 10), (64, 50), (67, 50), (252, 200), (1999.5, 1000)],
)
def test_records_are_told_as_one_two_or_five_with_zeros(count: float, told: int) -> None:
    assert round_count(count) == told


@pytest.mark.parametrize(
    ("count", "band"), [(0, None), (4, None), (5, "5-9"), (9, "5-9"), (10, "10-19"), (20, "20-49"), (50, "50+")]
)
def test_contributors_are_told_in_bands_and_never_below_five(count: int, band: str | None) -> None:
    assert contributors_band(count) == band

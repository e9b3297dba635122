"""Money as a reader counts it: per tonne, hectare and hour, or per bushel and acre in the United States."""

from service.api.answers import Amount
from service.api.showing import Showing
from service.domain.losses import bushels_per_tonne
from service.units import convert


class Money:
    """Amounts of one currency; a crop without a legal bushel is counted by the short ton."""

    def __init__(self, show: Showing, currency: str | None, bushel_lb: float | None) -> None:
        # UCUM has no currencies; an annotation in braces stands for a count
        self._sign = f"{{{currency or 'money'}}}"
        self._area = show.unit("har")
        self.mass, self._per_mass = "t", 1.0
        if show.reader.units == "us":
            self.mass, self._per_mass = "[ston_av]", convert(1, "[ston_av]", "t")
            if bushel_lb is not None:
                self.mass, self._per_mass = "[bu_us]", 1 / bushels_per_tonne(bushel_lb)

    def per_mass(self, value: float) -> Amount:
        """Money per tonne, bushel or short ton."""
        # a bushel is a small mass: four decimals
        places = 4 if self.mass == "[bu_us]" else 2
        return self._amount(value, self._per_mass, f"/{self.mass}", places)

    def per_area(self, value: float) -> Amount:
        """Money per hectare or acre."""
        return self._amount(value, 1 / convert(1, "har", self._area), f"/{self._area}", 2)

    def total(self, value: float) -> Amount:
        """Money in all."""
        return self._amount(value, 1.0, "", 2)

    def _amount(self, value: float, factor: float, per: str, places: int) -> Amount:
        return Amount(value=round(value * factor, places) + 0.0, unit=self._sign + per)

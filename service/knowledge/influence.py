"""The influence table: what one step of each setting does to each outcome, found by name.

Inside: look-ups by setting, outcome, class and crop group. Outside: the shape of the file
(`influence_schema.py`), rules across entries (`influence_checks.py`), reading it (`tree.py`).
"""

from dataclasses import dataclass
from functools import cached_property

from service.errors import UnknownName
from service.knowledge.influence_schema import Effect, InfluenceFile, Lever, Mistake, Outcome, TellTale, scopes


@dataclass(frozen=True, eq=False)
class InfluenceTable:
    """influence.toml, found by name."""

    file: InfluenceFile

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """Every outcome in the order of the file."""
        return tuple(self.file.outcome)

    def outcome(self, name: str, field: str = "symptom") -> Outcome:
        """Find an outcome by id, or raise UnknownName."""
        try:
            return self._outcomes[name]
        except KeyError:
            raise UnknownName(field, name, sorted(self._outcomes)) from None

    def tell_tale(self, name: str, field: str = "tell_tale") -> TellTale:
        """Find a tell-tale by id, or raise UnknownName."""
        try:
            return self._tell_tales[name]
        except KeyError:
            raise UnknownName(field, name, sorted(self._tell_tales)) from None

    def mistake(self, name: str, field: str = "checks_done") -> Mistake:
        """Find an operating mistake by id, or raise UnknownName."""
        try:
            return self._mistakes[name]
        except KeyError:
            raise UnknownName(field, name, sorted(self._mistakes)) from None

    def lever(self, setting: str, group: str) -> Lever | None:
        """Return how a setting is moved in a crop group; None for one that only moves along."""
        return self._levers.get((setting, group)) or self._levers.get((setting, ""))

    def effect(self, setting: str, outcome: str, machine_class: str, group: str) -> Effect | None:
        """Return the effect for this class and group; None where the table says there is none."""
        own = self._effects.get((setting, outcome, machine_class, group))
        return own or self._effects.get((setting, outcome, machine_class, ""))

    def weights(self, priority: str) -> dict[str, float]:
        """Return the weight of each outcome under a wish, or raise UnknownName."""
        try:
            return dict(self._weights[priority])
        except KeyError:
            raise UnknownName("priority", priority, sorted(self._weights)) from None

    @cached_property
    def _outcomes(self) -> dict[str, Outcome]:
        return {entry.id: entry for entry in self.file.outcome}

    @cached_property
    def _tell_tales(self) -> dict[str, TellTale]:
        return {entry.id: entry for entry in self.file.tell_tale}

    @cached_property
    def _mistakes(self) -> dict[str, Mistake]:
        return {entry.id: entry for entry in self.file.mistake}

    @cached_property
    def _levers(self) -> dict[tuple[str, str], Lever]:
        return {(lever.setting, group): lever for lever in self.file.lever for group in scopes(lever.groups)}

    @cached_property
    def _effects(self) -> dict[tuple[str, str, str, str], Effect]:
        return {
            (effect.setting, effect.outcome, machine_class, group): effect
            for effect in self.file.effect
            for machine_class in effect.classes
            for group in scopes(effect.groups)
        }

    @cached_property
    def _weights(self) -> dict[str, dict[str, float]]:
        return {entry.priority: entry.weights for entry in self.file.weighting}

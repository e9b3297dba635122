"""What loss_monitor.toml may hold.

Inside: shape of the file. Outside: rules across its entries (`monitor.py`).
"""

from typing import Annotated, Literal

from pydantic import Field

from service.knowledge.schema import Entry, Evidence, Figure, Slug

Sensor = Literal["separation", "cleaning"]


class MonitorFigures(Entry):
    """Figures that a calibration is judged with."""

    fewest_pairs: Figure
    fewest_pairs_for_bend: Figure
    pan_error: Figure  # standard error of a measured loss where nothing else is known
    pan_error_floor: Figure  # share of the mean loss
    reading_share_ignored: Figure  # share of the scatter
    stray_level: Figure
    bend_level: Figure
    stray_least_errors: Figure
    wanted_slope_error: Figure
    most_pairs: Figure
    detection_factor: Figure
    small_seed_mass: Figure  # thousand-kernel mass
    sensor_share: Figure  # of the machine loss
    scale_share: Figure  # of the full scale of a display
    low_pair_share: Figure  # least loss over largest
    speed_margin: Figure
    kernel_mass_change: Figure


class Finding(Evidence):
    """Something that is known of loss monitors; text is message code monitor.finding.<code>."""

    code: Slug
    when: Literal["always", "index", "rate", "small_seed"]


class RedoReason(Evidence):
    """A change after which a calibration no longer holds; text is message code monitor.redo.<code>."""

    code: Slug
    sensors: Annotated[list[Sensor], Field(min_length=1)]


class MonitorFile(Entry):
    """loss_monitor.toml."""

    figures: MonitorFigures
    finding: list[Finding]
    redo: list[RedoReason]

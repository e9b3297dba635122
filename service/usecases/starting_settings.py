"""Starting settings: from crop, moisture, yield and machine class to settings that explain themselves."""

from dataclasses import replace

from service.domain import machine as formulas
from service.domain.types import Message, Quantity
from service.knowledge.schema import CropFile, FirstTry, LocalText
from service.knowledge.table import KnowledgeTable
from service.usecases import cleaning_air as air
from service.usecases import ground_speed as driving
from service.usecases.conditions import Conditions, conditions, steepest_slope_deg
from service.usecases.local_overlay import local_warnings
from service.usecases.local_types import LocalTable
from service.usecases.machine import Machine, fit_machine
from service.usecases.provenance import proof
from service.usecases.setting_parts import Frame, from_row
from service.usecases.settings_types import (
    AirWindow,
    Equivalent,
    FirstStep,
    GroundSpeed,
    SettingAnswer,
    SettingsQuestion,
    StartingSettings,
)

DEFAULT_SIEVE = "standard_lip"
LEAST_STEP_SHARE = 1 / 3  # of a full step; a smaller one cannot be seen behind the machine
SIEVES = {"upper_sieve_opening": "upper", "sieve_rear_opening": "upper", "lower_sieve_opening": "lower"}
DRUMS = {"threshing_speed": "drum_diameter_mm", "separation_rotor_speed": "separation_rotor_diameter_mm"}
STANDARD_MACHINE_SLOPE_DEG = 8.0  # Frid, University of South Bohemia lecture text: standard combines up to 8 degrees


def recommend(table: KnowledgeTable, question: SettingsQuestion, local: LocalTable | None = None) -> StartingSettings:
    """Answer a question for starting settings, with the local numbers of an organisation over the table's.

    Raises
    ------
    UnknownName
        If crop, class, band, header or revision is not known.
    NotCovered
        If the table has no answer for this crop and class.
    OutsideWindow
        If the grain is too dry or too wet to combine.
    Contradiction, InvalidInput
        If statements exclude each other or the yield is missing.
    """
    table.check_revision(question.revision)
    crop = table.crop(question.crop)
    entry = table.machine_class(question.machine_class)
    table.covers(crop, "starting_settings", entry.id)
    state = conditions(table, question, crop)
    machine = fit_machine(table, question, crop)
    frame = Frame(table, crop, entry.id, state, local)
    density = question.bulk_density_kg_hl or crop.physical.bulk_density.value
    window = air.air_window(crop, machine.specific, state.moisture_pct, question.thousand_kernel_mass_g)
    speed, limits = driving.ground_speed(frame, machine, density)
    settings = _settings(frame, machine, question, window, speed)
    first_step = _first_step(frame, machine, settings)
    return StartingSettings(
        crop=crop.id,
        crop_names=crop.names,
        machine_class=entry.id,
        machine_names=entry.names,
        size_band=machine.band.id,
        moisture_band=frame.band,
        coverage=crop.coverage["starting_settings"].level,
        yield_t_ha=state.yield_t_ha,
        bushel_lb=crop.physical.bushel_mass.value if crop.physical.bushel_mass else None,
        settings=settings,
        ground_speed=limits,
        first_step=first_step,
        output=driving.output(frame, machine, speed, density),
        expected_loss=driving.expected_loss(frame, machine, speed.start),
        air=window,
        upper_sieve_design=question.upper_sieve_design or DEFAULT_SIEVE,
        lower_sieve_design=question.lower_sieve_design or DEFAULT_SIEVE,
        machine=machine.items,
        checklist=_lines(table, entry.id, "checklist"),
        cautions=_lines(table, entry.id, "caution"),
        warnings=(*_warnings(frame, machine, question, speed, limits), *local_warnings(table, local, settings)),
        notes=(_ask_for_pair(table, first_step),),
        revision=table.revision,
        digest=table.digest,
        local=local,
    )


def _settings(
    frame: Frame, machine: Machine, question: SettingsQuestion, window: AirWindow, speed: SettingAnswer
) -> tuple[SettingAnswer, ...]:
    """Every setting of the class, in the order of work, as far as this machine has it."""
    answers = []
    for setting in machine.entry.settings:
        if setting == driving.SETTING:
            answers.append(speed)
        elif setting == air.SETTING:
            answers.append(air.cleaning_air(frame, window, machine.specific, question))
        elif _fitted(setting, frame, machine, question):
            answers.append(_with_equivalents(_one(frame, question, setting), machine, speed))
    return tuple(answers)


def _fitted(setting: str, frame: Frame, machine: Machine, question: SettingsQuestion) -> bool:
    if setting == "sieve_rear_opening":
        has_row = frame.table.has_row(frame.crop, setting, frame.machine_class, frame.state.use)
        return question.sieve_rear_section and has_row
    if setting == "reel_index":
        has_row = frame.table.has_row(frame.crop, setting, frame.machine_class, frame.state.use)
        return machine.header == "reel" and has_row
    return not (setting == "cutting_height" and machine.header == "pickup")


def _one(frame: Frame, question: SettingsQuestion, setting: str) -> SettingAnswer:
    sieve = SIEVES.get(setting)
    if sieve is None:
        return from_row(frame, setting)
    given = question.upper_sieve_design if sieve == "upper" else question.lower_sieve_design
    conversion = frame.table.sieve_factor(sieve, given or DEFAULT_SIEVE)
    note = Message("note.sieve_declared", {"design": Message(f"sieve_design.{conversion.design}")})
    return from_row(frame, setting, conversion, notes=(note,))


def _with_equivalents(answer: SettingAnswer, machine: Machine, speed: SettingAnswer) -> SettingAnswer:
    """Add rpm from the diameter, or reel tip speed from the ground speed."""
    values = (answer.start, answer.low, answer.high)
    if answer.id in DRUMS:
        diameter = machine.size[DRUMS[answer.id]]
        rpm = (Quantity(formulas.rotational_speed_rpm(diameter_mm=diameter, speed_m_s=v), "{rev}/min") for v in values)
        return replace(answer, equivalents=(Equivalent("rotational_speed", *rpm),))
    if answer.id == "reel_index":
        tip = (
            Quantity(formulas.reel_tip_speed_m_s(index=v, ground_speed_km_h=speed.start) * 3.6, "km/h") for v in values
        )
        return replace(answer, equivalents=(Equivalent("reel_tip_speed", *tip),))
    return answer


def _first_step(frame: Frame, machine: Machine, settings: tuple[SettingAnswer, ...]) -> FirstStep:
    """Return the first rung of the first fitting ladder that a setting still has room for.

    The ladder is the reason; when its first rung has no room, the next one of the same reason holds.
    """
    found = {setting.id: setting for setting in settings}
    fitting = [
        rule
        for rule in frame.table.responses.first_try
        if rule.setting in found and _fits(rule, frame.crop, frame.state, machine, frame.band)
    ]
    rungs = [rule for rule in fitting if rule.ladder == fitting[0].ladder]
    steps = [_step(rule, found[rule.setting]) for rule in rungs]
    rule, step = next(
        ((rule, step) for rule, (step, full) in zip(rungs, steps, strict=True) if step >= full * LEAST_STEP_SHARE),
        (rungs[-1], max(steps[-1][0], 0.0)),
    )
    setting = found[rule.setting]
    also = tuple(
        (one.code, Quantity(one.start.value * step / setting.start, one.start.unit))
        for one in setting.equivalents
        if one.code in ("rotational_speed", "fan_speed")
    )
    why = Message(f"first_try.{rule.why}", {"crop": frame.crop.names})
    return FirstStep(rule.setting, rule.direction, Quantity(step, setting.unit), also, why, proof(rule))


def _ask_for_pair(table: KnowledgeTable, first: FirstStep) -> Message:
    """Ask for what teaches a table most, and name the setting that is worth it here."""
    return Message("pair.ask", {"setting": table.vocabulary[first.setting].names})


def _step(rule: FirstTry, setting: SettingAnswer) -> tuple[float, float]:
    """Return the step that the range still has room for, and the rule's full step, in the setting's unit."""
    full = rule.step if rule.unit == setting.unit else setting.start * rule.step / 100
    room = setting.high - setting.start if rule.direction == "up" else setting.start - setting.low
    return min(full, room), full


def _fits(rule: FirstTry, crop: CropFile, state: Conditions, machine: Machine, band: str) -> bool:
    when = rule.when
    tests: list[tuple[list[str], str]] = [
        (list(when.moisture_band), band),
        (list(when.straw_condition), state.straw_condition),
        (list(when.priority), state.priority),
        (list(when.groups), crop.group),
        (list(when.thresher), machine.entry.thresher),
    ]
    return all(not allowed or actual in allowed for allowed, actual in tests)


def _lines(table: KnowledgeTable, machine_class: str, which: str) -> tuple[Message, ...]:
    return tuple(
        Message(f"{item.list}.{item.code}")
        for item in table.responses.checklist
        if item.list == which and machine_class in item.classes
    )


def _warnings(
    frame: Frame, machine: Machine, question: SettingsQuestion, speed: SettingAnswer, limits: GroundSpeed
) -> tuple[Message, ...]:
    """What a specialist would say before the caller drives off."""
    crop, state = frame.crop, frame.state
    found: list[Message] = []
    for given, sieve in ((question.upper_sieve_design, "upper"), (question.lower_sieve_design, "lower")):
        if given is None:
            found.append(Message(f"warning.sieve_not_declared_{sieve}"))
    if frame.band != "best":
        found.append(Message(f"warning.moisture_{frame.band}", {"moisture": Quantity(state.moisture_pct, "%")}))
    mass, given_mass = crop.physical.thousand_kernel_mass, question.thousand_kernel_mass_g
    if given_mass is not None and not (mass.low or 0) <= given_mass <= (mass.high or float("inf")):
        usual = {"low": Quantity(mass.low or 0, "g"), "high": Quantity(mass.high or mass.value, "g")}
        found.append(Message("warning.kernel_mass_unusual", usual))
    if steepest_slope_deg(state.slope_along_deg, state.slope_across_deg) > STANDARD_MACHINE_SLOPE_DEG:
        found.append(Message("warning.slope", {"limit": Quantity(STANDARD_MACHINE_SLOPE_DEG, "deg")}))
    row = frame.table.row(crop, driving.SETTING, frame.machine_class, state.use)
    if speed.start < row.low:
        facts = {"speed": Quantity(row.low, "km/h"), "limit": Message(f"limit.{limits.binding}")}
        found.append(Message("warning.slow", facts))
    coverage = crop.coverage["starting_settings"]
    if coverage.level == "partial":
        found.append(Message("warning.partial", {"why": coverage.why or LocalText(en="")}))
    return tuple(found)

"""Tables of the plane file that describe the power train: propeller, motor, controller and battery."""

from __future__ import annotations

import itertools
import math
from typing import get_args

from evenfall.plane.airframe import Mass
from evenfall.plane.electrics import Battery, BladeShape, BladeStation, BrakeLevel, Controller, Motor, Propeller
from evenfall.plane.fields import NAN, Fields
from evenfall.plane.guesses import Spread, battery_resistance, motor_resistance, no_load_current, propeller_mass
from evenfall.plane.read_airframe import known
from evenfall.toml_table import nearest, shown

DEG = math.pi / 180
INDUCTANCE_OVER_RESISTANCE = 0.3e-3
"""Usual L/R of a small brushless motor, s (0.2 to 0.4 ms)."""
_SHAPES: tuple[BladeShape, ...] = get_args(BladeShape)


def read_propeller(table: Fields) -> Propeller | None:
    """`[propeller]`; its place (`x`, `z`) is read with the datum."""
    diameter = table.quantity("diameter", "length", 0.05, 1.0, path="propeller.diameter")
    pitch = table.quantity("pitch", "length", 0.02, 1.0, path="propeller.pitch")
    blades = table.integer("blades", 1, 6)
    shape = table.choice("shape", _SHAPES)
    chord = table.quantity("chord_75", "length", 0.003, 0.15, path="propeller.chord_75", required=False)
    mass = table.quantity("mass", "mass", 0.0005, 1.0, path="propeller.mass", required=False)
    stations = [_station(row, index) for index, row in enumerate(table.sections("station"))]
    measured = tuple(station for station in stations if station is not None)
    if not table.sound:
        return None
    if stations and not _stations_fit(table, measured, 0.5 * diameter):
        return None
    if not 0.15 <= pitch / diameter <= 1.6:
        table.fault("pitch_in", f"pitch over diameter is {pitch / diameter:.2f}; allowed is .15 to 1.6: check both")
        return None
    if known(chord) and not 0.03 <= chord / diameter <= 0.20:
        table.fault(
            "chord_75_mm", f"is {100 * chord / diameter:.0f} % of the diameter; allowed is 3 to 20 %: check both"
        )
        return None
    blades = blades or 2
    if shape == "folding":
        table.faults.notes.append(
            "propeller: folding blades are computed as fixed ones; where the motor brake stops them they fold and hold "
            "back next to nothing"
        )
    if measured:
        table.faults.notes.append(
            "propeller: the blade is given by its measured stations, so pitch, shape and chord_75 change nothing"
        )
    if shape is None and not measured:
        table.note_guess("shape", "propeller.shape", "medium", "slim to broad", "propeller.shape")
    if not known(chord) and not measured:
        table.note_guess("chord_75_mm", "propeller.chord_75", "as its family", "+-8 %", "propeller.chord_75")
    if not known(mass):
        guess = propeller_mass(diameter, blades)
        mass = table.guess("mass", "mass", guess, 0.30, path="propeller.mass", relative=True)
    return Propeller(
        diameter=diameter,
        pitch=pitch,
        blades=blades,
        shape=next((name for name in _SHAPES if name == shape), "medium"),
        chord_75=chord if known(chord) else None,
        mass=mass,
        stations=measured,
    )


def _station(table: Fields, index: int) -> BladeStation | None:
    path = f"propeller.stations.{index}"
    radius = table.quantity("r", "length", 0.002, 0.6, path=f"{path}.radius")
    chord = table.quantity("chord", "length", 0.001, 0.2, path=f"{path}.chord", sigma=(0.5e-3, False))
    angle = table.quantity("angle", "angle", -5 * DEG, 85 * DEG, path=f"{path}.angle", sigma=(1 * DEG, False))
    return BladeStation(radius=radius, chord=chord, angle=angle) if table.sound else None


def _stations_fit(table: Fields, stations: tuple[BladeStation, ...], radius: float) -> bool:
    if len(stations) < 4:
        table.fault("station", f"needs at least 4 stations from root to tip; there are {len(stations)}")
    elif any(b.radius <= a.radius for a, b in itertools.pairwise(stations)):
        table.fault("station", "must go outward: r_mm rising from entry to entry")
    elif stations[-1].radius > 1.001 * radius:
        table.fault(
            "station", f"r_mm reaches {1000 * stations[-1].radius:.1f}; the blade ends at {1000 * radius:.1f} mm"
        )
    elif stations[0].radius > 0.4 * radius or stations[-1].radius < 0.9 * radius:
        table.fault("station", "must reach from inside 40 % to beyond 90 % of the radius")
    else:
        return True
    return False


def read_motor(table: Fields, mass: Mass | None) -> Motor | None:
    """`[motor]`; resistance and inductance are line to line."""
    kv = table.quantity("kv", "kv", 50 * math.pi / 30, 10000 * math.pi / 30, path="motor.kv")
    weight = table.quantity("mass", "mass", 0.003, 5.0, path="motor.mass", required=False)
    resistance = table.quantity("resistance", "resistance", 1e-3, 5.0, path="motor.resistance", required=False)
    inductance = table.quantity("inductance", "inductance", 0.2e-6, 5e-3, path="motor.inductance", required=False)
    current = table.quantity("no_load_current", "current", 0.01, 20.0, path="motor.no_load_current", required=False)
    voltage = table.quantity("no_load", "voltage", 1.0, 60.0, path="motor.no_load_voltage", required=False)
    pairs = table.integer("pole_pairs", 1, 30)
    if known(current) != known(voltage) and table.sound:
        table.fault("no_load_v", "no_load_current_a and no_load_v belong together: give both or neither")
    if not table.sound:
        return None
    if not known(weight):
        all_up = mass.all_up if mass is not None else 1.0
        needed = not (known(resistance) and known(current))
        size = 0.1 * all_up
        weight = table.guess("mass", "mass", size, 0.3, path="motor.mass", relative=True) if needed else NAN
    if not known(resistance):
        guess = motor_resistance(kv, weight)
        resistance = table.guess("resistance", "resistance", guess, 0.40, path="motor.resistance", relative=True)
    if not known(inductance):
        guess = INDUCTANCE_OVER_RESISTANCE * resistance
        inductance = table.guess("inductance", "inductance", guess, 0.25, path="motor.inductance", relative=True)
    if not known(current):
        guess = no_load_current(weight)
        current = table.guess("no_load_current", "current", guess, 0.40, path="motor.no_load_current", relative=True)
        voltage = 10.0
    if pairs is None:
        table.note_guess("pole_pairs", "motor.pole_pairs", "7", "6 to 8", "motor.pole_pairs")
    return Motor(
        kv=kv,
        resistance=resistance,
        inductance=inductance,
        pole_pairs=pairs or 7,
        no_load_current=current,
        no_load_voltage=voltage,
        mass=weight if known(weight) else None,
    )


# --- controller ------------------------------------------------------------------------------------------------------


def read_controller(table: Fields) -> Controller | None:
    """`[controller]` with every setting of its motor brake."""
    resistance = table.quantity("resistance", "resistance", 1e-4, 0.5, path="controller.resistance", required=False)
    levels = _levels(table)
    present = table.take("present_level")
    frequency = table.quantity(
        "brake_pwm", "frequency", 500.0, 100e3, path="controller.brake_frequency", required=False
    )
    synchronous = table.boolean("synchronous")
    closed = table.quantity("closed_below", "ratio", 0.0, 0.3, path="controller.closed_below", required=False)
    start = table.quantity("start", "ratio", 0.0, 0.4, path="controller.start_stick", required=False)
    slow = table.quantity("brake_delay", "time", 0.0, 2.0, path="controller.brake_delay", required=False)
    restart = table.quantity("restart_delay", "time", 0.0, 3.0, path="controller.restart_delay", required=False)
    drop = table.quantity("diode_drop", "voltage", 0.05, 1.5, path="controller.diode_drop", required=False)
    if not table.sound:
        return None
    name = _present(table, present, levels)
    if known(closed) and known(start) and start < closed:
        table.fault("start_percent", "lies below closed_below_percent; the motor cannot start while it is held closed")
    if not table.sound:
        return None
    return Controller(
        resistance=_or_guess(
            table, resistance, "resistance", "resistance", (0.005, 0.4, True), "controller.resistance"
        ),
        levels=levels,
        present_level=name,
        brake_frequency=_frequency(table, frequency),
        brake_frequency_known=known(frequency),
        synchronous=bool(synchronous),
        closed_below=_or_guess(table, closed, "closed_below", "ratio", (0.05, 0.02, False), "controller.closed_below"),
        start_stick=_start(table, start, closed),
        brake_delay=_or_guess(table, slow, "brake_delay", "time", (0.1, 0.5, True), "controller.brake_delay"),
        restart_delay=_or_guess(table, restart, "restart_delay", "time", (0.2, 0.5, True), "controller.restart_delay"),
        diode_drop=drop if known(drop) else 0.7,
    )


def _or_guess(
    table: Fields, value: float, base: str, kind: str, stand_in: tuple[float, float, bool], path: str
) -> float:
    if known(value):
        return value
    guess, sigma, relative = stand_in
    return table.guess(base, kind, guess, sigma, path=path, relative=relative)


def _frequency(table: Fields, frequency: float) -> float:
    if known(frequency):
        return frequency
    return table.guess(
        "brake_pwm",
        "frequency",
        16e3,
        0.5,
        path="controller.brake_frequency",
        relative=True,
        words="16 kHz, with 8 and 24",
    )


def _start(table: Fields, start: float, closed: float) -> float:
    if known(start):
        return start
    guess = (closed if known(closed) else 0.05) + 0.03
    return table.guess("start", "ratio", guess, 0.02, path="controller.start_stick")


def _levels(table: Fields) -> tuple[BrakeLevel, ...]:
    """`levels` as percents or names, or measured `[[controller.level]]` entries, or names with entries for some."""
    raw = table.take("levels")
    measured = [level for row in table.sections("level") if (level := _measured_level(row)) is not None]
    if raw is None and not measured:
        if table.sound:
            table.fault(
                "levels", 'is missing; write levels = [0, 25, 50, 75, 100], or the names ["off", "soft", "hard"]'
            )
        return ()
    if raw is None:
        return _checked_levels(table, tuple(measured))
    listed = _listed_levels(table, raw)
    by_name = {level.name: level for level in measured}
    names = [level.name for level in listed]
    for name in by_name:
        if listed and name not in names:
            near = nearest(name, names)
            hint = f'; did you mean "{near}"?' if near else ""
            table.fault("level", f'"{name}" is not among levels ({", ".join(names)}){hint}')
    merged = tuple(
        BrakeLevel(name=level.name, percent=level.percent, damping=by_name[level.name].damping)
        if level.name in by_name
        else level
        for level in listed
    )
    return _checked_levels(table, merged)


def _listed_levels(table: Fields, raw: object) -> tuple[BrakeLevel, ...]:
    if not isinstance(raw, list) or not 1 <= len(raw) <= 40:
        table.fault("levels", f"must be a list of percents or names in [ ], not {shown(raw)}")
        return ()
    if all(isinstance(item, str) and item.strip() for item in raw):
        step = 100 / max(1, len(raw) - 1)
        return tuple(BrakeLevel(name=item.strip(), percent=index * step) for index, item in enumerate(raw))
    if any(isinstance(item, str) for item in raw):
        table.fault("levels", "mixes percents and names; give all as percents or all as names")
        return ()
    if False in [table.is_number("levels", item) for item in raw]:
        return ()
    if any(not 0 <= item <= 100 for item in raw):
        table.fault("levels", "holds a percent outside 0 to 100")
        return ()
    return tuple(BrakeLevel(name=f"{item:g}", percent=float(item)) for item in raw)


def _measured_level(table: Fields) -> BrakeLevel | None:
    name = table.take("name", required=True, example='name = "50", as the controller calls it')
    percent = table.number("percent", 0, 100)
    damping = table.quantity("damping", "damping", 0.0, 0.1)
    if not table.sound:
        return None
    if isinstance(name, bool) or not isinstance(name, str | int | float) or not str(name).strip():
        table.fault("name", f"must be a text or a percent, not {shown(name)}")
        return None
    text = name.strip() if isinstance(name, str) else f"{name:g}"
    number = text.removesuffix("%").strip()
    if percent is None and number.replace(".", "", 1).isdigit() and float(number) <= 100:
        percent = float(number)
    return BrakeLevel(name=text, percent=NAN if percent is None else percent, damping=damping)


def _checked_levels(table: Fields, levels: tuple[BrakeLevel, ...]) -> tuple[BrakeLevel, ...]:
    names = [level.name for level in levels]
    if twice := sorted({name for name in names if names.count(name) > 1}):
        table.fault("levels", f"names a level twice: {', '.join(twice)}")
    if any(math.isnan(level.percent) for level in levels):
        table.fault("level", "needs percent beside the name where there is no list of levels")
        return ()
    if not twice and any(b.percent <= a.percent for a, b in itertools.pairwise(levels)):
        table.fault("levels", "must rise from the weakest to the strongest level")
    for index, level in enumerate(levels):
        spreads = table.faults.spreads
        if level.damping is not None:
            spreads[f"controller.levels.{index}.damping"] = Spread(sigma=0.10, source="measured", relative=True)
        elif 0 < level.percent < 100:
            sigma = 5.0 if level.name == f"{level.percent:g}" else 10.0
            spreads[f"controller.levels.{index}.percent"] = Spread(sigma=sigma, source="guess")
    if levels and table.sound and any(level.damping is None and level.percent > 0 for level in levels):
        table.note_guess("levels", "controller.levels", "percent as pulse duty", "a factor of two", "controller.levels")
    return levels


def _present(table: Fields, raw: object, levels: tuple[BrakeLevel, ...]) -> str:
    names = [level.name for level in levels]
    if raw is None:
        table.note_guess("present_level", "controller.present_level", names[0], "any", "controller.present_level")
        return names[0]
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        table.fault("present_level", f"must be one of the levels, not {shown(raw)}")
        return names[0]
    text = raw.strip() if isinstance(raw, str) else f"{raw:g}"
    if text not in names:
        near = nearest(text, names)
        hint = f'; did you mean "{near}"?' if near else ""
        table.fault("present_level", f"{shown(raw)} is not among levels ({', '.join(names)}){hint}")
    return text


def read_battery(table: Fields) -> Battery | None:
    """`[battery]`."""
    cells = table.integer("cells", 1, 14, required=True)
    capacity = table.quantity("capacity", "capacity", 50 * 3.6, 50000 * 3.6, path="battery.capacity")
    resistance = table.quantity("resistance", "resistance", 0.5e-3, 2.0, path="battery.resistance", required=False)
    rest = table.quantity("rest", "cell_voltage", 2.5, 4.5, path="battery.rest_voltage_per_cell", required=False)
    if not table.sound or cells is None:
        return None
    if not known(resistance):
        guess = battery_resistance(cells, capacity)
        resistance = table.guess("resistance", "resistance", guess, 0.40, path="battery.resistance", relative=True)
    if not known(rest):
        rest = table.guess("rest", "cell_voltage", 3.85, 0.10, path="battery.rest_voltage_per_cell")
    return Battery(cells=cells, capacity=capacity, resistance=resistance, rest_voltage_per_cell=rest)

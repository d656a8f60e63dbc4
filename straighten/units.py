"""Read quantities as people write them, and print them rounded to what a blade can tell.

Inside the package everything is SI and degC. A person writes "8 thou", "0.2 mm", "75 ft-lb", "450 F";
a bare number takes the unit of the file it stands in: millimetres and newton metres, or inches, thou and
foot-pounds. Small gaps are their own kind of quantity, since in inch files they are counted in thou.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from straighten.errors import BadInput

System = Literal["mm", "inch"]
Kind = Literal[
    "length",
    "gap",
    "mass",
    "torque",
    "temperature",
    "power",
    "duration",
    "stress",
    "force",
    "angle",
    "volume",
]

INCH = 0.0254
THOU = INCH / 1000
POUND_FORCE = 4.4482216152605
POUND = 0.45359237
FOOT_POUND = POUND_FORCE * 0.3048

_LENGTHS = {
    "mm": 1e-3, "um": 1e-6, "µm": 1e-6, "μm": 1e-6, "micron": 1e-6, "microns": 1e-6, "cm": 1e-2, "m": 1.0,
    "thou": THOU, "mil": THOU, "in": INCH, "inch": INCH, "inches": INCH, '"': INCH,
}  # fmt: skip

# Exact by definition (international yard and pound, 1959); the temperature scales are handled in `_to_si`.
_FACTORS: dict[Kind, dict[str, float]] = {
    "length": _LENGTHS,
    "gap": _LENGTHS,
    "mass": {"kg": 1.0, "g": 1e-3, "lb": POUND, "lbs": POUND},
    "torque": {
        "nm": 1.0, "ft-lb": FOOT_POUND, "lb-ft": FOOT_POUND, "ftlb": FOOT_POUND,
        "in-lb": POUND_FORCE * INCH, "lb-in": POUND_FORCE * INCH, "kgf-m": 9.80665, "kgm": 9.80665,
    },
    "temperature": {"c": 1.0, "degc": 1.0, "°c": 1.0, "f": 5 / 9, "degf": 5 / 9, "°f": 5 / 9, "k": 1.0},
    "power": {"w": 1.0, "kw": 1e3},
    "duration": {
        "s": 1.0, "sec": 1.0, "seconds": 1.0, "min": 60.0, "minutes": 60.0, "h": 3600.0, "hour": 3600.0, "hours": 3600.0,
    },
    "stress": {"pa": 1.0, "mpa": 1e6, "gpa": 1e9, "n/mm2": 1e6, "ksi": 6.894757293168e6, "psi": 6.894757293168e3},
    "force": {"n": 1.0, "kn": 1e3, "lbf": POUND_FORCE},
    "angle": {"deg": math.pi / 180, "°": math.pi / 180, "rad": 1.0},
    "volume": {"cm3": 1e-6, "cc": 1e-6, "ml": 1e-6, "mm3": 1e-9},
}  # fmt: skip

_BARE: dict[Kind, dict[System, str]] = {
    "length": {"mm": "mm", "inch": "in"},
    "gap": {"mm": "mm", "inch": "thou"},
    "mass": {"mm": "kg", "inch": "lb"},
    "torque": {"mm": "nm", "inch": "ft-lb"},
    "temperature": {"mm": "c", "inch": "f"},
    "power": {"mm": "w", "inch": "w"},
    "duration": {"mm": "s", "inch": "s"},
    "stress": {"mm": "mpa", "inch": "ksi"},
    "force": {"mm": "n", "inch": "lbf"},
    "angle": {"mm": "deg", "inch": "deg"},
    "volume": {"mm": "cm3", "inch": "cm3"},
}

_QUANTITY = re.compile(
    r"^\s*((?:[0-9]+\s+)?[0-9]+\s*/\s*[0-9]+|[-+]?[0-9]*[.,]?[0-9]+(?:[eE][-+]?[0-9]{1,3})?)\s*(\D[^\s]*(?: (?:ft|in|lbs?))?|)\s*$",
    re.IGNORECASE,
)
_FOOT_POUND = re.compile(r"^(ft|in|lb)[ .-]?(ft|in|lb)s?$")  # as people spell it: 13 ft lbs
LONGEST_QUANTITY = 40
LARGEST = 1e15  # in SI: nothing at a bench comes near, and no later product of two such numbers overflows


def parse(found: object, kind: Kind, system: System = "mm") -> float:
    """Return a quantity in SI (temperatures in degC) from a number or a text such as "8 thou".

    Args:
        found: a number (takes the unit of `system`) or a text with or without a unit.
        kind: what sort of quantity is meant.
        system: unit system of the file the number stands in.

    Raises:
        BadInput: no number, an unknown unit, not finite, or a comma that could mean thousands.

    Example:
        >>> round(parse("8 thou", "gap") * 1e3, 4)
        0.2032
        >>> round(parse("450 F", "temperature"), 1)
        232.2
        >>> parse("0,10 mm", "gap")
        0.0001
        >>> round(parse('16 1/2"', "length") * 1e3, 1)
        419.1
    """
    if isinstance(found, int | float) and not isinstance(found, bool):
        return _to_si(found, _BARE[kind][system], kind, found)
    match = _QUANTITY.match(found) if isinstance(found, str) and len(found) <= LONGEST_QUANTITY else None
    if match is None:
        raise BadInput(f"found {_short(found)}, a {kind} is due", fix=f"Write for example {_EXAMPLES[kind]}.")
    unit = match[2].lower().replace("·", "").replace("*", "").replace("n.m", "nm") or _BARE[kind][system]
    return _to_si(_number(match[1], match[0]), _FOOT_POUND.sub(r"\1-\2", unit), kind, found)


def _number(digits: str, found: str) -> float:
    if "/" in digits:
        top, bottom = digits.split("/")
        if int(bottom) == 0:
            raise BadInput(f"found {_short(found)}, a fraction with zero below the line")
        *whole, part = top.split()
        return sum(map(int, whole)) + int(part) / int(bottom)
    if re.fullmatch(r"[-+]?[1-9][0-9]{0,2},[0-9]{3}", digits):
        raise BadInput(
            f"found {_short(found)}: is the comma a decimal comma or thousands?",
            fix="Write it with a decimal point.",
        )
    return float(digits.replace(",", "."))


def _to_si(number: float, unit: str, kind: Kind, found: object) -> float:
    factors = _FACTORS[kind]
    if unit not in factors:
        known = ", ".join(u for u in factors if u.isascii())
        raise BadInput(f"found {_short(found)}: {unit!r} is no unit of {kind}", fix=f"Known units: {known}.")
    if not abs(number) <= LARGEST:  # NaN too, and whole numbers too long for a float
        raise BadInput(f"found {_short(found)}, a finite {kind} is due")
    if kind != "temperature":
        return number * factors[unit]
    zero = {"f": 32.0, "k": 273.15}.get(unit.strip("°deg"), 0.0)
    return (number - zero) * factors[unit]


def _short(found: object) -> str:
    if isinstance(found, int) and abs(found) > LARGEST:  # Python refuses to print thousands of digits
        return f"a whole number of {found.bit_length()} bits"
    text = repr(found)
    return text if len(text) <= LONGEST_QUANTITY else text[: LONGEST_QUANTITY - 3] + "..."


_EXAMPLES: dict[Kind, str] = {
    "length": '"450 mm" or "17.7 in"',
    "gap": '"0.20 mm" or "8 thou"',
    "mass": '"11.5 kg" or "25 lb"',
    "torque": '"40 Nm" or "30 ft-lb"',
    "temperature": '"250 C" or "480 F"',
    "power": '"1500 W"',
    "duration": '"4 s", "45 min" or "3 h"',
    "stress": '"185 MPa" or "27 ksi"',
    "force": '"20 kN"',
    "angle": '"15 deg"',
    "volume": '"52 cm3"',
}

# Factor that mends the value -> what was mistaken for what; the commonest first.
_BIG_SLIPS = {25.4: "inches for mm", 1e3: "mm for metres", 1 / 25.4: "mm for inches", 1e-3: "um for mm"}
_SMALL_SLIPS = {
    25.4e-3: "thou, not mm",
    1e-3: "um, not mm",
    1e3 / 25.4: "mm, not thou",
    1e3: "inches, not thou",
    25.4: "inches, not mm",
}


def likely_slip(value: float, low: float, high: float) -> str:
    """Name the unit slip that would bring a length [m] into its plausible range `low` to `high` [m], or return "".

    A reading out of range by 25.4 was typed in inches for millimetres (or the reverse), by 1000 in thou for
    inches or micrometres for millimetres.
    """
    if low <= value <= high:
        return ""
    slips = _SMALL_SLIPS | _BIG_SLIPS if high < 0.02 else _BIG_SLIPS | _SMALL_SLIPS
    for factor, meaning in slips.items():
        if low <= value * factor <= high:
            return f"did you mean {show(value * factor, 'mm', big=high > 0.02)}? ({meaning})"
    return ""


def _thou_text(value: float) -> str:
    halves = round(value / THOU * 2) / 2 + 0.0
    return f"{halves:g}"


def _mm_text(value: float) -> str:
    text = f"{value * 1e3:.2f}"
    return "0.00" if text == "-0.00" else text


def own_first(metric: str, inch: str, system: System) -> str:
    """Return a quantity in both systems, the person's own first."""
    first, second = (metric, inch) if system == "mm" else (inch, metric)
    return f"{first} ({second})"


def show(value: float, system: System = "mm", *, big: bool = False) -> str:
    """Print a length in both unit systems, rounded to what a blade can tell (0.01 mm, half a thou).

    Args:
        value: the length [m].
        system: the person's own system, printed first.
        big: print whole dimensions (0.1 mm, 0.01 in) instead of gaps.

    Example:
        >>> show(0.0002032)
        '0.20 mm (8 thou)'
        >>> show(0.0002032, "inch")
        '8 thou (0.20 mm)'
    """
    if big:
        return own_first(f"{value * 1e3:.1f} mm", f"{value / INCH:.2f} in", system)
    return own_first(f"{_mm_text(value)} mm", f"{_thou_text(value)} thou", system)


def show_range(low: float, high: float, system: System = "mm") -> str:
    """Print a range of lengths [m] in both systems, rounded to what a blade can tell.

    Example:
        >>> show_range(0.0001, 0.0002)
        '0.10 to 0.20 mm (4 to 8 thou)'
    """
    metric, inch = f"{_mm_text(low)} to {_mm_text(high)} mm", f"{_thou_text(low)} to {_thou_text(high)} thou"
    return own_first(metric, inch, system)


_SAME = 1e-9  # m: what lies this near a blade step lies on it, so that the last bits of a float do not widen a range


def _steps(value: float, system: System, side: Literal[-1, 0, 1]) -> str:
    """Return a length in blade steps of one system: the step below (-1), the nearest (0), the step above (1)."""
    unit, step, digits = (1e-3, 0.01, ".2f") if system == "mm" else (THOU, 0.5, "g")
    count = value / unit / step
    whole = round(count)
    if side and abs(count - whole) * unit * step > _SAME:
        whole = math.floor(count) if side < 0 else math.ceil(count)
    return f"{whole * step + 0.0:{digits}}"


def show_likely(low: float, middle: float, high: float, system: System = "mm") -> str:
    """Print a prediction [m] as it is said at the bench; "likely" is 8 times in 10 wherever the program says it.

    The ends are rounded outward to what a blade can tell (0.01 mm, half a thou), each in its own units, so
    that no narrower range is claimed than was computed. The tail named is the one farther from straight.

    Args:
        low: one result in ten lies below [m].
        middle: half of them lie below [m].
        high: one in ten lies above [m].
        system: the person's own system, printed first.

    Example:
        >>> show_likely(2 * THOU, 3 * THOU, 5 * THOU, "inch")
        'likely 2 to 5 thou, about 3, 1 in 10 more than 5 (0.05 to 0.13 mm, about 0.08)'
        >>> show_likely(2 * THOU, 2 * THOU, 2 * THOU, "inch")
        'about 2 thou (0.05 mm)'
    """
    if high - low < _SAME:
        return f"about {show(middle, system)}"
    more = abs(high) >= abs(low)
    tail = f"1 in 10 {'more' if more else 'less'} than {_steps(high if more else low, system, 1 if more else -1)}"
    other: System = "inch" if system == "mm" else "mm"
    own, second = (_likely(low, middle, high, one) for one in (system, other))
    return f"likely {own}, {tail} ({second})"


def _likely(low: float, middle: float, high: float, system: System) -> str:
    unit = "mm" if system == "mm" else "thou"
    return f"{outward(low, high, system)} {unit}, about {_steps(middle, system, 0)}"


def outward(low: float, high: float, system: System) -> str:
    """Return a range [m] in the small unit of one system, its ends rounded outward to a blade step."""
    return f"{_steps(low, system, -1)} to {_steps(high, system, 1)}"


def show_torque(value: float, system: System = "mm") -> str:
    """Print a torque [N m] to the newton metre and the foot-pound, the second worked out from the first as it is printed.

    Example:
        >>> show_torque(8.6), show_torque(9.4), show_torque(9.4, "inch")
        ('9 Nm (7 ft-lb)', '9 Nm (7 ft-lb)', '7 ft-lb (9 Nm)')
    """
    if system == "mm":
        return f"{value:.0f} Nm ({round(value) / FOOT_POUND:.0f} ft-lb)"
    pounds = round(value / FOOT_POUND)
    return f"{pounds} ft-lb ({pounds * FOOT_POUND:.0f} Nm)"


def show_temperature(value: float, system: System = "mm") -> str:
    """Print a temperature [degC] to five degrees: no crayon tells more."""
    return own_first(f"{5 * round(value / 5)} C", f"{5 * round((value * 9 / 5 + 32) / 5)} F", system)


def show_difference(value: float, system: System = "mm") -> str:
    """Print how much warmer one thing is than another [K]: in F for a person who works in inches."""
    return f"{value:.0f} K" if system == "mm" else f"{value * 9 / 5:.0f} F"


_NUMBER = r"-?\d[\d.]*(?: to -?\d[\d.]*)?"
_TOLD = re.compile(
    rf"(?P<inch>likely {_NUMBER} thou[^()]*\([^()]*\)|{_NUMBER} (?:in|thou|uin|ft-lb|lbf|lb|F) \([^()]*\))"
    rf"|(?P<first>{_NUMBER} (?:mm|um|Nm|C)) \((?P<second>{_NUMBER} (?:in|thou|uin|ft-lb|F))\)"
    rf"|(?P<bare>{_NUMBER} (?:mm|um|C|kg)\b)(?! \({_NUMBER} (?:in|thou|uin|F|lb)\))"
)
_SMALL = 1.3  # mm: under it a length is a gap and is told in thou


def turned(text: str, system: System) -> str:
    """Return a text that was written before the person's system was known, each quantity in that system first.

    A length or a temperature that stands in millimetres or Celsius alone is told in both.

    Example:
        >>> turned("420.0 mm (16.54 in) long, 0.05 to 0.10 mm (2 to 4 thou) off", "inch")
        '16.54 in (420.0 mm) long, 2 to 4 thou (0.05 to 0.10 mm) off'
        >>> turned("0.022 to 0.084 mm new, 92.00 mm high, 8 thou (0.20 mm) off", "inch")
        '0.9 to 3.3 thou (0.022 to 0.084 mm) new, 3.622 in (92.00 mm) high, 8 thou (0.20 mm) off'
    """
    return _TOLD.sub(_inch_first, text) if system == "inch" else text


def _inch_first(found: re.Match[str]) -> str:
    if found["inch"] or found["first"]:
        return found["inch"] or f"{found['second']} ({found['first']})"
    numbers, _, unit = found["bare"].rpartition(" ")
    if unit in ("C", "kg"):
        scale, shift, own = (9 / 5, 32, "F") if unit == "C" else (1 / POUND, 0, "lb")
        told = " to ".join(f"{float(part.rstrip('.')) * scale + shift:.0f}" for part in numbers.split(" to "))
        return f"{told} {own} ({found['bare']})"
    amounts = [float(part.rstrip(".")) * (1e-3 if unit == "um" else 1.0) for part in numbers.split(" to ")]
    if max(map(abs, amounts)) < _SMALL:
        told = " to ".join(f"{round(amount / 0.0254, 1):g}" for amount in amounts)
        return f"{told} thou ({found['bare']})"
    digits = len(numbers.rpartition(".")[2]) + 1 if "." in numbers else 2
    return f"{' to '.join(f'{amount / 25.4:.{digits}f}' for amount in amounts)} in ({found['bare']})"


def told_duration(seconds: float) -> int:
    """Return a wait rounded up as `show_duration` prints it [s]: a clock beside it ends no sooner."""
    step = 5 if seconds < 90 else 60
    return step * math.ceil(seconds / step)


def show_duration(seconds: float) -> str:
    """Print a wait as people say it: "40 s", "25 min", "3 h 10 min"."""
    if seconds < 90:
        return f"{told_duration(seconds)} s"
    minutes = told_duration(seconds) // 60
    if minutes < 90:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60:02d} min"


@dataclass(frozen=True, slots=True)
class Plausible:
    """The range [SI] outside which a quantity is taken for a slip of the pen."""

    low: float
    high: float

    def at(self, value: float, key: str) -> float:
        """Return the value of a key of a file, or raise BadInput that names key and likely slip."""
        return self.check(value, key.rpartition(".")[2].replace("_", " "), where=key)

    def check(self, value: float, what: str, *, where: str = "") -> float:
        """Return the value [m], or raise BadInput that names `what` as the person knows it, and the likely slip."""
        if self.low <= value <= self.high:
            return value
        slip = likely_slip(value, self.low, self.high)
        big = self.high > 0.02
        raise BadInput(
            f"{what} is {show(value, big=big)}; allowed is {show(self.low, big=big)} to {show(self.high, big=big)}",
            where=where,
            fix=slip[:1].upper() + slip[1:] if slip else "",
        )

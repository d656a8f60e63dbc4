"""Heads and set-ups for the clamp's tests: plain ones whose answer is known, and random ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from straighten.clamp import ClampSetup
from straighten.clamp.clamped import _clamp_alike
from straighten.head import head_from_text, template_head
from straighten.head.records import SIDES, Base, Casting, Head, HeadBolt, Plates, Web
from straighten.heat.treatment import Response, nominal

RIGID = Base(kind="rigid", thickness=1.0, width=0.3, length=0.6, material="steel")


def pump_head() -> Head:
    """The invented four-cylinder pump head that a new head file starts from."""
    return head_from_text(template_head(), "template")


def with_modulus(head: Head, modulus: float, poisson: float = 0.33, density: float | None = None) -> Head:
    alloy = replace(head.alloy, modulus=((20.0, modulus),), poisson=poisson)
    return replace(head, alloy=alloy if density is None else replace(alloy, density=density))


def bolts_at(stations, thread: str = "M12x1.75", grade: str = "10.9") -> tuple[HeadBolt, ...]:
    return tuple(
        HeadBolt(station=float(x), side=side, thread=thread, grade=grade) for x in stations for side in SIDES
    )


def plain_head(
    length, width, height, *, plates, stations, modulus=70e9, shims=None, base=RIGID, weightless=True
) -> Head:
    """A head of known plates on a rigid base unless said otherwise."""
    head = with_modulus(pump_head(), modulus, density=1e-9 if weightless else 2680.0)
    casting = Casting(
        length=length, width=width, height=height, mass=None, plates=plates,
        roof=plates.roof or height / 4, roof_assumed=False, deck=plates.deck or height / 4, webs=plates.webs,
    )  # fmt: skip
    front, rear = shims if shims is not None else (0.0, length)
    return replace(
        head, casting=casting, bolts=bolts_at(stations), base=replace(base, length=max(base.length, length)),
        front_shim=front, rear_shim=rear,
    )  # fmt: skip


def bowed(bow: float, **others: float) -> np.ndarray:
    from straighten.shape.modes import INDEX

    state = np.zeros((1, 11))
    state[0, 0] = state[0, 7] = bow
    for name, value in others.items():
        state[0, INDEX[name]] = value
    return state


def all_bolts(head: Head) -> tuple[int, ...]:
    return tuple(range(len(head.bolts)))


def draws(stiffness, friction=0.14) -> Response:
    s = np.atleast_1d(np.asarray(stiffness, dtype=float))
    return replace(
        nominal(s.size), stiffness=s, friction=np.broadcast_to(np.asarray(friction, dtype=float), s.shape)
    )


def clamp_section(head, section, states, setup, response):
    """The head as the clamp holds it, the section given: plates measured elsewhere, or a cross-check."""
    return _clamp_alike(head, section, states, ([setup], response))[0]


def random_bench(rng: np.random.Generator) -> tuple[Head, np.ndarray, ClampSetup]:
    """Some head, some shape, some set-up: hollow or solid, rigid or bending base, straight or twisted, odd shims."""
    length, width, height = rng.uniform(0.3, 0.6), rng.uniform(0.11, 0.2), rng.uniform(0.07, 0.14)
    plates = Plates(solid=True)
    if rng.random() < 0.8:
        webs = tuple(Web(station=float(x), thickness=0.01) for x in np.linspace(0.1, 0.9, 5) * length)
        walls = rng.uniform(0.005, 0.016, 3)
        plates = Plates(deck=walls[0], roof=walls[1], side_walls=walls[2], end_walls=0.01, webs=webs)
    stations = np.linspace(rng.uniform(0.08, 0.15), rng.uniform(0.85, 0.92), rng.integers(3, 7)) * length
    kind = rng.choice(["rigid", "plate", "block"])
    base = Base(
        kind=kind, thickness=0.25 if kind == "block" else rng.uniform(0.02, 0.1), width=rng.uniform(1.0, 1.5) * width,
        length=rng.uniform(1.0, 1.4) * length, material=rng.choice(["steel", "aluminium", "iron"]),
        dome=rng.choice([0.0, 3e-5, -3e-5]),
    )  # fmt: skip
    head = plain_head(
        length, width, height, plates=plates, stations=stations, modulus=71e9, weightless=False,
        shims=(0.02 * length, 0.98 * length), base=base,
    )  # fmt: skip
    state = rng.normal(size=(1, 11)) * 5e-5
    reverse = bool(rng.random() < 0.2)
    state[0, 0] = rng.uniform(-4e-4, 0.0) if reverse else rng.uniform(0.0, 6e-4)
    bolts = (
        np.flatnonzero(rng.random(len(head.bolts)) < 0.6)
        if rng.random() < 0.5
        else np.arange(len(head.bolts))
    )
    if reverse:
        bolts = np.array([0, 1, len(head.bolts) - 2, len(head.bolts) - 1])
    if bolts.size == 0:
        bolts = np.array([2, 3])
    shims = tuple(float(v) for v in rng.uniform(0, 3e-4) + rng.uniform(0, 1e-4, 4))
    tension = float(rng.uniform(0, 3e4))
    setup = ClampSetup(
        shims=shims, bolts=tuple(int(b) for b in bolts), gap=None, tension=tension, reverse=reverse
    )
    return head, state, setup

"""How sanding is done, and what can hurt: the same on every head."""

from __future__ import annotations

METHOD = (
    "Head stripped bare: valves, plugs, studs out; water and oil holes plugged against grit (wax, rubber, tape).",
    "Draw a grid of 20 mm squares on the face with a felt pen; draw it anew at every check. It wears evenly on a flat face.",
    "Wet: water with a drop of soap, wipe the paper every ten strokes.",
    (
        "The head's own weight only, hands low at both ends. Long straight strokes; one stroke is there and back, a quarter of a "
        "metre each way. Never more than a quarter of the head over the edge."
    ),
    "Turn the head end for end every 20 strokes, and turn the paper with each sheet.",
    "No circles: a free circular rub of two faces makes a sphere, not a plane.",
    "Full sheets without overlap, thin even glue, no bulging edges. Every finer paper: wash head and surface first.",
    (
        "Then: hot wash, a brush through every drilling and gallery, blow out, wash again, oil; a white rag must come out white. "
        "Grit left in a drilling ruins bearings and rings. Plugs are fitted new."
    ),
)
CAUTIONS = (
    (
        "Aluminium dust: dry dust can explode in the air. Sand wet, wipe up, no ordinary vacuum cleaner, no sparks beside it, "
        "mask and glasses where anything dries."
    ),
    "Wet aluminium sludge gives off hydrogen: keep it wet in an open tin, never in a closed bin.",
    "Magnesium must not be sanded like this: its dust burns, water makes it worse.",
    "Old gasket remains may hold asbestos: never sand them; wet, scrape by hand, mask, bag; local rules decide.",
    "A head is heavy and the edge of glass is sharp: a second pair of hands, gloves, glass bedded on a flat bench.",
    "Some makers and builders allow no abrasives on a sealing face: follow them; a licensed shop can face it.",
)

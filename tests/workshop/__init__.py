"""A workshop to be judged by: heads, hands and readings apart from the planner's code and constants.

Nothing here imports a room of the program. What passes between the two are files (head, survey, what was done) and
the JSON answers of the commands.

    laws      what a heat does: power laws fitted to the tables of 3D elements
    castings  heads as they come in, with their truth
    clamping  the clamp: beam on shims over a base that bends
    bench     what a person does of what the card says, and what it does to the head
    reading   straightedge and blades in a hand
    files     head, survey and set-up files
    card      the JSON answers of the commands: the only place that knows their keys
    shop      one job through the commands
    hands     rules of the hand on the same heads
    ended     what counts as straight, past straight, metal, and why a head was lost

Lengths are in mm, forces in N, temperatures in degC, times in s; x from the front end, y across, inlet side plus.
"""

"""A head as the book and its file know it: everything a plan needs, read back into the records of the rooms."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from straighten.belief.blades import StagedPass, StageLog, TighteningLog
from straighten.desk.kept import all_done, closed_stages, closing, stage_of, tightening_of
from straighten.desk.words import beyond_model
from straighten.errors import BadInput, BookError, in_shell
from straighten.head import head_from_text, template_head
from straighten.head.records import Head
from straighten.heat.flames import tried
from straighten.heat.torch import cut_down, limited
from straighten.plan.records import Done, PassSetup, setup_from_plain
from straighten.readings import Readings, from_plain, read_survey, survey_from_text, to_plain

if TYPE_CHECKING:
    from straighten.book import Book, Entry

Learned = tuple[tuple[str, tuple[float, float]], ...]  # what one other head taught
EACH_PASS = ("passes", "gain", "sign", "cost")  # advice that must be gone past again for every pass
NEWEST = 200  # heads whose passes narrow the next one's prior: the shop as it works now


@dataclass(frozen=True, slots=True, kw_only=True)
class Dossier:
    """One head with its history.

    `head` as its file, its hardness and the metal left on it tell; `text` of the file; `surveys` one more than `passes`, None where a pass was not measured after;
    `earlier` passes before the deck was last sanded and measured: their places stay used, but the shape they led to is
    gone; `unsanded` the dossier as it stood at the end of each such stretch; `told` every survey ever recorded, those that
    answer a question alone too, and how many of them came before the `survey` in use; `accepted` advice that the person
    went past, by kind, with the reason given; `sanding` state of a sanding that no survey has closed, or ""; `begun` what its first survey follows;
    `tightenings` the last log of each pass; `stages` done in the clamping in hand, `retightened` its rounds since the last of them, `staged` those of logged passes; `others` what other heads of the shop taught; `inputs` numbers of the entries they came from; `planned` entry of the last card since the last pass, or None; `last` number of the
    head's last entry, or None where the book does not know it yet; `forked` the lines of entries in which it was carried
    on apart, none where that is settled; `closed` the final list that closed the job, None if work came after it.
    """

    name: str
    head: Head
    text: str
    surveys: tuple[Readings | None, ...]
    passes: tuple[PassSetup, ...]
    earlier: tuple[PassSetup, ...] = ()
    unsanded: tuple[Dossier, ...] = ()
    told: tuple[Readings, ...] = ()
    told_before: int = 0
    accepted: Mapping[str, str] = field(default_factory=dict)
    sanding: str = ""
    begun: Literal["came", "sanded", "read anew"] = "came"
    tightenings: tuple[TighteningLog, ...] = ()
    stages: tuple[StageLog, ...] = ()
    retightened: TighteningLog | None = None
    staged: tuple[StagedPass, ...] = ()
    others: tuple[Learned, ...] = ()
    inputs: tuple[int, ...] = ()
    planned: Entry | None = None
    last: int | None = None
    forked: tuple[tuple[int, ...], ...] = ()
    closed: Entry | None = None

    @property
    def measured(self) -> bool:
        """Whether any survey tells the shape."""
        return any(survey is not None for survey in self.surveys)

    @property
    def survey(self) -> Readings:
        """The last survey that tells the shape.

        Raises:
            BadInput: the head has not been measured.
        """
        found = next((survey for survey in reversed(self.surveys) if survey is not None), None)
        if found is None:
            raise BadInput(
                f"{self.name!r} has not been measured yet",
                where="book",
                fix=f"Record a survey first: straighten measure {in_shell(self.name)} survey.toml",
            )
        return found

    @property
    def found_now(self) -> Readings:
        """The last survey with what was told since: hardness and heights read alone.

        Raises:
            BadInput: the head has not been measured.
        """
        found = self.survey
        for later in self.told[self.told_before + 1 :]:
            found = replace(
                found, hardness=later.hardness or found.hardness, heights=later.heights or found.heights
            )
        return found

    @property
    def measured_after_last_pass(self) -> bool:
        """Whether the last pass was measured."""
        return self.surveys[-1] is not None

    def reads_as_before(self, readings: Readings) -> bool:
        """Return whether every reading equals the last survey's; after another pass that is very unlikely."""
        if not self.measured:
            return False
        then, now = to_plain(self.survey), to_plain(readings)
        return all(then[part] == now[part] for part in ("lines", "plate", "hardness", "heights"))

    @property
    def done(self) -> Done:
        """All passes so far, before and after sanding."""
        return Done().and_then(*self.earlier, *self.passes)

    @property
    def passes_done(self) -> int:
        """Number of passes so far, before and after sanding."""
        return len(self.earlier) + len(self.passes)

    @property
    def stretches(self) -> tuple[Dossier, ...]:
        """The job from survey to survey after sanding, this dossier last; the passes of all are all passes done."""
        earlier = []
        for ended in self.unsanded:
            bent = widest_gap(ended.told[: ended.told_before + 1])
            earlier.append(replace(ended, head=replace(self.head, bent=bent), others=self.others))
        return (*earlier, self)

    def after(self, number: int) -> Dossier:
        """Return it as it stood with so many of its own `passes` done: what was read or tightened since is not known."""
        return replace(
            self,
            passes=self.passes[:number],
            surveys=self.surveys[: number + 1],
            tightenings=tuple(log for log in self.tightenings if log.stage < number),
            stages=(),
            retightened=None,
            staged=tuple(one for one in self.staged if one.number < number),
        )


def bench_head(text: str, where: str) -> Head:
    """Return the head of a file, its torch's power worked out from a crayon trial and its target under the heat ceiling.

    Raises:
        BadInput: the file makes no sense, or a trial that tells no heat.
    """
    return limited(tried(head_from_text(text, where)))


def loose_dossier(text: str, where: str, survey: Path) -> Dossier:
    """Return the dossier of a head file and a survey file alone, with nothing in a book.

    Raises:
        BadInput: a file makes no sense.
    """
    head = bench_head(text, where)
    readings = read_survey(survey, head)
    return _once_measured(head, text, readings)


def _once_measured(head: Head, text: str, readings: Readings) -> Dossier:
    return Dossier(
        name=head.name, head=as_found(head, (readings,)), text=text, passes=(), told=(readings,),
        surveys=(readings if readings.count else None,),
    )  # fmt: skip


def default_dossier() -> Dossier:
    """Return the dossier of the invented pump head that comes with the program, measured once."""
    text = template_head()
    head = bench_head(text, "the program's own head file")
    survey = files("straighten.desk").joinpath("example_survey.toml").read_text(encoding="utf-8")
    readings = survey_from_text(survey, head, "the program's own survey")
    return _once_measured(head, text, readings)


def as_found(head: Head, told: Sequence[Readings], sanded: tuple[float, float] = (0.0, 0.0)) -> Head:
    """Return the head as its surveys found it: hardness at intake for the alloy's range, metal left for the file's, how far it was bent.

    `told` every survey, oldest first; `sanded` the metal that closed sandings took off here, in all and since a height was
    read [m].
    """
    values = next(([h.value for h in survey.hardness] for survey in told if survey.hardness), [])
    if values:
        head = replace(head, alloy=replace(head.alloy, hardness=(min(values), max(values))))
    limits = head.limits
    before = max([limits.removed_before, *(survey.intake.removed or 0.0 for survey in told)])
    left = limits.largest_removal.value - before - sanded[0]
    if limits.least_height is not None:
        heights = next(([h.value for h in survey.heights] for survey in reversed(told) if survey.heights), [])
        lowest = min(heights, default=head.casting.height) - sanded[1]
        left = min(left, lowest - limits.least_height.value)
    return replace(head, limits=replace(limits, left=left), bent=widest_gap(told))


def widest_gap(told: Sequence[Readings]) -> float:
    """Return the widest gap of the surveys since the head was cut [m]; a cut face is even again."""
    cut = next((k for k, survey in enumerate(told) if survey.intake.skimmed == "yes"), 0)
    gaps = (b.middle for survey in told[cut:] for line in survey.lines for b in line.brackets if not b.blank)
    return max(gaps, default=0.0)


def read_dossier(book: Book, name: str, text: str | None, where: str) -> Dossier:
    """Return a head's dossier from the book, the text of its file first where there is one; `where` names that file.

    Raises:
        BadInput: neither the folder nor the book knows the head.
    """
    head = None if text is None else bench_head(text, where)
    title = name if head is None else head.name
    if not book.has_head(title):
        if head is None or text is None:
            raise BadInput(
                f"no head file {name}/head.toml or {name}.toml here, and the book knows no {name!r}",
                where="NAME",
                fix=f"Begin with: straighten new {in_shell(name)}",
            )
        return Dossier(name=title, head=head, text=text, surveys=(None,), passes=())
    entries = book.entries(title)
    if head is None or text is None:
        text = str(next(e for e in reversed(entries) if e.kind == "head").record.get("text", ""))
        head = bench_head(text, f"{title} in the book")
    return replace(
        _gathered(title, head, text, entries),
        others=_other_heads(book, head, title),
        forked=book.open_lines(title),
    )


def heat_source(head: Head) -> str:
    """Return by what a head is heated, in the word under which its passes are pooled."""
    return "torch" if head.torch is not None else "oven"


def _other_heads(book: Book, head: Head, name: str) -> tuple[Learned, ...]:
    """Return what the newest other heads of the same alloy family and heat source taught."""
    found = book.outcomes(family=head.alloy.family, source=heat_source(head), newest=NEWEST)
    return tuple(tuple(sorted(outcome.factors.items())) for outcome in found if outcome.head != name)


@dataclass(slots=True)
class _Sanding:
    """Metal taken off the deck as the entries tell it [m]: in closed runs, in the open run, and when a height was read."""

    closed: float = 0.0
    open: float = 0.0
    at_height: float = 0.0
    state: str = ""

    def run(self, record: dict[str, Any]) -> None:
        """Take a sanding entry; each tells its run's metal so far, on the safe side."""
        self.open, self.state = 1e-3 * float(record["removed_99_percent_mm"]), str(record["state"])

    def measured(self, readings: Readings) -> None:
        """Close the run: the deck was measured after it."""
        self.closed, self.open, self.state = self.closed + self.open, 0.0, ""
        if readings.heights:
            self.at_height = self.closed


def _gathered(name: str, head: Head, text: str, entries: list[Entry]) -> Dossier:
    now = Dossier(name=name, head=head, text=text, surveys=(None,), passes=())
    sanding = _Sanding()
    for entry in entries:
        with held_by(entry):
            now = _entered(now, entry, sanding)
    return replace(
        now,
        head=as_found(head, now.told, (sanding.closed, sanding.closed - sanding.at_height)),
        sanding=sanding.state,
        inputs=tuple(e.number for e in entries if e.kind in ("survey", "pass", "head", "tighten", "stage")),
        last=entries[-1].number if entries else None,
        closed=closing(entries),
    )


@contextmanager
def held_by(entry: Entry) -> Iterator[None]:
    """Read an entry's record inside; what does not hold what its kind holds is named.

    Raises:
        BookError: an entry that came from elsewhere with a true seal and a record that makes no sense.
    """
    try:
        yield
    except (LookupError, TypeError, ValueError, AttributeError) as fault:
        raise BookError(
            f"it does not hold what a {entry.kind} holds ({type(fault).__name__}: {str(fault)[:60]})",
            where=f"entry {entry.number} of {entry.head}",
            fix=f'Take it out of use: straighten strike {entry.number} --reason "...".',
        ) from None


def _entered(now: Dossier, entry: Entry, sanding: _Sanding) -> Dossier:
    """Return the dossier after one more entry."""
    readings = _readings(entry)
    shape = readings if readings is not None and readings.count else None
    if readings is not None:
        now = replace(now, told=(*now.told, readings))
    if entry.kind == "pass":
        now = _passed(now, entry, shape)
    elif shape is not None:
        now = _surveyed(now, shape, sanded=bool(sanding.state) or _cut_since(now.told[:-1], shape))
    elif entry.kind == "tighten" and (log := tightening_of(entry, len(now.passes))) is not None:
        now = _retightened(now, log)
    elif entry.kind == "stage":
        kept_stages = tuple(old for old in now.stages if old.number != entry.record["stage"])
        now = replace(now, stages=(*kept_stages, stage_of(entry)), retightened=None)
    elif entry.kind == "sand":
        sanding.run(entry.record)
    elif entry.kind == "plan":
        setup_from_plain(entry.record["setup"])
        now = replace(now, planned=entry)
    if shape is not None:
        now = replace(now, told_before=len(now.told) - 1)
        sanding.measured(shape)
    if against := entry.record.get("against"):
        now = replace(now, accepted={**now.accepted, **dict.fromkeys(against, entry.record["because"])})
    return now


def _cut_since(told: Sequence[Readings], shape: Readings) -> bool:
    """Return whether a survey tells of more metal taken off than any before it, whoever took it."""
    return (shape.intake.removed or 0.0) > max((before.intake.removed or 0.0 for before in told), default=0.0)


def _retightened(now: Dossier, log: TighteningLog) -> Dossier:
    """Return the dossier with a tightening; one between stages starts from a shape that no survey stands before."""
    if now.stages:
        return replace(now, retightened=log)
    kept = tuple(old for old in now.tightenings if old.stage != log.stage)
    return replace(now, tightenings=(*kept, log))


def _surveyed(now: Dossier, shape: Readings, *, sanded: bool) -> Dossier:
    if now.stages:  # what was heated in stages is a pass, whichever command brings the readings after it
        done = all_done(now.stages)
        now = replace(closed_stages(now), planned=None, passes=(*now.passes, done))
        return replace(now, surveys=(*now.surveys, shape))
    if sanded:  # another deck now: what the passes did to it cannot be read off it any more
        now = replace(_begun_anew(now, "sanded"), planned=None)
    return replace(now, surveys=(*now.surveys[:-1], shape))


def _readings(entry: Entry) -> Readings | None:
    """Return the readings that a survey or a pass entry holds."""
    if entry.kind == "survey":
        return from_plain(entry.record["readings"])
    plain = entry.record.get("readings") if entry.kind == "pass" else None
    return None if plain is None else from_plain(plain)


def _passed(now: Dossier, entry: Entry, shape: Readings | None) -> Dossier:
    """Return the dossier after a pass; one that broke a limit teaches nothing, so what is read after it begins anew.

    So does one that an older version learned from and the model of today cannot compute.
    """
    done = setup_from_plain(entry.record["done"])
    kept = {kind: reason for kind, reason in now.accepted.items() if kind not in EACH_PASS}
    # The card is made or given up: a second pass to it would be learned from twice.
    now = replace(now, planned=None, accepted=kept)
    if not entry.record.get("broke") and not beyond_model(now.head, done):
        now = closed_stages(now)
        return replace(now, passes=(*now.passes, done), surveys=(*now.surveys, shape))
    heated = replace(done, spots=cut_down(now.head, done.spots))
    unread = replace(now, passes=(*now.passes, heated), surveys=(*now.surveys, None))
    return replace(_begun_anew(unread, "read anew"), surveys=(shape,))


def _begun_anew(now: Dossier, begun: Literal["sanded", "read anew"]) -> Dossier:
    """Return a dossier whose shape has to be measured again: the passes so far stay used places, and teach on their own."""
    return replace(
        now,
        surveys=(None,),
        passes=(),
        earlier=(*now.earlier, *now.passes),
        unsanded=(*now.unsanded, replace(now, unsanded=())),
        tightenings=(),
        stages=(),
        retightened=None,
        staged=(),
        begun=begun,
    )

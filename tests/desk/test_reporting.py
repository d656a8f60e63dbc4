"""What a table or a report says of one entry: every reading and deed as a row, every value as a line."""

from types import SimpleNamespace

from straighten.desk.finishing import later_work
from straighten.desk.kept import closing
from straighten.desk.reading_out import table_rows


def entry(number, kind, record, *, struck=None):
    return SimpleNamespace(
        number=number, at="2026-03-02T09:00:00+00:00", kind=kind, record=record, struck_by=struck
    )


CLAMP = {"shims_mm": [0.1, 0.1, 0.15, 0.15]}
BAKED = {"done": {"clamp": CLAMP, "spots": [], "soak": {"temperature_C": 200.0, "hold_h": 2.0}}}
FREE = {
    "done": {"clamp": None, "spots": [{"side": "inlet", "station_mm": 200.0, "dwell_s": 5.0}], "soak": None}
}


def told(*entries):
    return [(r["pass"], r["struck"], r["what"], r.get("value"), r.get("unit")) for r in table_rows(entries)]


def test_an_oven_pass_is_four_shims_a_temperature_and_a_time():
    rows = list(table_rows([entry(1, "pass", BAKED)]))
    assert [(r["line"], r["value"]) for r in rows[:4]] == [
        ("front exhaust", 0.1), ("front inlet", 0.1), ("rear exhaust", 0.15), ("rear inlet", 0.15),
    ]  # fmt: skip
    assert [(r["what"], r["value"], r["unit"]) for r in rows[4:]] == [
        ("soak temperature", 200.0, "C"), ("soak", 2.0, "h"),
    ]  # fmt: skip


def test_a_struck_pass_is_shown_and_marked_and_its_number_is_used_again():
    rows = told(entry(1, "pass", FREE, struck=2), entry(3, "pass", FREE), entry(4, "pass", FREE))
    assert rows == [
        (1, "yes", "heat spot", 5.0, "s"), (1, "no", "heat spot", 5.0, "s"), (2, "no", "heat spot", 5.0, "s"),
    ]  # fmt: skip


def test_a_tightening_belongs_to_the_pass_that_follows():
    turn = {"torque_Nm": 9.0, "goes_mm": 0.2, "stops_mm": None}
    (row,) = table_rows([entry(1, "tighten", {"rounds": [turn]})])
    assert (row["pass"], row["value"], row["unit"], row["goes_mm"]) == (1, 9.0, "Nm", 0.2)
    assert row["stops_mm"] is None  # nobody tried a blade that does not go


def test_what_is_no_reading_and_no_deed_is_left_out_of_the_table():
    assert told(entry(1, "decision", {"choice": "sand now"}), entry(2, "bench", {"step": "x"})) == []


# --- the end of a job in the customer's report -----------------------------------------------------------------------


def cut(strokes, removed, *, state="flat enough", ratio=9.21, heights=True):
    """A run of sanding as the book keeps it: 0.1 mm off a head of 92 mm, compression 9.2 before."""
    low, value, high = removed
    read = {"front_exhaust": 91.91, "rear_inlet": 91.93} if heights else {}
    figures = {
        "height_front_exhaust_mm": {"before": 92.01, "low": 91.8, "value": 91.9, "high": 91.95},
        "height_rear_inlet_mm": {"before": 92.03, "low": 91.8, "value": 91.9, "high": 91.95},
        "compression_ratio_cylinder_1": {"before": 9.2, "low": 9.2, "value": ratio, "high": 9.3},
        "compression_ratio_cylinder_2": {"before": 9.2, "low": 9.2, "value": 9.25, "high": 9.3},
        "cam_retard_cam_deg": {"before": 0.0, "low": 0.02, "value": 0.03, "high": 0.04},
        "cam_retard_crank_deg": {"before": 0.0, "low": 0.04, "value": 0.06, "high": 0.08},
        "belt_slack_mm": {"before": 0.0, "low": 0.1, "value": 0.2, "high": 0.3},
    }
    run = {"strokes": strokes, "grit": "P180", "heights_mm": read}
    return {
        "run": run, "state": state, "removed_mm": {"low": low, "value": value, "high": high},
        "report": {"consequences": figures},
    }  # fmt: skip


SANDED = (
    entry(1, "survey", {}), entry(2, "sand", cut(800, (0.02, 0.03, 0.05), state="go on")),
    entry(3, "sand", cut(1200, (0.08, 0.10, 0.12))),
)  # fmt: skip


def test_sanding_is_told_in_a_few_sentences_with_units():
    (work,) = later_work(SANDED, "mm")
    assert work.title == "Sanding"
    assert work.facts == (
        ("Done", "2000 strokes on P180 in 2 runs; flat enough, the hollow left is inside its limit."),
        ("Came off", "0.10 mm (4 thou), range 0.08 to 0.12 mm (3 to 4.5 thou) at the highest places of the deck."),
        ("Height", "92.01 to 92.03 mm (3.622 to 3.623 in) at the corners before, 91.91 to 91.93 mm "
         "(3.619 to 3.619 in) as read after the last run."),
        ("Compression", "9.20 before, 9.21 to 9.25 from cylinder to cylinder after."),
        ("Timing", "Cam later by 0.03 degrees of the cam, 0.06 of the crank; drive slacker by 0.20 mm (8 thou)."),
    )  # fmt: skip


def test_in_inches_the_inch_stands_first():
    facts = dict(later_work(SANDED, "inch")[0].facts)
    assert facts["Came off"].startswith("4 thou (0.10 mm), range 3 to 4.5 thou (0.08 to 0.12 mm)")
    assert facts["Height"].startswith("3.622 to 3.623 in (92.01 to 92.03 mm)")


def test_a_second_sanding_after_a_survey_stands_apart():
    works = later_work(
        (*SANDED, entry(4, "survey", {}), entry(5, "sand", cut(300, (0.01, 0.02, 0.03)))), "mm"
    )
    assert [(w.title, w.facts[0][1].split(";")[0]) for w in works] == [
        ("Sanding 1", "2000 strokes on P180 in 2 runs"), ("Sanding 2", "300 strokes on P180 in 1 run"),
    ]  # fmt: skip


def test_heights_that_were_not_read_after_the_last_run_are_not_made_up():
    (work,) = later_work((entry(1, "sand", cut(800, (0.02, 0.03, 0.05), heights=False)),), "mm")
    assert dict(work.facts)["Height"].endswith("before, not read after the last run.")


def test_an_engine_nobody_described_has_no_compression_and_no_timing():
    record = cut(800, (0.02, 0.03, 0.05))
    record["report"]["consequences"] = {}
    assert [key for key, _ in later_work((entry(1, "sand", record),), "mm")[0].facts] == ["Done", "Came off"]


FINAL = {
    "lines": [
        {"title": "deck overall", "state": "holds", "found": "0.06 mm"},
        {"title": "crack test", "state": "fails", "found": "crack at seat 2"},
        {"title": "cam timing", "state": "skipped", "found": "skipped: no belt yet"},
    ],
    "skipped": ["cam timing: skipped: no belt yet"], "remeasure_due": "",
}  # fmt: skip


def test_the_final_list_is_told_by_its_outcome():
    closed = entry(4, "finish", {"final": FINAL, "who": "bench one", "note": ""})
    (work,) = later_work((closed,), "mm")
    assert work.facts == (
        ("Closed", "2026-03-02 by bench one: 1 of 3 lines hold or are done, 1 fails."),
        ("Fails", "crack test: crack at seat 2"), ("Skipped or not seen", "cam timing: no belt yet"),
    )  # fmt: skip


def test_a_job_is_closed_until_something_is_measured_or_done_after_it():
    closed = entry(4, "finish", {"final": FINAL})
    assert closing((*SANDED, closed)) is closed
    assert closing((*SANDED, closed, entry(5, "decision", {}))) is closed
    assert closing((*SANDED, closed, entry(5, "survey", {}))) is None

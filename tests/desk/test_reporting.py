"""What a table or a report says of one entry: every reading and deed as a row, every value as a line."""

from types import SimpleNamespace

from straighten.desk.exporting import table_rows
from straighten.desk.reporting import flat


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


def test_a_record_becomes_lines_with_its_units_in_the_keys():
    record = {
        "schema": "straighten/sand/1", "removed_mm": 0.0123456789, "checked": True, "left_out": None,
        "paper": {"grit": 400, "sheets": ["first", 2.5, False]},
    }  # fmt: skip
    assert flat(record) == (
        ("removed mm", "0.0123457"), ("checked", "yes"), ("paper, grit", "400"),
        ("paper, sheets", "first; 2.5; no"),
    )  # fmt: skip

"""Tables that a person typed: each slip is a sentence that names its row."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.bench.motion.clock_table import read_timings
from outshop.bench.motion.clocks import Kind
from outshop.bench.motion.sheet import parse_sheet
from outshop.bench.motion.speed_rows import read_speed_rows
from outshop.bench.motion.speed_table import measure
from outshop.bench.motion.speed_typed import COLUMNS, TypedLine, typed_rows
from outshop.errors import InputError
from outshop.railway.scales import scale

SPEEDS = "setting,unit,direction,sweep,speed_m_s\n"


def test_clock_rows_of_one_clock_and_way_belong_together():
    rows = ("clock;way_m;time_s;laps", "Stop-watch;1;5,02;", "hand;1;5,10;", "gates;0,5;2.5;")
    text = "\n".join((*rows, "loop;3,77;57;3"))
    watch, gates, laps = read_timings(text.encode())
    assert (watch.kind, watch.way_mm, watch.seconds) == (Kind.STOP_WATCH, 1000, (5.02, 5.10))
    assert (gates.kind, gates.way_mm) == (Kind.GATES, 500)
    assert (laps.laps, laps.way_mm) == (3, pytest.approx(3770))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("  \n\n", "empty"),
        ("clock,way_mm,time_s\n", "no rows"),
        ("1,2,3\n4,5,6\n", "no header"),
        ("clock,way_mm\ngates,500\n", "the header needs clock,way_mm,time_s"),
        ("clock,way_mm,way_m,time_s\ngates,500,0.5,2\n", "keep one column for the way"),
        ("clock,way_mm,time_s\ngates,500,soon\n", "row 2, column time_s: 'soon' is no number"),
        ("clock,way_mm,time_s\ngates,500,nan\n", "row 2, column time_s: 'nan' is no number"),
        ("clock,way_mm,time_s\ngates,500,-2\n", "row 2: a time of -2 s"),
        ("clock,way_mm,time_s\ngates,0,2\n", "row 2: a way of 0 mm"),
        ("clock,way_mm,time_s\ngates,500,\n", "row 2 lacks its way or its time"),
        ("clock,way_mm,time_s\ngates,5 m,2\n", "carries the unit 'm' where mm is wanted"),
        ("clock,way_mm,time_s\nsundial,500,2\n", "row 2: 'sundial' is no clock"),
        ("clock,way_mm,time_s,laps\nlaps,500,2,1.5\n", "row 2: 1.5 laps"),
        ("clock,way_mm,time_s\ngates,500,2,5\n", "put semicolons between the columns"),
        ("clock,clock,time_s\na,b,2\n", "stands twice"),
        ('clock,way_mm,time_s\n"gates,500,2\n', "quoted cell does not end"),
    ],
)
def test_each_slip_of_a_clock_table_is_a_sentence(text, says):
    with pytest.raises(InputError, match=says):
        read_timings(text.encode())


def test_a_million_rows_and_bytes_that_are_no_text_are_refused_at_once():
    with pytest.raises(InputError, match="longer than 4 MB or 5000 rows"):
        parse_sheet(b"setting,speed_m_s\n" + b"1,0.2\n" * 1_000_000)
    with pytest.raises(InputError, match="longer than 5000 rows"):
        parse_sheet(b"setting,speed_m_s\n" + b"1,0.2\n" * 5001)
    with pytest.raises(InputError, match="not UTF-8"):
        parse_sheet(b"setting\n\xff\xfe\n")
    with pytest.raises(InputError, match="no text table"):
        parse_sheet(b"\0\0\0")


def test_a_file_of_a_million_rows_is_not_read_to_its_end(tmp_path):
    path = tmp_path / "long.csv"
    path.write_bytes(b"setting,speed_m_s\n" + b"1,0.2\n" * 1_000_000)
    with pytest.raises(InputError, match="longer than 4 MB"):
        read_speed_rows(path)


@pytest.mark.parametrize(
    ("header", "cell", "m_s"),
    [
        ("speed_m_s", "0.2", 0.2),
        ("Speed [mm/s]", "200", 0.2),
        ("speed (cm/s)", "20", 0.2),
        ("speed_km_h", "62.64", 0.2),  # NEM 010: H0 is 1:87; 0.2 m/s x 87 x 3.6
        ("speed_mph", "38.92269", 0.2),  # 62.64 / 1.609344
        ("speed_m_s", "-", 0.0),
        ("speed_m_s", "stands", 0.0),
    ],
)
def test_speeds_are_read_in_each_unit(header, cell, m_s):
    text = f"setting;{header}\n6;{cell}\n"
    found = read_speed_rows(text.encode(), scale=scale("H0"))
    assert found.points[0].speed_m_s == pytest.approx(m_s, rel=1e-6)


def test_times_over_a_way_become_speeds_that_are_less_sure_the_shorter_they_are():
    rows = read_speed_rows(b"setting,time_s,way_mm\n6,5,1000\n12,1,1000\n2,-,1000\n")
    slow, fast, still = rows.points
    assert (slow.speed_m_s, fast.speed_m_s, still.speed_m_s) == (0.2, 1.0, 0.0)
    assert fast.share > slow.share


def test_a_negative_setting_is_reverse_only_without_a_direction():
    rows = read_speed_rows(b"setting,speed_m_s\n6,0.2\n-6,0.19\n")
    assert [(p.direction, p.setting) for p in rows.points] == [("forward", 6), ("reverse", 6)]
    with pytest.raises(InputError, match="row 2: a setting of -6"):
        read_speed_rows(f"{SPEEDS}-6,V,reverse,up,0.2\n".encode())


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("setting,speed\n6,0.2\n", "name the speed's unit"),
        ("setting,speed_m_s,speed_km_h\n6,0.2,60\n", "keep one column for the speed"),
        ("setting,speed_km_h\n6,60\n", "give the scale"),
        (SPEEDS + "6,V,forward,up,0.2\n28,step,forward,up,0.4\n", "mix volts and steps"),
        (SPEEDS + "6,W,forward,up,0.2\n", "row 2: the setting's unit 'W'"),
        (SPEEDS + "6,V,sideways,up,0.2\n", "column direction: 'sideways'"),
        (SPEEDS + "6,V,forward,around,0.2\n", "column sweep: 'around'"),
        (SPEEDS + ",V,forward,up,0.2\n", "row 2 lacks its setting"),
        (SPEEDS + "six,V,forward,up,0.2\n", "row 2, column setting: 'six' is no number"),
        (SPEEDS + "6,V,forward,up,\n", "row 2: the speed is missing"),
        (SPEEDS + "6,V,forward,up,-0.2\n", "row 2: a speed of -0.2 m/s is negative"),
        (SPEEDS + "6,V,forward,up,nan\n", "'nan' is no number"),
        (SPEEDS + "6,V,forward,up,200\n", "row 2: a speed of 200 m/s cannot be"),
        (SPEEDS + "240,V,forward,up,0.2\n", "a setting of 240 V cannot be"),
        (SPEEDS + "6.5,step,forward,up,0.2\n", "steps are whole numbers"),
        ("setting,time_s\n6,5\n", "add a column way_mm"),
        ("setting,time_s,way_mm\n6,0 s,1000\n", "row 2: a time of 0 s"),
        ("setting,time_s,way_mm\n6,5,0\n", "row 2: a way of 0 mm"),
    ],
)
def test_each_slip_of_a_speed_table_is_a_sentence(text, says):
    with pytest.raises(InputError, match=says):
        read_speed_rows(text.encode())


@given(st.lists(st.floats(0.01, 1.0), min_size=2, max_size=12))
def test_the_unit_in_which_speeds_are_written_changes_no_figure(speeds):
    """Written in m/s, mm/s and km/h at full size (NEM 010: H0 is 1:87), the top is the same."""
    tops = []
    for column, factor in (("speed_m_s", 1), ("speed_mm_s", 1000), ("speed_km_h", 87 * 3.6)):
        rows = "".join(f"{n},{v * factor:.12f}\n" for n, v in enumerate(speeds, 1))
        table = read_speed_rows(f"setting,{column}\n{rows}".encode(), scale=scale("H0"))
        tops.append(measure(table).ways["forward"].top.value)
    assert tops == pytest.approx([speeds[-1]] * 3, rel=1e-6)


def typed(setting="6", **cells):
    names = dict(zip(("fu", "fd", "ru", "rd"), COLUMNS, strict=True))
    return [TypedLine(setting, {names[key]: text for key, text in cells.items()})]


def test_a_typed_cell_holds_one_reading_several_or_a_dash():
    rows = typed_rows(typed(fu="5,0 4.0", rd="-"), unit="V", way_mm=1000)
    found = [(p.direction, p.sweep, p.speed_m_s) for p in rows.points]
    assert found == [
        ("forward", "up", 0.2),
        ("forward", "up", 0.25),
        ("reverse", "down", 0.0),
    ]


def test_typed_speeds_at_the_model_and_at_full_size_are_the_same_runs():
    model = typed_rows(typed(fu="0,2"), unit="V", holds="m/s")
    full = typed_rows(typed(fu="62.64"), unit="V", holds="km/h", scale=scale("H0"))
    assert full.points[0].speed_m_s == pytest.approx(model.points[0].speed_m_s)


def test_a_grid_with_nothing_in_it_is_no_table():
    assert typed_rows(typed(), unit="V", way_mm=1000) is None
    assert typed_rows(typed(fu="  "), unit="V") is None

"""Tables as loggers write them: the same readings in many dresses, and bad ones refused."""

import contextlib
import itertools

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from outshop.bench.electrics.clock import tidy_times
from outshop.bench.electrics.log import read_log
from outshop.bench.electrics.table import read_table
from outshop.errors import InputError, TableError

TIME = np.round(np.arange(40) * 0.1, 3)
CURRENT = np.round(0.3 + 0.01 * np.sin(np.arange(40)), 4)
VOLTAGE = np.round(12 + 0.1 * np.cos(np.arange(40)), 2)

HEADERS = [
    ("time_s", "current_a", "voltage_v", 1, 1),
    ("Time [s]", "Current [A]", "Voltage [V]", 1, 1),
    ("Zeit (ms)", "Strom (mA)", "Spannung (V)", 1000, 1000),
    ("t/s", "I/mA", "U/V", 1, 1000),
    ("Elapsed", "mA", "Volts", 1, 1000),
    ("time_ms", "current_ma", "voltage_mv", 1000, 1000),
    ("temps", "courant", "tension", 1, 1),
    ("seconds", "Motor current (A)", "Bus voltage (V)", 1, 1),
]


def write(path, header, rows, delimiter=",", comma=False, ends="\n"):
    lines = [delimiter.join(header)]
    for row in rows:
        cells = [f"{x:.10g}" for x in row]
        lines.append(delimiter.join(c.replace(".", ",") if comma else c for c in cells))
    path.write_bytes((ends.join(lines) + ends).encode())
    return path


@pytest.mark.parametrize("header", HEADERS, ids=lambda h: h[1])
@pytest.mark.parametrize(
    ("delimiter", "comma"), [(",", False), (";", False), (";", True), ("\t", True), ("\t", False)]
)
def test_every_dress_of_a_log_gives_the_same_amperes_and_seconds(
    tmp_path, header, delimiter, comma
):
    *names, per_second, per_ampere = header
    volts = VOLTAGE * 1000 if "mv" in names[2] else VOLTAGE
    rows = zip(TIME * per_second, CURRENT * per_ampere, volts, strict=True)
    table = read_table(
        write(tmp_path / "log.csv", names, rows, delimiter, comma),
        ("time", "current"),
        ("voltage",),
    )
    assert table.columns["time"] == pytest.approx(TIME)
    assert table.columns["current"] == pytest.approx(CURRENT, rel=1e-6)
    assert table.columns["voltage"] == pytest.approx(VOLTAGE, rel=1e-6)


def test_windows_line_ends_byte_order_mark_and_preamble_do_no_harm(tmp_path):
    path = write(tmp_path / "a.csv", ("t", "I"), zip(TIME, CURRENT, strict=True), ends="\r\n")
    path.write_bytes(b"\xef\xbb\xbfLogger 7\r\nserial;4711\r\n\r\n" + path.read_bytes())
    assert read_log(path).current_a == pytest.approx(CURRENT, rel=1e-6)


def test_columns_that_are_not_wanted_may_hold_text(tmp_path):
    path = tmp_path / "a.csv"
    rows = [f"x,{t},ok,{i}" for t, i in zip(TIME, CURRENT, strict=True)]
    path.write_text("\n".join(["name,time_s,note,current_a", *rows]))
    assert read_log(path).current_a == pytest.approx(CURRENT, rel=1e-6)


def test_quoted_decimal_commas_between_commas_are_read(tmp_path):
    path = tmp_path / "a.csv"
    rows = [f'"{t}","{i}"'.replace(".", ",") for t, i in zip(TIME, CURRENT, strict=True)]
    path.write_text("\n".join(['"time_s","current_a"', *rows]))
    assert read_log(path).current_a == pytest.approx(CURRENT, rel=1e-6)


def test_clock_times_and_iso_stamps_become_seconds(tmp_path):
    for stamps in (
        [f"23:59:{59 + t:04.1f}" if t < 1 else f"0:00:{t - 1:04.1f}" for t in TIME[:20]],
        [f"2024-05-01T12:00:{t:06.3f}" for t in TIME[:20]],
    ):
        path = tmp_path / "a.csv"
        rows = [f"{s};{i}" for s, i in zip(stamps, CURRENT, strict=False)]
        path.write_text("\n".join(["time;current", *rows]))
        assert read_log(path).time_s == pytest.approx(TIME[:20], abs=1e-6)


def test_a_few_rows_with_words_are_left_out_and_counted(tmp_path):
    path = write(tmp_path / "a.csv", ("t", "I"), zip(TIME, CURRENT, strict=True))
    lines = path.read_text().splitlines()
    lines[7] = "0.6,OL"
    path.write_text("\n".join(lines))
    log = read_log(path)
    assert log.time_s.size == TIME.size - 1
    assert "1 rows" in log.warnings[0]
    assert "OL" in log.warnings[0]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("0,0.3\n0.1,0.3\n0.2,0.3\n", "no header"),
        ("time_s,volts\n0,1\n", "current"),
        ("time_s,current_a\n", "no readings"),
        ("time_s,current_a\n" + "\n".join(f"{t},hello" for t in range(20)), "hello"),
        ("time_s,current_a\n0,001,0,35\n0,002,0,36\n0,003,0,36\n", "comma"),
        ("time_s,current_a\n" + "5,0.3\n" * 20, "same time"),
        ("time_s,current_a\n0,1\n1,1\n", "5 readings"),
        ("time_s,current_ma\n" + "\n".join(f"{t},0.3 A" for t in range(20)), "unit"),
        ("time_s,current_a\n" + "\n".join(f"{t},0.3 V" for t in range(20)), "unit"),
        ("time_s,current_a\n" + "\n".join(f"{-t},0.3" for t in range(20)), "backward"),
        ("not a table at all", "no column"),
        ("time_s,current_a\n0\x001,2\n", "no text table"),
    ],
)
def test_bad_logs_are_refused_with_the_reason(tmp_path, text, says):
    path = tmp_path / "log.csv"
    path.write_text(text)
    with pytest.raises(TableError, match=says) as caught:
        read_log(path)
    assert "\n" not in str(caught.value)


def test_utf_16_is_named(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("time_s,current_a\n0,1\n", encoding="utf-16")
    with pytest.raises(TableError, match="UTF-16"):
        read_log(path)


def test_repeated_stamps_of_a_coarse_clock_are_spread_evenly():
    coarse = np.floor(np.arange(50) / 10)
    time, order, warnings = tidy_times(coarse)
    assert order is None
    assert time == pytest.approx(np.arange(50) / 10)
    assert "45 rows" in warnings[0]


def test_two_rows_out_of_order_are_sorted():
    time, order, warnings = tidy_times(np.array([0.0, 1, 3, 2, 4, 5, 6]))
    assert list(order) == [0, 1, 3, 2, 4, 5, 6]
    assert np.all(np.diff(time) > 0)
    assert warnings


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_a_log_or_a_clear_refusal(tmp_path, raw):
    path = tmp_path / "any.csv"
    path.write_bytes(b"time_s,current_a\n" + raw)
    with contextlib.suppress(InputError):
        assert np.all(np.diff(read_log(path).time_s) > 0)


def test_blocks_join_without_losing_a_row(tmp_path, monkeypatch):
    """Small blocks cut the file everywhere, also inside rows."""
    path = write(tmp_path / "a.csv", ("t", "I"), zip(TIME, CURRENT, strict=True))
    for size in itertools.chain(range(16, 40, 5), (1000,)):
        monkeypatch.setattr("outshop.bench.electrics.table.BLOCK_BYTES", size)
        assert read_log(path).current_a == pytest.approx(CURRENT, rel=1e-6)

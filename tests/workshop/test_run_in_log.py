"""A log of readings is read whole, in the shapes that meters and spreadsheets write."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import TableError
from outshop.workshop.run_in_log import LoggedReading, read_run_in_log

readings = st.builds(
    LoggedReading,
    st.floats(0, 1440),
    st.sampled_from(["forward", "reverse"]),
    st.floats(0, 20),
    st.none() | st.floats(-20, 200),
    st.none() | st.floats(0, 1000),
    st.none() | st.floats(-200, 200),
)


@given(st.lists(readings, min_size=1, max_size=20), st.sampled_from([",", ";", "\t"]))
def test_what_is_written_comes_back(lines, separator):
    names = ("minute", "direction", "current_a", "temperature_c", "speed_km_h", "level_db")
    rows = [separator.join(names)]
    for line in lines:
        cells = [getattr(line, name) for name in names]
        rows.append(separator.join("" if c is None else str(c) for c in cells))
    assert read_run_in_log("\n".join(rows)) == tuple(lines)


def test_a_spreadsheets_dialect_is_read():
    text = "\ufeffMinute;Direction;Current_A\r\n1,5;F;0,21\r\n\r\n2;reverse;0,2\r\n"
    assert read_run_in_log(text) == (
        LoggedReading(1.5, "forward", 0.21),
        LoggedReading(2.0, "reverse", 0.2),
    )


HEAD = "minute,direction,current_a,temperature_c\n"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "needs a heading and at least one line"),
        (HEAD, "needs a heading and at least one line"),
        ("minute,direction,colour\n1,forward,3", "column 'colour'"),
        ("minute,current_a\n1,2", "needs one column 'direction'"),
        ("minute,direction,current_a,current_a\n1,f,2,2", "stands twice"),
        (HEAD + "1,sideways,0.2,30", "line 2: the direction"),
        (HEAD + "1,forward,0.2,400", "line 2: temperature_c of 400 cannot be right"),
        (HEAD + "1,forward,-1,30", "line 2: current_a of -1"),
        (HEAD + "1,forward,nan,30", "cannot be right"),
        (HEAD + "1,forward,much,30", "line 2: current_a 'much' is not a number"),
        (HEAD + ",forward,0.2,30", "line 2: the minute is missing"),
        (HEAD + "1,forward,,", "line 2: there is no reading"),
        (HEAD + '1,forward,"0.2,30', "cannot be read as CSV"),
        (HEAD + "1,forward,0.2,30\n" * 2001, "2001 lines"),
    ],
)
def test_a_log_that_cannot_be_used_is_told_with_its_line(text, sentence):
    with pytest.raises(TableError, match=sentence):
        read_run_in_log(text)

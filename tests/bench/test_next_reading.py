"""What to read next: cheap first, then what the last finding asks for."""

from outshop.bench.next_reading import next_reading


def test_a_fresh_piece_begins_at_the_motor_and_ends_when_all_is_known():
    assert next_reading({}).topic == "motor"
    known: dict[str, list[str]] = {}
    order = []
    while (step := next_reading(known)) is not None:
        order.append(step.topic)
        known[step.topic] = []
    assert len(order) == len(set(order)) == 6


def test_a_finding_asks_for_what_settles_it_until_that_is_read():
    assert next_reading({"motor": ["stall-varies"]}).topic == "winding"
    assert next_reading({"motor": ["stall-varies"], "winding": []}).topic == "wheels"

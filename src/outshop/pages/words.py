"""Names of measured quantities, verdicts and records, in the reader's language."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

QUANTITIES = {
    "level": gettext_noop("Running level"),
    "background": gettext_noop("Background level"),
    "motor_speed": gettext_noop("Motor speed"),
    "wheel_speed": gettext_noop("Wheel speed"),
    "scale_speed": gettext_noop("Scale speed"),
    "wheel_turn_modulation": gettext_noop("Once per wheel turn"),
    "lap_time": gettext_noop("Lap time"),
    "level_as_recorded": gettext_noop("Level as recorded, room included"),
    "speed_swing": gettext_noop("Speed swing in a wheel turn"),
    "start_time": gettext_noop("From first sound to steady speed"),
    "squeal": gettext_noop("Squeal above its surroundings"),
    "room_change": gettext_noop("Room, change during the recording"),
    "inferred_ratio": gettext_noop("Gear ratio, inferred"),
    "crackle": gettext_noop("Crackle"),
    "speed": gettext_noop("Speed"),
    "speed_ripple": gettext_noop("Swing of the speed"),
    "coasting_mm": gettext_noop("Coasting"),
    "acceleration": gettext_noop("Acceleration"),
    "start_delay": gettext_noop("Start delay"),
    "slowest_steady_speed": gettext_noop("Slowest steady speed"),
    "model_length": gettext_noop("Length over buffers, by the ruler"),
    "resistance": gettext_noop("Resistance"),
    "constant": gettext_noop("Speed constant"),
    "friction_torque": gettext_noop("Friction torque"),
    "no_load_speed": gettext_noop("Speed running light"),
    "light_current": gettext_noop("Current running light"),
    "stall_current": gettext_noop("Current when held"),
    "starting_voltage": gettext_noop("Starts at"),
    "best_efficiency": gettext_noop("Best efficiency"),
    "running_current": gettext_noop("Running current"),
    "starting_peak": gettext_noop("Peak at the start"),
    "stalled_current": gettext_noop("Current while stalled"),
    "slip_current": gettext_noop("Current while slipping"),
    "ripple_frequency": gettext_noop("Commutation ripple"),
    "dip_rate": gettext_noop("Dips in the current"),
    "back_to_back": gettext_noop("Back-to-back"),
    "tyre_width": gettext_noop("Tyre width"),
    "adhesion": gettext_noop("Pull over driven weight"),
    "share_of_mass": gettext_noop("Pull over whole weight"),
    "rolling": gettext_noop("Rolling resistance"),
    "pull_in_voltage": gettext_noop("Reverser throws at"),
    "start_forward": gettext_noop("Starts at, forward"),
    "start_reverse": gettext_noop("Starts at, reverse"),
    "drop_out_forward": gettext_noop("Drops out at, forward"),
    "drop_out_reverse": gettext_noop("Drops out at, reverse"),
    "start_over_drop_out_forward": gettext_noop("Start above drop-out, forward"),
    "start_over_drop_out_reverse": gettext_noop("Start above drop-out, reverse"),
    "creep_forward": gettext_noop("Creep, forward"),
    "creep_reverse": gettext_noop("Creep, reverse"),
    "creep_scale_forward": gettext_noop("Creep at full size, forward"),
    "creep_scale_reverse": gettext_noop("Creep at full size, reverse"),
    "top_forward": gettext_noop("Top speed, forward"),
    "top_reverse": gettext_noop("Top speed, reverse"),
    "top_scale_forward": gettext_noop("Top speed at full size, forward"),
    "top_scale_reverse": gettext_noop("Top speed at full size, reverse"),
    "bow_forward": gettext_noop("Bow of speed over setting, forward"),
    "bow_reverse": gettext_noop("Bow of speed over setting, reverse"),
    "unevenness_forward": gettext_noop("Unevenness of the speed, forward"),
    "unevenness_reverse": gettext_noop("Unevenness of the speed, reverse"),
    "lag_forward": gettext_noop("Faster when lowered, forward"),
    "lag_reverse": gettext_noop("Faster when lowered, reverse"),
    "forward_over_reverse": gettext_noop("Faster forward than in reverse"),
    "slip": gettext_noop("Slip of the driving wheels"),
    "rolling_diameter": gettext_noop("Wheel that would roll"),
    "true_ratio": gettext_noop("True gear ratio"),
    "clocked_speed": gettext_noop("Speed by the clocks"),
    "clocked_scale_speed": gettext_noop("Scale speed by the clocks"),
}
DETAILS = {"order": gettext_noop("Order: %(name)s"), "band": gettext_noop("Band: %(name)s")}
VERDICTS = {
    "better": gettext_noop("better"),
    "worse": gettext_noop("worse"),
    "no_provable_change": gettext_noop("no provable change"),
    "not_comparable": gettext_noop("cannot be compared"),
    "changed": gettext_noop("changed, neither better nor worse"),
    "mixed": gettext_noop("better in parts, worse in others"),
}
RECORD_KINDS = {
    "Piece": gettext_noop("Piece"),
    "Edition": gettext_noop("Edition"),
    "Prototype": gettext_noop("Prototype"),
    "LifeEvent": gettext_noop("Event"),
    "Inspection": gettext_noop("Inspection"),
    "Finding": gettext_noop("Finding"),
    "Photo": gettext_noop("Photo"),
    "Recording": gettext_noop("Recording"),
    "Measurement": gettext_noop("Measurement"),
    "JobCard": gettext_noop("Job card"),
    "JobStep": gettext_noop("Step"),
    "RunIn": gettext_noop("Run-in"),
    "RunInSample": gettext_noop("Run-in reading"),
    "RunningLog": gettext_noop("Running hours"),
    "Release": gettext_noop("Release sheet"),
    "Evidence": gettext_noop("Evidence"),
    "EditionFeature": gettext_noop("Feature"),
    "ResearchNote": gettext_noop("Question"),
    "Lot": gettext_noop("Lot"),
    "LotFile": gettext_noop("Picture of a lot"),
    "Sale": gettext_noop("Sale"),
    "Valuation": gettext_noop("Value"),
    "Trouble": gettext_noop("Trouble"),
    "CauseCounts": gettext_noop("Counts of causes"),
    "Line": gettext_noop("Line"),
    "LineSection": gettext_noop("Section of a line"),
    "ShelfVehicle": gettext_noop("Wagon or coach"),
    "Formation": gettext_noop("Train"),
    "FormationPlace": gettext_noop("Place in a train"),
    "FormationDemand": gettext_noop("Demand on a train"),
    "TrainRecipe": gettext_noop("Kind of train"),
}


def quantity(key: str) -> str:
    """Give the name of a measured quantity; an unknown key is shown as it is, in words.

    ``order: ...`` and ``band: ...`` name one order or band of the sound.
    """
    known = QUANTITIES.get(key)
    if known:
        return _(known)
    kind, colon, name = key.partition(": ")
    if colon and kind in DETAILS:
        return _(DETAILS[kind]) % {"name": name}
    plain = key.replace("_", " ")
    return plain[:1].upper() + plain[1:]


def verdict(key: str) -> str:
    """Give a verdict in words."""
    known = VERDICTS.get(key)
    return _(known) if known else key.replace("_", " ")


def record_kind(key: str) -> str:
    """Give the name of a kind of record."""
    known = RECORD_KINDS.get(key)
    return _(known) if known else key

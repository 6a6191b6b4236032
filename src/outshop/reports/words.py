"""Names of quantities and verdicts as a hobbyist reads them."""

QUANTITIES = {
    "level": "Running level",
    "background": "Background",
    "motor_speed": "Motor speed",
    "wheel_speed": "Wheel speed",
    "scale_speed": "Scale speed",
    "wheel_turn_modulation": "Once per wheel turn",
    "lap_time": "Lap time",
    "speed_ripple": "Speed ripple",
    "coasting_mm": "Coasting",
    "running_current": "Running current",
    "starting_peak": "Starting current",
    "start_voltage": "Starts at",
    "slowest_speed": "Slowest steady speed",
    "start_delay": "Start delay",
    "temperature": "Temperature",
}
VERDICTS = {
    "better": "better",
    "worse": "worse",
    "no_provable_change": "no provable change",
    "not_comparable": "not comparable",
    "changed": "changed, neither better nor worse",
}


def quantity(key: str) -> str:
    """Give the printed name of a quantity; an unknown key is shown in plain words."""
    plain = key.replace("_", " ").strip()
    return QUANTITIES.get(key, plain[:1].upper() + plain[1:])


def verdict(key: str) -> str:
    """Give a verdict in words."""
    return VERDICTS.get(key, key.replace("_", " "))

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
    "start_forward": "Starts at, forward",
    "start_reverse": "Starts at, reverse",
    "drop_out_forward": "Drops out at, forward",
    "drop_out_reverse": "Drops out at, reverse",
    "start_over_drop_out_forward": "Start above drop-out, forward",
    "start_over_drop_out_reverse": "Start above drop-out, reverse",
    "creep_forward": "Creep, forward",
    "creep_reverse": "Creep, reverse",
    "creep_scale_forward": "Creep at full size, forward",
    "creep_scale_reverse": "Creep at full size, reverse",
    "top_forward": "Top speed, forward",
    "top_reverse": "Top speed, reverse",
    "top_scale_forward": "Top speed at full size, forward",
    "top_scale_reverse": "Top speed at full size, reverse",
    "bow_forward": "Bow of speed over setting, forward",
    "bow_reverse": "Bow of speed over setting, reverse",
    "unevenness_forward": "Unevenness of the speed, forward",
    "unevenness_reverse": "Unevenness of the speed, reverse",
    "lag_forward": "Faster when lowered, forward",
    "lag_reverse": "Faster when lowered, reverse",
    "forward_over_reverse": "Faster forward than in reverse",
    "slip": "Slip of the driving wheels",
    "rolling_diameter": "Wheel that would roll",
    "true_ratio": "True gear ratio",
    "clocked_speed": "Speed by the clocks",
    "clocked_scale_speed": "Scale speed by the clocks",
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

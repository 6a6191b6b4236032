"""A recording becomes runs, levels, orders, speeds and laps."""

from outshop.bench.sound.drive import Drive, Stage, drive_from_table, read_drive
from outshop.bench.sound.measure import measure_file, measure_samples
from outshop.bench.sound.result import SoundBench
from outshop.bench.sound.runs import Run

__all__ = [
    "Drive",
    "Run",
    "SoundBench",
    "Stage",
    "drive_from_table",
    "measure_file",
    "measure_samples",
    "read_drive",
]

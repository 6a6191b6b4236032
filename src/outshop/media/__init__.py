"""Open sound, clips and pictures of unknown origin, safely."""

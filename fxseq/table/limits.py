"""Ranges of SPEC section 3, shared by encoder, decoder and compiler."""

MAGIC = b"fxsq"
VERSION = 2
NAMES_MAGIC = b"name"
HEADER_BYTES = 50
CRC_BYTES = 4
SMALLEST_TABLE = HEADER_BYTES + CRC_BYTES
RECORDS_END = 65535

SAMPLE_RATE_HZ = (4000, 48000)
SAMPLES_PER_FRAME = (4, 256)
CHANNELS = (1, 255)
PWM_BITS = (8, 16)
VOICES = (1, 16)
LIGHT_MASKS = (0, 1, 3, 7)
SEED = (1, 0xFFFFFFFF)

SECTIONS = (
    ("inputs", 2, 32),
    ("selectors", 2, 16),
    ("counters", 4, 16),
    ("groups", 4, 64),
    ("segments", 8, 4095),
    ("forms", 4, 255),
    ("loops", 8, 255),
    ("clips", 8, 255),
    ("effects", 2, 255),
    ("steps", 4, 4095),
    ("triggers", 8, 64),
    ("terms", 4, 4095),
    ("choices", 1, 4095),
    ("joints", 4, 255),
)
"""Name, bytes of a record and most records of each section, in their order."""

BYTE = (0, 255)
FRAMES = (0, 65535)
LOCKOUT = (0, 32767)
POSITIONS = (2, 16)
COUNT = (0, 65535)
FLICKER_EVERY = (1, 32767)
FLICKER_PACE = (2, 65535)
LOW_UNIT = 257
"""Levels of one step of the lowest level of a flicker, which has 8 bits."""
CLIP_STEP = (2, 262143)
CLIP_SAMPLES = (1, 2**24 - 1)
SHORTEST_LOOP = 32
LEVEL = (0, 65535)
GAIN = (0, 32767)
UNITY_GAIN = 4096
RELEASE = (1, 65535)
STAGGER = (-32768, 32767)
PERIOD = (256, 2**23 - 1)
FIRST_PERIOD = (1, 2**24 - 1)
MOST_CONDITIONS = 16
MOST_CHOICES = 255
STEPS_IN_A_ROW = 32
STEPS_AT_ONCE = 15
"""Sounds, lights and counts: each may take a step of its own before it, and length and spread come
before them all.
"""
CODED_BITS = (1, 4)
SEGMENTS_IN_A_ROW = 16
FRAMES_OF_A_ROW = 8
"""So many segments that follow each other last so many frames or more together."""

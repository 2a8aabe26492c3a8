"""Basic vectors of clips in IMA ADPCM, QOA and LPC-Rice (SPEC 3.7 R3 to R5, 6.1 R11 to R13), worked
by hand.
"""

from hand_sound import HELD, played, shot
from hand_work import SWITCH, Hand, Record, press, table, u24, u32


def coded(
    coding: int, samples: int, loop_start: int | None = None, loop_at: int = 0
) -> Record:
    """loop_at: bytes of the run before the loop."""
    name = {2: "IMA ADPCM", 3: "QOA", 4: "LPC-Rice"}[coding]
    head = f"00 00 01 {coding:02X} / {u24(samples)} / 00 00 00"
    if loop_start is None:
        return head, f"{name}, step 65536, {samples} samples from place 0"
    return (
        f"{head} / {u32(loop_start)} {u32(loop_at)}",
        f"{name}, step 65536, {samples} samples from place 0, loop from {loop_start}",
    )


def looping(record: Record, *data: Record) -> list[str]:
    return table(
        inputs=[SWITCH],
        clips=[record],
        effects=[("85 00 00 10", "clip 0, looped, release 1")],
        triggers=[("02 00 00 / 00", "while_held, input 0, begin 0")],
        clip_data=data,
    )


def bits(text: str) -> str:
    """Bits, most significant first, in hexadecimal; they fill whole bytes."""
    digits = text.replace(" ", "")
    assert len(digits) % 8 == 0, len(digits)
    return int(digits, 2).to_bytes(len(digits) // 8).hex(" ").upper()


def tap(
    until: int, record: Record, *data: Record
) -> tuple[list[str], int, tuple[str, ...], tuple[str, ...]]:
    """A clip that is played once."""
    return played(record, data=data), until, press(0, 1), shot(0, 0)


IMA_CODES = "10 32 54 76 98 BA DC FE"
IMA_OUT = (0, 0, 1, 4, 8, 15, 27, 47, 88, 82, 66, 41, 10, -28, -84, -181, -380)
QOA_GOLDEN = (
    "00 00 00 00 00 00 00 00 00 00 00 00 E0 00 40 00 40 60 45 DB 58 2A 48 81 4A FB 00 00 00 00"
    " 00 00"
)
QOA_OUT = (
    63, 63, 440, 881, 1536, 2141, 2556, 2610, 2281, 1541, 533, -469, -1564, -2451, -2924, -2938,
    -2447, -1584, -499, 639, 1449, 2026, 1936, 1510,
)  # fmt: skip
LOOPED = ((5, 20), -5, -6, -6, -5, -5, -5, (-6, 6))

VECTORS = [
    Hand(
        "ima-every-code",
        ("6.1 R11", "3.7 R3"),
        "each bit of the code adds its share, the lower half of a byte comes first, the index moves"
        " after its step was used",
        *tap(
            6,
            coded(2, 17),
            ("00 00 00 00", "first sample 0, index 0"),
            (IMA_CODES, "codes 0 1 2 3 .. F"),
        ),
        (
            (
                "c: s, d, index after. 0: 7, 0, 0. 1: 7, 1, 0. 2: 7, 3, 0. 3: 7, 3 + 1 = 4, 0. 4:"
                " 7, 7, 2. 5: 9, 1 + 9 + 2 = 12, 6. 6: 13, 1 + 13 + 6 = 20, 12."
            ),
            (
                "7: 23, 2 + 23 + 11 + 5 = 41, 20. 8: 50, 6, 19. 9: 45, 5 + 11 = 16, 18. A: 41, 5 +"
                " 20 = 25, 17. B: 37, 4 + 18 + 9 = 31, 16. C: 34, 4 + 34 = 38, 18."
            ),
            (
                "D: 41, 5 + 41 + 10 = 56, 22. E: 60, 7 + 60 + 30 = 97, 28. F: 107, 13 + 107 + 53 +"
                " 26 = 199."
            ),
        ),
        (*IMA_OUT, (0, 7)),
    ),
    Hand(
        "ima-ends-of-sample-and-index",
        ("6.1 R11",),
        "the sample is held at both ends of 16 bits, the index at 0 and 88",
        *tap(
            3,
            coded(2, 7),
            ("00 83 55 00", "first sample -32000, index 85"),
            ("7F 77 00", "codes F 7 7 7 0 0"),
        ),
        (
            (
                "Index 85: s = 24623, d = 3077 + 24623 + 12311 + 6155 = 46166: held at -32768;"
                " index 85 + 8, held at 88: s = 32767, d = 4095 + 32767 + 16383 + 8191 = 61436."
            ),
            (
                "-32768 + 61436 = 28668; held at 32767; held at 32767. Code 0: d = 4095, held;"
                " index 87: s = 29794, d = 3724, held."
            ),
        ),
        (-32000, -32768, 28668, (32767, 4), (0, 5)),
    ),
    Hand(
        "ima-last-half-byte",
        ("3.7 R3",),
        "what stands behind the last sample of a run is not looked at",
        *tap(
            2,
            coded(2, 2),
            ("64 00 00 00", "first sample 100, index 0"),
            ("F4", "code 4; F stands for nothing"),
        ),
        ("100, then 100 + 7.",),
        (100, 107, (0, 6)),
    ),
    Hand(
        "ima-next-block",
        ("3.7 R3", "6.1 R11"),
        "the sample behind 505 is the first one of a block of its own",
        *tap(
            128,
            coded(2, 507),
            ("0A 00 00 00", "first sample 10, index 0"),
            (" ".join(["00"] * 252), "code 0, 504 times"),
            ("14 00 08 00", "first sample 20, index 8"),
            ("04", "code 4"),
        ),
        ("Code 0 at index 0: d = 0. Index 8: s = 16, d = 2 + 16 = 18.",),
        ((10, 505), 20, 38, (0, 5)),
    ),
    Hand(
        "ima-loop-is-a-run-of-its-own",
        ("3.7 R3", "6.1 R4", "6.1 R2"),
        "a loop begins with a block, whose state does not depend on how it was reached",
        looping(
            coded(2, 37, 5, 6),
            ("64 00 00 00 00 00", "run of 5: first sample 100, index 0, codes 0 0 0 0"),
            ("C8 00 00 00", "run of 32: first sample 200, index 0"),
            (" ".join(["11"] * 15 + ["07"]), "code 1, 30 times, and code 7"),
        ),
        20,
        ("0 PRESS 0 0",),
        HELD,
        (
            (
                "Code 1 at index 0: d = 1, 30 times: 201 .. 230. Code 7: d = 0 + 7 + 3 + 1 = 11:"
                " 241, and index 8, which is forgotten. 5 samples, 32, 32, and 11 more."
            ),
        ),
        ((100, 5), *range(200, 231), 241, *range(200, 231), 241, *range(200, 211)),
    ),
    Hand(
        "qoa-published-example",
        ("6.1 R12", "3.7 R3"),
        "most significant bits first; 4 bits of scale, 3 bits a sample; weights move by the"
        " residual of before",
        *tap(
            7,
            coded(3, 24),
            (QOA_GOLDEN, "h 0 0 0 0, w 0 0 -8192 16384; slices of 20 and 4 samples"),
        ),
        (
            (
                "Bytes and samples: qoa.h (the format's reference, commit 769a116f) for 24 samples"
                " of a wave. The first of them worked:"
            ),
            (
                "40 60 45: f = 4: F = 84, q = 0 1 4 0 2. d = (84 * 3 + 2) >> 2 = 63. Sum 0: 63. e ="
                " 3, no h is below 0: w 3 3 -8189 16387."
            ),
            (
                "d = -63. 63 * 16387 = 1032381, >> 13: 126: 63. e = -63 >> 4 = -4: w -1 -1 -8193"
                " 16383. d = (84 * 18 + 2) >> 2 = 378."
            ),
            (
                "63 * -8193 + 63 * 16383 = 515970, >> 13: 62: 440. e = 23: w 22 22 -8170 16406. d ="
                " 63. 63 * 22 + 63 * -8170 + 440 * 16406 = 6705316, >> 13: 818: 881."
            ),
        ),
        (*QOA_OUT, (0, 4)),
    ),
    Hand(
        "qoa-wraps",
        ("6.1 R12",),
        "the sum wraps to 32 bits and each weight to 16, as two's complement; the sample is held",
        *tap(
            2,
            coded(3, 3),
            (" ".join(["80 00"] * 8), "h and w: -32768, four times each"),
            ("FC 40 00 00 00 00 00 00", "f 15, q 6 1 0"),
        ),
        (
            (
                "d = (2048 * 28 + 2) >> 2 = 14336. The sum is 4 * 2^30 = 2^32, which is 0: 14336. e"
                " = 896, all h below 0: -32768 - 896 = -33664, which is 31872, four times."
            ),
            (
                "d = -1536. 31872 * (3 * -32768 + 14336) = -2676228096, which is 1618739200, >> 13:"
                " 197600: held at 32767. e = -96: w 31968 31968 31968 31776."
            ),
            (
                "d = 1536. 31968 * (-32768 - 32768 + 14336) + 31776 * 32767 = -595557408, >> 13:"
                " -72700: held at -32768."
            ),
        ),
        (14336, 32767, -32768, (0, 5)),
    ),
    Hand(
        "qoa-next-block",
        ("3.7 R3", "6.1 R12"),
        "the sample behind 5120 begins a block with a state and a slice of its own",
        *tap(
            1281,
            coded(3, 5121),
            (" ".join(["00"] * 16), "h and w: 0"),
            (" ".join(["00"] * 2048), "256 slices of f 0, q 0"),
            ("00 00 00 00 00 00 00 64 00 00 00 00 00 00 20 00", "h 0 0 0 100, w 0 0 0 8192"),
            ("20 00 00 00 00 00 00 00", "f 2, q 0"),
        ),
        (
            (
                "d = (1 * 3 + 2) >> 2 = 1, e = 0, so w stays 0: 1. Then d = (21 * 3 + 2) >> 2 = 16,"
                " and 100 * 8192 >> 13 = 100: 116."
            ),
        ),
        ((1, 5120), 116, (0, 3)),
    ),
    Hand(
        "qoa-loop-is-a-run-of-its-own",
        ("3.7 R3", "6.1 R4", "6.1 R2"),
        "a loop begins with a block, whose state does not depend on how it was reached; bits behind"
        " a run's last sample are not looked at",
        looping(
            coded(3, 37, 5, 24),
            (" ".join(["00"] * 16), "run of 5: h and w: 0"),
            ("00 00 1F FF FF FF FF FF", "f 0, q 0, 5 times, then what stands for nothing"),
            (" ".join(["00"] * 16), "run of 32: h and w: 0"),
            ("10 00 00 00 00 00 00 00", "f 1, q 0, 20 times"),
            ("12 49 24 92 49 2F FF FF", "f 1, q 1, 12 times, then what stands for nothing"),
        ),
        20,
        ("0 PRESS 0 0",),
        HELD,
        (
            (
                "d = 1, e = 0. In the loop d = (7 * 3 + 2) >> 2 = 5, e = 0, so w stays 0; then d ="
                " -5, e = -1: 0 - 5, and each w is 1 less where h was not below 0, else 1 more."
            ),
            (
                "The sums then: -10, -10, 0, 22, 4, -18, -45, -70, -95, -120, -144, >> 13: -1 -1 0"
                " 0 0 -1 -1 -1 -1 -1 -1."
            ),
        ),
        ((1, 5), *LOOPED, *LOOPED, (5, 11)),
    ),
    Hand(
        "rice-codes",
        ("6.1 R13", "3.7 R5"),
        "the order follows the mean; 20 zeros lead 16 bits; an odd number is above the prediction",
        *tap(
            2,
            coded(4, 5),
            ("0A 00 00", "10 bytes"),
            (
                bits(
                    "0000 1 001000 1 00 000100000000 000001 001 1 00000000000000000000"
                    " 0000000000101001 01 10 1111"
                ),
                "a 0; s 8; one coefficient, 256; u 5 2 0 41 6, then what stands for nothing",
            ),
        ),
        (
            (
                "m = 8, step (16 * 4 + 8) >> 4 = 4. k = 88 >> 7 = 0: u = 5, q = 3: 0 + 12. m = 8 +"
                " 3 - 1 = 10, k 0: u = 2, q = 1: (128 + 256 * 12) >> 8 = 12, - 4: 8. m = 10."
            ),
            (
                "u = 0: 8. m = 9. 20 zeros: u = 41, q = 21: 8 + 84 = 92. m = 9 + 21 - 1 = 29: 319"
                " >> 7 = 2, k = 2: one zero, 10: u = 1 * 4 + 2 = 6, q = 3: 92 - 12 = 80."
            ),
        ),
        (12, 8, 8, 92, 80, (0, 3)),
    ),
    Hand(
        "rice-looks-back",
        ("6.1 R13",),
        "the first coefficient is that of the latest sample; both are two's complement",
        *tap(
            2,
            coded(4, 5),
            ("06 00 00", "6 bytes"),
            (
                bits("0000 1 010111 1 01 001000000000 111100000000 01 01 1 1 001 1"),
                "a 0; s 23; two coefficients, 512 and -256; u 1 1 0 0 2, then a bit for nothing",
            ),
        ),
        (
            (
                "Step (27 * 32 + 8) >> 4 = 54, m = 8, k = 0 throughout. 0 + 54. (128 + 512 * 54)"
                " >> 8 = 108, + 54: 162. (128 + 512 * 162 - 256 * 54) >> 8 = 270."
            ),
            (
                "(128 + 512 * 270 - 256 * 162) >> 8 = 378. (128 + 512 * 378 - 256 * 270) >> 8 ="
                " 486, - 54: 432."
            ),
        ),
        (54, 162, 270, 378, 432, (0, 3)),
    ),
    Hand(
        "rice-ends-of-a-sample",
        ("6.1 R13",),
        "the sample is held at both ends of 16 bits, at the largest step",
        *tap(
            2,
            coded(4, 2),
            ("03 00 00", "3 bytes"),
            (bits("0000 1 111111 0 01 001 1111111"), "a 0; s 63; u 1 2; 7 bits for nothing"),
        ),
        ("Step (27 * 32768 + 8) >> 4 = 55296: 55296 is held, and so is -55296.",),
        (32767, -32768, (0, 6)),
    ),
    Hand(
        "rice-zeros-behind-a-run",
        ("3.7 R5", "6.1 R13", "3.7 R3", "6.1 R2"),
        "a run ends where its length says; behind it are zeros, not the run of the loop",
        looping(
            coded(4, 37, 5, 4),
            ("01 00 00", "run of 5: 1 byte"),
            (bits("0000 0 0 01"), "a 0; no step, no coefficients; u 1"),
            ("03 00 00", "run of 32: 3 bytes"),
            (
                bits("0000 0 1 00 000100000000 01 11"),
                "a 0; no step; one coefficient, 256; u 1 0 0",
            ),
        ),
        20,
        ("0 PRESS 0 0",),
        HELD,
        (
            (
                "The step is 1: 1. Then 20 zeros and 16 more, four times: u = 0, without"
                " coefficients 0. In the loop 1, and u = 0 for each of the others: (128 + 256) >> 8"
                " = 1."
            ),
        ),
        (1, (0, 4), (1, 75)),
    ),
    Hand(
        "rice-next-block",
        ("3.7 R3", "6.1 R13"),
        "a part keeps the step and the coefficients of the one before; a block begins with a byte"
        " and without them",
        *tap(
            1025,
            coded(4, 4098),
            ("0E 02 00", "526 bytes"),
            (
                bits(
                    "0000 1 001000 1 00 000100000000 01"
                    + 127 * "1"
                    + "0 0 01"
                    + 127 * "1"
                    + 30 * ("0 0" + 128 * "1")
                    + "111111 0000 0 0 01 1 1111111"
                ),
                "a 0; s 8, one coefficient, 256, u 1, 127 times 0; a part with u 1 and 127 times 0;"
                " 30 parts of 0; a block of u 1 0",
            ),
        ),
        (
            (
                "Step 4: 128 times 4; then 4 + 4 = 8. In the next block the step is 1 and no"
                " coefficient is there: 1, 0. k is 0 throughout, since m is 8 at most."
            ),
        ),
        ((4, 128), (8, 3968), 1, 0, (0, 2)),
    ),
]

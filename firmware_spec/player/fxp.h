/* fxp: plays fxseq tables (SPEC.md, version 2) on anything that has 32-bit integers.
 *
 * This header is the manual. The rule numbers are those of SPEC.md.
 *
 *     static struct fxp player;                       the state: yours, no pointer in it leads to memory of fxp's
 *     uint32_t at;
 *     if (fxp_open(&player, table, length, &at) != FXP_OK) { ... refused, `at` is the byte ... }
 *     player.trace = my_trace;                        optional, after every fxp_open
 *     for (;;) {                                      once every player.samples_per_frame samples:
 *         fxp_select(&player, 0, position);               whatever has changed since the last frame
 *         fxp_frame(&player, closed, struck, samples, duties);
 *     }
 *
 * No heap, recursion, floating point, input or output, and no variables but those you pass. Several players do not know of each other.
 * All calls for one player come from one thread or one interrupt level; fxp_crc, fxp_table_crc and fxp_check touch no player and may be
 * interrupted by all of them. Freestanding C99; a compiler may ask for memcpy and memset.
 */
#ifndef FXP_H
#define FXP_H

#include <stdbool.h>
#include <stdint.h>

#include "fxp_config.h"
#include "fxp_crc.h"

/* Where the table is: by default in memory that a pointer reaches, at any alignment; with FXP_TABLE_ALIGNED at even addresses, on chips that
 * read halves there, least significant byte first. A chip whose table is elsewhere defines FXP_TABLE_BYTE, FXP_TABLE_HALF and the type
 * fxp_table first (fxp_avr.h shows how; gcc and clang: -include fxp_avr.h). Offsets have 32 bits, those of halves are even. The table should stay
 * as it is for as long as it plays; if it does not, what is played is anything, and nothing else happens (SPEC 1 R1). */
#ifndef FXP_TABLE_BYTE
typedef const uint8_t *fxp_table;
#define FXP_TABLE_BYTE(table, offset) ((table)[offset])
#ifdef FXP_TABLE_ALIGNED
#define FXP_TABLE_HALF(table, offset) fxp_aligned_half((table) + (offset))
static inline uint16_t fxp_aligned_half(fxp_table at)
{
    uint16_t half;
    __builtin_memcpy(&half, __builtin_assume_aligned(at, 2), 2);
    return half;
}
#else
#define FXP_TABLE_HALF(table, offset) ((uint16_t)((table)[offset] | (uint16_t)((table)[(offset) + 1] << 8)))
#endif
#endif

/* What fxp_open, fxp_check and fxp_select return. The names from BAD_MAGIC to BAD_VALUE are reasons of SPEC 4. */
enum fxp_status {
    FXP_OK = 0,
    FXP_BAD_MAGIC = -1,   /* 3 R1.2 */
    FXP_BAD_VERSION = -2, /* 3 R1.3 */
    FXP_BAD_LENGTH = -3,  /* 3 R1.1, 4, 7 */
    FXP_BAD_CRC = -4,     /* 3 R1.5 */
    FXP_BAD_VALUE = -5,   /* 3 R1.6 */
    FXP_TOO_MANY = -6,    /* beyond a limit of this build (fxp_config.h); the offset is that of the field in the header, or of the form */
    FXP_NO_SUCH = -7      /* fxp_select, fxp_volume, fxp_held: no such selector, position, volume (5.1 R4) or input that is up (5.2) */
};

/* Kinds of trace events (SPEC 7). */
enum fxp_kind {
    FXP_PRESS = 1, FXP_RELEASE, FXP_SELECT, FXP_VOLUME, FXP_START, FXP_STOP, FXP_SHOT, FXP_EMPTY, FXP_EFFECT, FXP_SOUND, FXP_CUT,
    FXP_RELEASED, FXP_FADE, FXP_COUNT, FXP_REFUSED
};

/* Called for each trace event, in the order of SPEC 7, from within the call that plays it. It must not call fxp. */
typedef void fxp_trace(void *context, uint32_t frame, uint8_t kind, uint8_t index, uint16_t value);

/* In the order in which they stand (SPEC 3). */
enum fxp_section {
    FXP_INPUTS, FXP_SELECTORS, FXP_COUNTERS, FXP_GROUPS, FXP_SEGMENTS, FXP_FORMS, FXP_LOOPS, FXP_CLIPS, FXP_EFFECTS, FXP_STEPS, FXP_TRIGGERS,
    FXP_TERMS, FXP_CHOICES, FXP_PLAYED, FXP_JOINTS = FXP_PLAYED, FXP_SECTIONS
};
enum { FXP_TABLE_VERSION = 2 }; /* 3.1 */
enum { FXP_PLACES = 12 }; /* 5.5 R3 */

/* The parts of the state. They are fxp's own: do not write them, and expect them to change from version to version. */
struct fxp_voice { /* 6.1 */
    uint8_t flags, clip, owner;
    uint8_t age;      /* 0 is the voice whose sound began first; the ages of all voices are 0..voices - 1 */
    uint8_t coding;
    uint8_t index;    /* IMA ADPCM (6.1 R11); LPC-Rice: bits of the byte at `next` that have been read */
    uint8_t done;     /* samples of the byte or slice at `next`, or of the part under way, that have been read */
    int16_t a, b;     /* two samples of the clip, one behind the other; at first none */
    uint16_t gain;    /* in 1/4096, 0..32767 */
    uint16_t release; /* frames */
    uint16_t block;   /* samples to come of the block under way (3.7 R3) */
    uint32_t factor;  /* once let go, and what it loses a sample (6.1 R5) */
    uint32_t loss;
    uint32_t next;    /* offset in the table of what is read next */
    uint32_t left;    /* samples behind b of the run under way (3.7 R3) */
    uint32_t step;    /* clip samples per sample, in 1/65536; below 5 * 65536 */
    uint32_t part;    /* how far the next sample is behind sample a, in 1/65536; below 6 * 65536 */
    int32_t added;    /* what its last sample was worth, within 2^18 */
#if FXP_RICE
    uint16_t quantum; /* LPC-Rice (6.1 R13): the step; m; offset behind the run */
    uint32_t mean, end;
#endif
#if FXP_QOA || FXP_RICE
    int16_t history[4], weights[4]; /* QOA (6.1 R12); LPC-Rice: h and c, h the latest last (6.1 R13) */
#endif
};

struct fxp_layer { /* 6.2 */
    uint16_t segment; /* 1 and the index of the segment under way; 0: none, the layer stays at `from` */
    uint16_t ends;    /* frame in which it is over, modulo 2^16 */
    uint16_t from;    /* level from which it began, or of the layer */
};

struct fxp_place { /* 5.5 R3 */
    uint16_t due; /* frame of what is due next, modulo 2^16 */
    uint8_t flags, effect, owner;
    uint8_t channel; /* fade: the next one */
    uint16_t next;   /* step; of a fade: its segment */
    uint16_t pitch;  /* 5.5 R2; of a fade: frames from channel to channel */
    uint16_t gain;   /* 5.5 R2; of a fade: channels to come */
};

struct fxp_shooter { /* 5.4, one a trigger */
    uint32_t due;   /* time of the next shot, or of `next` (5.4 R8), in 1/256 frame, modulo 2^32 */
    uint16_t shots; /* since the last start */
    uint8_t last;   /* place of the last effect used; 255: none */
    uint8_t flags;
};

/* Small fields first: chips reach what stands near the begin of a structure with shorter instructions. */
struct fxp {
    /* Yours to read. */
    uint8_t channels;            /* 1..FXP_MAX_CHANNELS */
    uint8_t pwm_bits;            /* 8..16 */
    uint8_t voices;              /* 1..FXP_MAX_VOICES */
    /* fxp's own */
    uint8_t voice_rule;          /* 3.1 */
    uint8_t light_mask;
    bool changed;                /* an input or a selector has changed since the triggers were last gone through */
    /* Yours to read. */
    uint16_t samples_per_frame;  /* 4..256 */
    uint16_t sample_rate_hz;     /* 4000..48000 */
    uint16_t count[FXP_PLAYED];   /* records of each section but the joints */
    /* fxp's own */
    uint16_t first[FXP_PLAYED];   /* offset of each section */
    uint16_t volume, wanted;     /* 0..256 */
    uint32_t clip_data, clip_end; /* offsets */
    int32_t tail;                /* 6.1 R8 */
    /* Yours to read; saturated is also yours to clear. */
    uint32_t frame;              /* the next frame to be played, from 0, modulo 2^32 (5.1) */
    uint32_t saturated;          /* samples that had to be held, modulo 2^32 (6.1 R10) */
    /* Yours to set after fxp_open, which clears them. 0: no trace. */
    fxp_trace *trace;
    void *trace_context;
    /* fxp's own from here on. */
    fxp_table table;
    uint32_t seed, dice;         /* 3.1, 5.6 */
    uint32_t wake;               /* frame in which time alone may move a trigger */
    uint32_t down;               /* state of each input: bit i set, input i is down (5.2) */
    uint8_t positions[FXP_MAX_SELECTORS];
    uint16_t counters[FXP_MAX_COUNTERS];
    struct fxp_place places[FXP_PLACES];
    uint32_t free_from[FXP_MAX_INPUTS], went_down[FXP_MAX_INPUTS]; /* frames, 5.2 R2 and 5.3 R1 */
    struct fxp_shooter shooters[FXP_MAX_TRIGGERS];
    uint8_t channel_flags[FXP_MAX_CHANNELS];
    struct fxp_voice voice[FXP_MAX_VOICES];
    struct fxp_layer layers[FXP_MAX_CHANNELS][2]; /* ambient, effect */
};

/* Checks a table of `length` bytes (SPEC 3 R1) and gets ready for frame 0 (power-up): FXP_OK, or the first fault, with its offset in *offset; then the
 * player is as it was. Reads nothing outside the table, whatever its bytes are. Its time is mostly that of the CRC, some 40 cycles a byte on a
 * Cortex-M0. */
enum fxp_status fxp_open(struct fxp *player, fxp_table table, uint32_t length, uint32_t *offset);

/* The same in parts, for a board that has to play meanwhile: first the CRC of the table's bytes but the last four, some at a time, which begins with
 * FXP_CRC_START and goes from 0 to length - 4; then fxp_open_summed with the last result, which takes no longer than a frame. fxp_check is that
 * without a player: only whether the table may be played. */
uint32_t fxp_table_crc(uint32_t crc, fxp_table table, uint32_t from, uint32_t until);
enum fxp_status fxp_check(fxp_table table, uint32_t length, uint32_t crc, uint32_t *offset);
enum fxp_status fxp_open_summed(struct fxp *player, fxp_table table, uint32_t length, uint32_t crc, uint32_t *offset);

/* Offset of the joints of a table that may be played (SPEC 3.10), which the player does not look at, and how many there are. */
uint32_t fxp_joints(fxp_table table, uint8_t *count);

/* Whether fxp_select would take a position, for a port that has to say so before the frame comes. */
bool fxp_has(const struct fxp *player, uint8_t selector, uint16_t position);

/* Before the frame in which they count, in the order of their arrival: a selector's position (0..its positions - 1) and the wanted volume
 * (0..256). FXP_OK or FXP_NO_SUCH, which changes nothing. (5.1 R4) */
enum fxp_status fxp_select(struct fxp *player, uint8_t selector, uint8_t position);
enum fxp_status fxp_volume(struct fxp *player, uint16_t wanted);

/* Not for boards, whose change of tables is a power-up: behind those two, before the same frame, and the inputs in their order. An input that is up
 * has been down for so many frames, 1..65535, under a hand that held it while another table played (SPEC 5.2, Under a hand). FXP_OK or FXP_NO_SUCH. */
enum fxp_status fxp_held(struct fxp *player, uint8_t input, uint16_t frames);

/* Plays one frame. Bit i of `closed`: contact i at the end of this frame's readings; of `struck`: whether any of them found it closed (5.2 R1). Bits
 * beyond the table's inputs do not matter.
 * samples: samples_per_frame of them are written. duties: one a channel, 0..2^pwm_bits - 1; pass the same array every time, since only those
 * that may have changed are written (in frame 0: all). Both are yours. */
void fxp_frame(struct fxp *player, uint32_t closed, uint32_t struck, int16_t *samples, uint16_t *duties);

/* The same in its three parts, each once a frame and in this order: what may start, the light, the sound, which ends the frame. */
void fxp_play_triggers(struct fxp *player, uint32_t closed, uint32_t struck);
void fxp_play_light(struct fxp *player, uint16_t *duties);
void fxp_play_sound(struct fxp *player, int16_t *samples);

/* For how many frames from now on nothing will change as long as contacts stay as `closed` says, and selectors and volume as they are: samples are 0,
 * duties stay, nothing is traced. A board may sleep for so long and then say how many it has left out, at most so many. 0 while anything sounds or moves. */
uint32_t fxp_still(const struct fxp *player, uint32_t closed);
void fxp_pass(struct fxp *player, uint32_t frames);

#endif

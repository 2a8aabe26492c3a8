/* What the files of the player share. Not for users of fxp.h. */
#ifndef FXP_PARTS_H
#define FXP_PARTS_H

#include "fxp.h"

/* Constants; fxp_avr.h keeps them out of the data memory. */
#ifndef FXP_ROM
#define FXP_ROM
#define FXP_ROM_BYTE(address) (*(address))
#define FXP_ROM_WORD(address) (*(address))
#endif

enum { FXP_NONE = 255 }; /* an index that names nothing: counters are below 16, effects and triggers below 255 */
enum { FXP_PCM, FXP_MULAW, FXP_IMA, FXP_QOA, FXP_RICE };
enum { FXP_STEP, FXP_STRAIGHT, FXP_EASE, FXP_DECAY, FXP_FLICKER };
enum { FXP_ONCE, FXP_REPEAT, FXP_WHILE_HELD, FXP_ON_OFF, FXP_ALWAYS };
enum { FXP_PLAY_STEP, FXP_FADE_STEP, FXP_COUNT_STEP };
enum { FXP_OLDEST, FXP_QUIETEST, FXP_SAME_CLIP };
enum { FXP_AMBIENT_LAYER, FXP_EFFECT_LAYER };

/* fxp_table.c: a window on the records, which end below 65536 (3 R1.6). The first fault is kept; from then on the window is empty and every
 * read gives the lowest value of its range, so that a reader ends by itself. In a table that has been accepted there is none. */
struct fxp_reader {
    const struct fxp *player; /* table, count, first, positions, clip_data */
    uint16_t at, end;
    uint16_t fault_at;
    int8_t fault;  /* enum fxp_status */
    uint8_t flags; /* the head or flags byte read last */
};

void fxp_refuse(struct fxp_reader *reader, enum fxp_status fault, uint16_t at);
uint8_t fxp_byte(struct fxp_reader *reader, uint8_t low, uint8_t high);
uint8_t fxp_flags(struct fxp_reader *reader, uint8_t high);
uint32_t fxp_number(struct fxp_reader *reader, uint32_t low, uint32_t high);
uint8_t fxp_index(struct fxp_reader *reader, uint8_t section);

/* Offset of record `index`, which must exist and have been checked, with its size before it; a window on the body of such a record, which
 * begins at an offset; and both at once. */
uint16_t fxp_find(const struct fxp *player, uint8_t section, uint8_t index);
void fxp_body(struct fxp_reader *reader, const struct fxp *player, uint16_t record);
void fxp_record(struct fxp_reader *reader, const struct fxp *player, uint8_t section, uint8_t index);

/* The positions of a selector or the maximum of a counter that exists: what its record begins with (a byte below 128 is a number too). */
uint16_t fxp_leads(const struct fxp *player, uint8_t section, uint8_t index);

/* The records' fields in the order of section 3, read and checked one by one. What does not follow is 0, an index FXP_NONE. */
enum { FXP_RATE, FXP_FRAME, FXP_CHANNELS, FXP_BITS, FXP_VOICES, FXP_RULE, FXP_RAMP, FXP_BOARD_FIELDS };
enum { FXP_CLIP_STEP, FXP_CLIP_SAMPLES, FXP_CLIP_PLACE, FXP_CLIP_LOOP, FXP_CLIP_FIELDS }; /* 3.7 */
enum { FXP_LENGTH, FXP_PITCH_SPREAD, FXP_GAIN_SPREAD, FXP_EFFECT_FIELDS };                /* 3.8 */
enum { FXP_PLAY_CLIP, FXP_PLAY_GAIN, FXP_PLAY_RELEASE };                                  /* of a step */
enum { FXP_FADE_GROUP, FXP_FADE_FADE, FXP_FADE_STAGGER };                                 /* stagger: still as in 2.3 */
enum { FXP_COUNT_COUNTER, FXP_COUNT_CHANGE };                                             /* likewise */
enum { FXP_NEEDS, FXP_EMPTY_EFFECT, FXP_BEGIN, FXP_DURING, FXP_END };                     /* 3.9: of the modes that stay on */
enum { FXP_PERIOD = 2, FXP_FIRST, FXP_BURST, FXP_LIMIT, FXP_RAMP_SHOTS, FXP_RAMP_PERIOD, FXP_ACTION_FIELDS }; /* of repeat */

struct fxp_group { uint8_t first, channels, latest, gauge; };
struct fxp_segment { uint16_t length, target, low, every; uint8_t shape; bool to_ambient; }; /* frames, levels */
struct fxp_step { uint8_t kind, head; uint32_t wait, field[3]; };                            /* wait: frames, 0 for none */
struct fxp_gate { uint8_t mode, head, input; bool allowed; uint16_t hold; };                 /* allowed: by every condition at present */

void fxp_read_board(struct fxp_reader *reader, uint32_t *fields);
void fxp_read_input(struct fxp_reader *reader, uint32_t *fields);
void fxp_read_group(struct fxp_reader *reader, uint8_t free, struct fxp_group *group); /* first must be `free` or above */
void fxp_group_at(const struct fxp *player, uint8_t index, struct fxp_group *group);   /* of a record that has been checked */
uint16_t fxp_read_curve(struct fxp_reader *reader);                                    /* start level; flags: bits 0 loop, 1 start follows */
void fxp_read_segment(struct fxp_reader *reader, struct fxp_segment *segment);
#define FXP_CHECKED UINT32_C(0xFFFFFFFF) /* instead of the bytes of clip data, once R1 and R4 have been checked */
void fxp_read_clip(struct fxp_reader *reader, uint32_t clip_bytes, uint32_t *fields);  /* flags: bits 0..3 coding, 4 loop; no loop: 0 */
void fxp_read_effect(struct fxp_reader *reader, uint32_t *fields);                     /* flags: bit 0 ambient */
void fxp_read_step(struct fxp_reader *reader, bool ambient, uint16_t before, struct fxp_step *step); /* before: `at` of the one before */
void fxp_read_gate(struct fxp_reader *reader, struct fxp_gate *gate);
void fxp_read_action(struct fxp_reader *reader, const struct fxp_gate *gate, uint32_t *fields); /* leaves the effects of once and repeat */

/* 2.3: |value| of what fxp_number read for a signed; it is negative where n is odd. */
static inline uint16_t fxp_size(uint32_t n)
{
    return (uint16_t)((n >> 1) + (n & 1)); /* n is at most 131070 */
}

/* fxp_open.c: checks board and sections into `player`. */
void fxp_check(struct fxp *player, struct fxp_reader *reader);

/* fxp_play.c */
void fxp_note(const struct fxp *player, enum fxp_kind kind, uint8_t index, uint16_t value);
uint32_t fxp_divide(uint32_t dividend, uint32_t by);

/* fxp_light.c. Segments looked at in this frame: channels that are treated alike are mostly at the same place of the same segment. What a look
 * holds follows from the table and the frame, so it may be thrown away at will, and is made anew by fxp_look_anew. */
struct fxp_look {
    uint16_t segment; /* its offset; 0: nothing */
    uint16_t began;   /* for a layer whose segment began in this frame, modulo 2^16: */
    uint16_t t;       /*   frames since, 0..length */
    uint16_t way;     /*   6.3: w, 0..32768 (at t = length too); flicker: r / every in 1/32768, within 1/32768 below */
    uint16_t rest;    /*   flicker: r */
    uint16_t behind;  /* offset of what follows the segment */
    uint16_t next;    /* once a layer has come to its end: offset of the next segment, 0 at the end of the curve */
    bool ended;       /* next is known */
    uint32_t hashed;  /*   flicker, 6.4 R2: F + seed, of point k */
    struct fxp_segment is;
    uint32_t inverse; /* 2^31 / length or, of flicker, 2^31 / every; below 2^32 */
};
enum { FXP_LOOKS = 4 };
struct fxp_light {
    struct fxp *player;
    struct fxp_layer *layers; /* of a channel */
    uint8_t *flags;
    uint8_t channel;
    uint16_t ambient, effect; /* levels of its layers, once they have been brought up */
    struct fxp_look *oldest;
    struct fxp_look looks[FXP_LOOKS];
};

void fxp_look_anew(struct fxp_light *light, struct fxp *player);

/* A curve that is to start, past the segments of length 0 that it may begin with. */
struct fxp_curve {
    uint16_t segment; /* offset of the first one with a length; 0: there is none */
    uint16_t level;   /* from which it starts, if `from` is FXP_FROM_LEVEL */
    uint8_t from, layer;
    bool stays; /* if segment is 0: whether an effect layer stays live (6.2 R3) */
};
enum { FXP_FROM_LEVEL, FXP_FROM_PRESENT, FXP_FROM_AMBIENT };

void fxp_light_open(struct fxp *player);
void fxp_light_curve(const struct fxp *player, uint16_t record, uint8_t layer, struct fxp_curve *curve);
void fxp_light_start(struct fxp_light *light, uint8_t channel, const struct fxp_curve *curve);
void fxp_light_gauges(struct fxp *player, uint8_t counter); /* FXP_NONE: of all counters */
void fxp_light_frame(struct fxp *player, uint16_t *duties);

/* fxp_sound.c. owner: the trigger that holds the sound, or FXP_NONE. pitch in 1/4096, gain in 1/256 (5.5 R1). */
void fxp_sound_open(struct fxp *player);
void fxp_sound_start(struct fxp *player, const struct fxp_step *step, const struct fxp_place *effect);
void fxp_sound_let_go(struct fxp *player, uint8_t owner);
void fxp_sound_frame(struct fxp *player, int16_t *samples);

/* R of 6.1 R5, below 2^24. */
static inline uint32_t fxp_release(const struct fxp *player, const struct fxp_voice *voice)
{
    uint32_t samples = (uint32_t)voice->release * player->samples_per_frame;
    return samples != 0 ? samples : 1;
}

/* fxp_mix.c: the next `count` samples, at most FXP_BLOCK. Its memory comes from the caller, since some chips reach only a small frame well. */
enum { FXP_IN_FRONT = 2, FXP_AHEAD = 5 * FXP_BLOCK }; /* samples of a clip, at a step below 5 and a part below 6 */
struct fxp_block {
    int32_t sums[FXP_BLOCK];
    int32_t values[FXP_BLOCK]; /* of a voice that has been let go, before its factor and its gain */
    int16_t samples[FXP_IN_FRONT + 2 + FXP_AHEAD]; /* in front, a decoder lays what it looks back on; then a, b and those behind them */
};
void fxp_mix(struct fxp *player, struct fxp_block *block, int16_t *samples, uint_fast8_t count);

/* Flags of a voice; 0: it is free. LEAD: in the run before the loop. LAST: b is the 0 behind the clip's last sample. FRESH: the block under way
 * has not been begun, `next` is where it is. */
enum {
    FXP_VOICE_SOUNDS = 1, FXP_VOICE_LOOPED = 2, FXP_VOICE_LET_GO = 4, FXP_VOICE_LEAD = 8, FXP_VOICE_LAST = 16, FXP_VOICE_FRESH = 32
};

/* fxp_coding.c. Bytes of a run that begins at an offset (3.7 R3, R5). The next samples of a voice up to `end`, within one block; the one before them, if the block is not
 * fresh, stands at samples[-1], and there is memory from samples[-4] on. */
enum { FXP_IMA_BLOCK = 505, FXP_QOA_BLOCK = 5120, FXP_QOA_SLICE = 20, FXP_RICE_BLOCK = 4096, FXP_RICE_PART = 128 };
uint32_t fxp_run_bytes(fxp_table table, uint32_t at, uint8_t coding, uint32_t samples);
void fxp_decode(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end);

/* fxp_clip.c. Samples up to `end` from the bytes at an offset. */
void fxp_clip_mulaw(fxp_table table, uint32_t at, int16_t *samples, const int16_t *end);
void fxp_clip_pcm(fxp_table table, uint32_t at, int16_t *samples, const int16_t *end);

/* 6.1 R4: adds the samples of a voice, from the samples of its clip at and behind a, times gain / 4096, at least one; returns what it added last. */
int32_t fxp_clip_add(struct fxp_voice *voice, const int16_t *samples, uint16_t gain, int32_t *sums, uint_fast8_t count);

/* 6.1 R10: the samples from their sums, at least one; how many had to be held. */
uint_fast8_t fxp_clip_hold(const int32_t *sums, int16_t *samples, uint16_t volume, uint_fast8_t count);

/* fxp_effect.c. Returns the effect's length in frames, 0 for none. */
uint16_t fxp_effect_start(struct fxp *player, uint8_t effect, uint8_t trigger, bool held);
void fxp_effect_forget(struct fxp *player, uint8_t owner);
void fxp_effect_frame(struct fxp *player);
uint16_t fxp_draw(struct fxp *player);

/* fxp_trigger.c */
void fxp_trigger_frame(struct fxp *player);

/* 5.2, Under a hand: an input that is up has been down for so many frames; a gate that was reached before this one is not fresh in it. */
void fxp_trigger_held(struct fxp *player, uint8_t input, uint16_t frames);

/* What C99 leaves to the compiler, and gcc and clang promise: a right shift keeps the sign, and a smaller type takes the lower bits as two's
 * complement. With another compiler the build stops here. */
typedef char fxp_shift_keeps_the_sign[-1 >> 1 == -1 ? 1 : -1];
typedef char fxp_word_takes_the_lower_bits[(int16_t)UINT16_C(0x8000) == -32768 ? 1 : -1];

/* value / 2^bits, toward zero. Written out: compilers for small chips divide where `/` stands, even by a power of two. */
static inline int32_t fxp_scale(int32_t value, uint8_t bits)
{
#ifdef FXP_SMALL
    return value < 0 ? -(int32_t)((uint32_t)-value >> bits) : (int32_t)((uint32_t)value >> bits);
#else
    return (value + (int32_t)((uint32_t)(value >> 31) >> (32 - bits))) >> bits; /* no branch: a negative value goes up by 2^bits - 1 first */
#endif
}

/* Whether a frame has come, by the difference (5.1 R3). */
static inline bool fxp_reached(uint32_t now, uint32_t when)
{
    return now - when < UINT32_C(0x80000000);
}

#endif

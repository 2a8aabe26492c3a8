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

/* What C99 leaves to the compiler, and gcc and clang promise: a right shift keeps the sign, and a smaller type takes the lower bits as two's
 * complement. With another compiler the build stops here. */
typedef char fxp_shift_keeps_the_sign[-1 >> 1 == -1 ? 1 : -1];
typedef char fxp_word_takes_the_lower_bits[(int16_t)UINT16_C(0x8000) == -32768 ? 1 : -1];
typedef char fxp_blocks_are_whole_groups[FXP_BLOCK % 4 == 0 && FXP_BLOCK <= 48 ? 1 : -1]; /* 6.1 R5 */

enum { FXP_NONE = 255 };
#define FXP_NO_TERM UINT16_C(65535)
enum { FXP_PCM, FXP_MULAW, FXP_IMA_ADPCM, FXP_QOA_CODING, FXP_RICE_CODING };
enum { FXP_STEP, FXP_STRAIGHT, FXP_EASE, FXP_DECAY, FXP_FLICKER, FXP_SHAPE = 7, FXP_TO_AMBIENT = 8, FXP_LAST_SEGMENT = 16, FXP_TURN = 32 };
enum { FXP_ONCE, FXP_REPEAT, FXP_WHILE_HELD, FXP_ON_OFF, FXP_ALWAYS, FXP_ONCE_RANDOM, FXP_REPEAT_RANDOM };
enum { FXP_OLDEST, FXP_QUIETEST, FXP_SAME_CLIP };
enum { FXP_AMBIENT_LAYER, FXP_EFFECT_LAYER };

/* Kinds of steps and terms; FXP_LAST ends the row. */
enum {
    FXP_LENGTH_STEP, FXP_SPREAD_STEP, FXP_WAIT_STEP, FXP_WITH_STEP, FXP_PLAY_STEP, FXP_PLAY_LOOPED_STEP, FXP_FADE_STEP, FXP_FADE_AMBIENT_STEP,
    FXP_ADD_STEP, FXP_TAKE_STEP
};
enum {
    FXP_CONDITION, FXP_NEEDS, FXP_EMPTY_EFFECT, FXP_PERIOD, FXP_FIRST, FXP_BURST, FXP_LIMIT, FXP_RAMP_PERIOD, FXP_RAMP_SHOTS, FXP_TERM_KINDS
};
enum { FXP_KIND = 15, FXP_LAST = 128 };

/* How much is done at one time, of whatever a table asks for: no sound one asks for more (3.6 R4, 3.8 R4, 3.9 R1). */
enum { FXP_MOST_ENDS = 32, FXP_MOST_STEPS = 33, FXP_MOST_TERMS = 24 };

/* Where the fields stand: of the header, a segment, a clip, a loop, a trigger; of a step or term. */
enum {
    FXP_H_LENGTH = 4, FXP_H_SEED = 8, FXP_H_RATE = 12, FXP_H_FRAME = 14, FXP_H_VERSION = 16, FXP_H_CHANNELS = 17, FXP_H_BITS = 18,
    FXP_H_VOICES = 19, FXP_H_RULE = 20, FXP_H_MASK = 21, FXP_H_COUNTS = 22, FXP_HEADER_BYTES = 50
};
enum { FXP_S_LENGTH = 0, FXP_S_TARGET = 2, FXP_S_PACE = 4, FXP_S_SHAPE = 6, FXP_S_BY = 7 };
enum { FXP_C_SAMPLES = 0, FXP_C_PLACE = 4, FXP_L_START = 0, FXP_L_PLACE = 4 };
enum { FXP_T_HEAD = 0, FXP_T_CHOICES = 1, FXP_T_HOLD = 2, FXP_T_CHOICE = 4, FXP_T_TERM = 6 };
enum { FXP_E_KIND = 0, FXP_E_WHAT = 1, FXP_E_VALUE = 2 };
enum { FXP_G_FIRST = 0, FXP_G_CHANNELS = 1, FXP_G_LATEST = 2, FXP_G_GAUGE = 3 };

/* fxp_play.c: binary logarithm of the bytes of a record; a record. In place of one that is not there, the header, which is longer than any: so whatever
 * an index is, nothing is read outside the table. */
extern const uint8_t fxp_record_size[FXP_SECTIONS];
fxp_table fxp_record(const struct fxp *player, uint8_t section, uint16_t index);

static inline uint32_t fxp_word(fxp_table record, uint8_t at)
{
    return FXP_TABLE_HALF(record, at) | (uint32_t)FXP_TABLE_HALF(record, at + 2) << 16;
}

void fxp_note(const struct fxp *player, enum fxp_kind kind, uint8_t index, uint16_t value);
uint32_t fxp_divide(uint32_t dividend, uint32_t by);

/* fxp_light.c. segment: index of a fade's first one. */
void fxp_light_open(struct fxp *player);
void fxp_light_start(struct fxp *player, uint16_t segment, uint8_t layer, uint8_t channel, uint8_t channels);
void fxp_light_gauges(struct fxp *player, uint8_t counter); /* FXP_NONE: of all counters */
bool fxp_light_moves(const struct fxp *player);

/* fxp_sound.c. A clip: samples before its loop, those of the run that the loop goes round, or of all of it; offsets in the table. False where there
 * is nothing to play. Play, or play looped with a release. */
struct fxp_clip { uint32_t lead, turn, place, loop, form; bool has_loop; };
bool fxp_read_clip(const struct fxp *player, uint8_t index, struct fxp_clip *clip);
void fxp_sound_open(struct fxp *player);
void fxp_sound_start(struct fxp *player, fxp_table step, uint16_t release, const struct fxp_place *effect);
void fxp_sound_let_go(struct fxp *player, uint8_t owner);
bool fxp_sounds(const struct fxp *player);

/* fxp_mix.c: the next `count` samples, at most FXP_BLOCK, of which but the last of a frame a multiple of 4. Its memory comes from the caller, since
 * some chips reach only a small frame well. */
#define FXP_MOST_TAIL INT32_C(1048575)
enum { FXP_IN_FRONT = 2, FXP_AHEAD = 5 * FXP_BLOCK }; /* samples of a clip, at a step below 5 and a part below 6 */
struct fxp_block {
    int32_t sums[FXP_BLOCK];
    int16_t samples[FXP_IN_FRONT + 2 + FXP_AHEAD]; /* in front, a decoder lays what it looks back on; then a, b and those behind them */
};
void fxp_mix(struct fxp *player, struct fxp_block *block, int16_t *samples, uint_fast8_t count);

/* Flags of a voice; 0: it is free. LEAD: in the run before the loop. LAST: b is the 0 behind the clip's last sample. FRESH: the block under way
 * has not been begun, `next` is its state. */
enum { FXP_VOICE_SOUNDS = 1, FXP_VOICE_LOOPED = 2, FXP_VOICE_LET_GO = 4, FXP_VOICE_LEAD = 8, FXP_VOICE_LAST = 16, FXP_VOICE_FRESH = 32 };

/* fxp_coding.c. Begins a run, at `next`; begins the next block of a run with `left` samples; false where its bytes are not all within the clip data. The next samples of a
 * voice up to `end`, within one block; the one before them, if the block is not fresh, stands at samples[-1], and there is memory from
 * samples[-4] on. */
enum { FXP_IMA_BLOCK = 505, FXP_QOA_BLOCK = 5120, FXP_QOA_SLICE = 20, FXP_RICE_BLOCK = 4096, FXP_RICE_PART = 128 };
void fxp_begin_run(const struct fxp *player, struct fxp_voice *voice);
bool fxp_begin_block(const struct fxp *player, struct fxp_voice *voice);
void fxp_decode(fxp_table table, struct fxp_voice *voice, int16_t *samples, const int16_t *end);

/* fxp_clip.c. Samples up to `end` from the bytes at an offset. */
void fxp_clip_mulaw(fxp_table table, uint32_t at, int16_t *samples, const int16_t *end);
void fxp_clip_pcm(fxp_table table, uint32_t at, int16_t *samples, const int16_t *end);

/* 6.1 R4: adds the samples of a voice, from the samples of its clip at and behind a, with a gain, at least one; returns what it added last. */
int32_t fxp_clip_add(struct fxp_voice *voice, const int16_t *samples, uint16_t gain, int32_t *sums, uint_fast8_t count);

/* 6.1 R4: what a sound adds where it stands q / 256 between a and b, q the upper half of the lower half of `part`; gain is at most 32767. The
 * difference is below 2^16, the products below 2^31. */
#ifndef FXP_OWN_VALUE
static inline int32_t fxp_value(int16_t a, int16_t b, uint32_t part, int16_t gain)
{
    return (a + ((b - a) * (int32_t)(part << 16 >> 24) >> 8)) * gain >> 12;
}
#endif

/* 6.1 R10: the samples from their sums, at least one; how many had to be held. */
uint_fast8_t fxp_clip_hold(const int32_t *sums, int16_t *samples, uint16_t volume, uint_fast8_t count);

/* fxp_effect.c. An effect that is not there does nothing. Returns its length in frames, 0 for none. */
uint16_t fxp_effect_start(struct fxp *player, uint8_t effect, uint8_t trigger, bool held);
void fxp_effect_forget(struct fxp *player, uint8_t owner);
void fxp_effect_frame(struct fxp *player);
uint32_t fxp_effect_rests(const struct fxp *player); /* frames until something is due */
uint16_t fxp_draw(struct fxp *player);

/* fxp_trigger.c */
void fxp_trigger_frame(struct fxp *player);

/* 5.2, Under a hand: an input that is up has been down for so many frames; a gate that was reached before this one is not fresh in it. */
void fxp_trigger_held(struct fxp *player, uint8_t input, uint16_t frames);

/* Whether a frame has come; both are less than 2^31 apart. */
static inline bool fxp_reached(uint32_t now, uint32_t when)
{
    return now - when < UINT32_C(0x80000000);
}

#endif

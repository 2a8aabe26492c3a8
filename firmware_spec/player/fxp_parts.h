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
enum { FXP_PCM, FXP_MULAW };
enum { FXP_STEP, FXP_STRAIGHT, FXP_EASE, FXP_DECAY, FXP_FLICKER };
enum { FXP_SINGLE, FXP_REPEAT, FXP_SUSTAIN, FXP_LATCH, FXP_ALWAYS };
enum { FXP_PLAY_STEP, FXP_FADE_STEP, FXP_COUNT_STEP };
enum { FXP_OLDEST, FXP_QUIETEST, FXP_SAME_CLIP };
enum { FXP_AMBIENT_LAYER, FXP_EFFECT_LAYER };

/* fxp_table.c: a window on the records, which end below 65536 (3 R1.6). The first fault is kept; from then on the window is empty and every
 * read gives the lowest value of its range, so that a reader ends by itself. In a table that has been accepted there is none. */
struct fxp_reader {
    const struct fxp *player; /* table, count, first, positions, clip_data, clip_bytes */
    uint16_t at, end;
    uint16_t fault_at;
    enum fxp_status fault;
};

void fxp_refuse(struct fxp_reader *reader, enum fxp_status fault, uint16_t at);
uint8_t fxp_byte(struct fxp_reader *reader, uint8_t low, uint8_t high);
uint32_t fxp_number(struct fxp_reader *reader, uint32_t low, uint32_t high);
uint8_t fxp_index(struct fxp_reader *reader, enum fxp_section section);

/* Offset of record `index`, which must exist and have been checked, with its size before it; and the window on the body of such a record. */
uint16_t fxp_find(const struct fxp *player, enum fxp_section section, uint8_t index);
struct fxp_reader fxp_body(const struct fxp *player, uint16_t record);

/* The records' fields, read and checked in their order (section 3). Where a record ends in a list, its first item is left to be read. */
struct fxp_group { uint8_t first, channels, latest, gauge; }; /* gauge: a counter or FXP_NONE */
struct fxp_curve { uint16_t record, segment; uint16_t start; bool starts, loops; }; /* segment: offset of the first; start: level */
struct fxp_segment { uint16_t length, target, low, every; uint8_t shape; bool to_ambient; }; /* frames, levels */
struct fxp_clip { uint32_t step, samples, place, loop_start; uint8_t coding; bool loops; }; /* place: offset in the table */
struct fxp_effect { uint16_t length; uint8_t pitch_spread, gain_spread; bool ambient; };
struct fxp_step {
    uint8_t kind;
    uint16_t wait;           /* frames, 0 for none */
    uint8_t what;            /* clip, fade or counter */
    uint8_t group_index;
    struct fxp_group group;  /* of a fade */
    uint16_t amount;         /* gain; frames of |stagger|; |change| */
    bool negative;           /* stagger, change */
    bool loops;              /* play: as long as it is held */
    uint16_t release;
};
struct fxp_gate { uint8_t mode, flags, input; uint16_t hold; bool allowed; }; /* allowed: by every condition at present */
struct fxp_action { /* begin, during, end, empty: effects or FXP_NONE; needs: a counter or FXP_NONE */
    uint32_t period, first, ramp_period;
    uint16_t limit, effects, choices; /* effects: offset of the first of `choices` */
    uint8_t burst, ramp_shots, needs, empty, begin, during, end;
    bool random;
};

void fxp_read_group(struct fxp_reader *reader, uint8_t free, struct fxp_group *group); /* first must be `free` or above */
void fxp_read_curve(struct fxp_reader *reader, struct fxp_curve *curve);
void fxp_read_segment(struct fxp_reader *reader, struct fxp_segment *segment);
void fxp_read_clip(struct fxp_reader *reader, struct fxp_clip *clip);
void fxp_read_effect(struct fxp_reader *reader, struct fxp_effect *effect);
void fxp_read_step(struct fxp_reader *reader, bool ambient, uint16_t before, struct fxp_step *step); /* before: `at` of the one before */
void fxp_read_gate(struct fxp_reader *reader, struct fxp_gate *gate);
void fxp_read_action(struct fxp_reader *reader, const struct fxp_gate *gate, struct fxp_action *action);

/* fxp_play.c */
void fxp_note(const struct fxp *player, enum fxp_kind kind, uint8_t index, uint16_t value);

/* fxp_light.c. fxp_looks are the segments looked at last, one for each layer: channels that are treated alike are mostly at the same place of the
 * same segment. What it holds follows from the table alone, so it may be kept or thrown away at will; begin with all segments 0. */
struct fxp_look {
    uint16_t segment, next; /* offsets of the segment and of what follows it */
    uint16_t t;             /* frames since its begin */
    uint16_t way;           /* 6.3: w, 0..32768; flicker: r / every in 1/32768 */
    uint16_t rest;          /* flicker: r */
    struct fxp_segment is;
};
struct fxp_looks { struct fxp_look of[2]; };

void fxp_light_open(struct fxp *player);
void fxp_light_start(struct fxp *player, struct fxp_looks *looks, uint8_t channel, uint8_t layer, const struct fxp_curve *curve);
void fxp_light_gauges(struct fxp *player, uint8_t counter);
void fxp_light_frame(struct fxp *player, uint16_t *duties);

/* fxp_sound.c. owner: the trigger that holds the sound, or FXP_NONE. pitch in 1/4096, gain in 1/256 (5.5 R1). */
void fxp_sound_open(struct fxp *player);
void fxp_sound_start(struct fxp *player, const struct fxp_step *step, uint16_t pitch, uint16_t gain, uint8_t owner);
void fxp_sound_let_go(struct fxp *player, uint8_t owner);
void fxp_sound_frame(struct fxp *player, int16_t *samples);

/* fxp_effect.c. Returns the effect's length in frames, 0 for none. */
uint16_t fxp_effect_start(struct fxp *player, uint8_t effect, uint8_t trigger, bool held);
void fxp_effect_forget(struct fxp *player, uint8_t owner);
void fxp_effect_frame(struct fxp *player);
uint16_t fxp_draw(struct fxp *player);

/* fxp_trigger.c */
void fxp_trigger_frame(struct fxp *player);

/* Whether a frame has come, by the difference (5.1 R3). */
static inline bool fxp_reached(uint32_t now, uint32_t when)
{
    return now - when < UINT32_C(0x80000000);
}

#endif

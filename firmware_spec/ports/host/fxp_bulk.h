/* Whole runs in one call, for tests on a host: power-up, events, all that comes out. */
#ifndef FXP_BULK_H
#define FXP_BULK_H

#include "../../player/fxp.h"

enum fxp_bulk_event { FXP_BULK_CLOSES, FXP_BULK_OPENS, FXP_BULK_SELECT, FXP_BULK_VOLUME }; /* LINK 3.8 */

/* Where the caller wants what comes out. Every byte order is least significant first. */
struct fxp_bulk {
    int16_t *samples;    /* frames * samples_per_frame */
    uint16_t *duties;    /* frames * channels, frame by frame */
    uint8_t *trace;      /* 8 bytes an event: frame u32, kind u8, index u8, value u16 */
    uint32_t trace_room; /* events that fit there */
    bool sleeps;         /* pass over frames in which nothing changes, as a board that sleeps does */
    uint32_t events;     /* out: how many there were, also those that did not fit */
    uint32_t saturated;  /* out */
};

/* Checks a table and plays its frames 0 to until - 1. events: `count` of 8 bytes as in LINK 3.8, in order of frames. fxp_open's status and offset, or FXP_NO_SUCH where
 * an event names what the table does not have, with its number. `player` may be looked at afterwards. */
enum fxp_status fxp_bulk_open(struct fxp *player, const uint8_t *table, uint32_t length, uint32_t *offset);
enum fxp_status fxp_bulk_play(struct fxp *player, const uint8_t *events, uint32_t count, uint32_t until, struct fxp_bulk *out, uint32_t *offset);

/* sizeof (struct fxp), and what of it a caller needs to size `out`. */
uint32_t fxp_bulk_state_bytes(void);
uint32_t fxp_bulk_samples_per_frame(const struct fxp *player);
uint32_t fxp_bulk_channels(const struct fxp *player);

#endif

/* A board in memory, for the fuzzer: slots and marks in an array that holds a board to LINK 5, and the player. What breaks a rule ends the
 * process. */
#ifndef FXL_RAM_H
#define FXL_RAM_H

#include "../../player/fxl.h"
#include "../../player/fxp.h"

enum { RAM_PAGE = 64, RAM_SLOT = 640, RAM_MARKS = 2 * RAM_PAGE, RAM_BYTES = RAM_MARKS + 2 * RAM_SLOT, RAM_MARK = 16, RAM_NONE = RAM_BYTES };

/* A table that is whole, and where it is. */
struct ram_table {
    uint32_t at, length; /* at: RAM_NONE for none */
    uint8_t bytes[RAM_SLOT];
};

struct ram {
    struct fxl link;
    struct fxp player, other;
    uint8_t bytes[RAM_BYTES];
    uint8_t written[RAM_BYTES]; /* since the erasure; of slots, only an erasure since power-up counts (5 R7) */
    struct ram_table plays;     /* what must play, now and after a power-up */
    struct ram_table marked;    /* what a mark that has been written asks for, until it plays */
    uint32_t mark_at;           /* of the table that plays */
    bool marked_again;          /* a mark has been written since power-up */
    uint32_t left;              /* bytes until the power fails, RAM_FOR_EVER for ever */
    bool off;                   /* it has failed: nothing is carried out any more */
    bool fails, lies;           /* the next operation is not carried out; without saying so */
};

#define RAM_FOR_EVER UINT32_C(0xFFFFFFFF)

/* Ends the process where `good` does not hold. */
void ram_must(bool good, const char *rule);

/* Memory that has never been written. */
void ram_clear(struct ram *ram);
/* Power: the table that must play has to play, whole. */
void ram_power_up(struct ram *ram, uint32_t now_ms);
/* Whether what plays is what must play, to the byte. */
void ram_look(const struct ram *ram);

#endif

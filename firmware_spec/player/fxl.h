/* fxl: a board's side of the link (LINK.md, version 1): takes tables over a serial line into the idle one of two slots, and lets a run be
 * compared with the reference. It plays nothing itself and knows no player: the port (struct fxl_port) lends it flash memory and one.
 *
 * This header is the manual. The rule numbers are those of LINK.md.
 *
 *     static struct fxl link;                      the state: yours
 *     fxl_power_up(&link, &port, now_ms);          finds the table and starts it, if there is one
 *     for (;;) {
 *         if (... a byte has come ...) {
 *             if (fxl_receive(&link, byte)) { ... forget it; if not, offer it again next time round ... }
 *         }
 *         if (... the line takes a byte ... && fxl_send(&link, &byte)) { ... send it ... }
 *         if (... it is time for a frame ...) {
 *             if (fxl_frame(&link, &closed, &struck)) { fxp_frame(&player, closed, struck, samples, duties); }
 *             else { ... silence, and the light stays ... }
 *         }
 *         fxl_work(&link, now_ms);
 *     }
 *
 * No call waits for the line. Flash memory is written, erased and read by fxl_work alone (after power-up), at most one erasure, or one
 * write of FXL_WRITE_BYTES, or one check of a table a call, so frames can be played between any two of them. A port whose erasures, writes
 * and checks take longer than a frame may play frames within them, too, from where it waits: fxl_frame, and what that calls, but no other call
 * of this header. One thing is read at once, within fxl_receive: what READ asks for, at most as many bytes as an answer has. Bytes that come while that lasts are the port's to keep: 46 for 4 ms at 115 200 baud (7).
 *
 * No heap, recursion, floating point, input or output, and no variables but those you pass. One session is for one thread or interrupt
 * level at a time. Freestanding C99; a compiler may ask for memcpy and memset.
 */
#ifndef FXL_H
#define FXL_H

#include <stdbool.h>
#include <stdint.h>

/* Sizes of a build. Give others to the compiler, the same for every file. */
#ifndef FXL_BLOCK_BYTES
#define FXL_BLOCK_BYTES 352 /* 32..352, block_bytes of 3.11, even; a multiple of 16 suits every flash memory, also where blocks are halves (4.7) */
#endif
#ifndef FXL_WINDOW
#define FXL_WINDOW 16 /* 1..16, of 3.11; costs no memory */
#endif
#ifndef FXL_PRESS_ROOM
#define FXL_PRESS_ROOM 32 /* 1..255 presses of 8 bytes */
#endif
#ifndef FXL_TRACE_ROOM
#define FXL_TRACE_ROOM 256 /* 1..65535 events of 8 bytes; half a second of them (6 R8) */
#endif
#ifndef FXL_EVENTS_MOST
#define FXL_EVENTS_MOST 43 /* 1..43 events in one answer; up to 7 cost nothing, since BOARD is as long */
#endif
#ifndef FXL_WRITE_BYTES
#define FXL_WRITE_BYTES 64 /* most bytes in one write to flash memory; a multiple of 8 */
#endif
#ifndef FXL_READ_BYTES
#define FXL_READ_BYTES 32 /* most bytes in one read, on the stack; 16 or more */
#endif
/* FXL_WITHOUT_RUNS: leaves out section 6: no presses over the line, no trace; `has` and `set` of the port are not called.
 * FXL_WITHOUT_READING: leaves out READ, SUM and COPY (3.20 to 3.24): nobody gets a table back from the board, and all of the next one goes
 * over the line. COPY takes FXL_WRITE_BYTES on the stack.
 * FXL_WITHOUT_SPEED: leaves out SPEED (3.27): the line keeps its speed, and the port lacks `speed`.
 * FXL_WITHOUT_HALVES: leaves out HALVE (3.29): blocks keep their size, however bad the line.
 * FXL_WITHOUT_COUNTS: leaves out what a board counts (8), as FXL_WITHOUT_RUNS does: the port lacks `asks`, `is_quiet`, `cells` and `counts_at`. */
#ifdef FXL_WITHOUT_RUNS
#define FXL_WITHOUT_COUNTS
#endif

#if FXL_BLOCK_BYTES < 32 || FXL_BLOCK_BYTES > 352 || FXL_WINDOW < 1 || FXL_WINDOW > 16 || FXL_PRESS_ROOM < 1 || FXL_PRESS_ROOM > 255
#error "fxl: a size is outside its range (LINK 3.11)"
#endif
#if FXL_TRACE_ROOM < 1 || FXL_TRACE_ROOM > 65535 || FXL_EVENTS_MOST < 1 || FXL_EVENTS_MOST > 43
#error "fxl: a size is outside its range (LINK 3.11, 3.17)"
#endif
#if FXL_BLOCK_BYTES % 2 != 0 && !defined FXL_WITHOUT_HALVES
#error "fxl: FXL_BLOCK_BYTES has no half; give FXL_WITHOUT_HALVES (LINK 4.7)"
#endif
#if FXL_WRITE_BYTES < 8 || FXL_READ_BYTES < 16
#error "fxl: a size is outside its range"
#endif

/* Kinds of presses (3.8). */
enum fxl_press_kind { FXL_PRESS = 0, FXL_RELEASE, FXL_SELECT, FXL_VOLUME };

/* Bits of features (3.11). */
enum fxl_feature { FXL_RUNS = 1, FXL_SOUND = 2, FXL_LIGHT = 4, FXL_READING = 8, FXL_COPYING = 16, FXL_SPEED = 32, FXL_COUNTING = 64, FXL_HALVING = 128 };

/* What a port supplies. It must stay as it is for as long as the session is used.
 *
 * Flash memory is addressed by offsets: two pages of marks, then slot 0 of slot_bytes, then slot 1 (5). Each call says whether it was
 * carried out; false is answered with ERROR FLASH. */
struct fxl_port {
    void *context; /* passed to all of these */

    /* Sets the page that begins at `offset` to FF. Only pages of the idle slot, and the page of marks that holds none that counts. */
    bool (*erase)(void *context, uint32_t offset);
    /* Writes 1..FXL_WRITE_BYTES bytes, a mark of 16, or a record of counts of 24, to where every byte has been FF since the erasure. They lie
     * within one slot or page of marks or counts, but may cross a page. `offset` is a multiple of what half of FXL_BLOCK_BYTES and FXL_WRITE_BYTES are multiples of. A memory that
     * writes units of several bytes fills up the last one with FF. */
    bool (*write)(void *context, uint32_t offset, const uint8_t *bytes, uint16_t count);
    /* Reads 1..FXL_READ_BYTES bytes. */
    bool (*read)(void *context, uint32_t offset, uint8_t *bytes, uint16_t count);

    /* Whether the `length` bytes (5..slot_bytes) at `offset` are a table that is sound (SPEC 3 and 4, its CRC included) and that this board
     * can play. If not, *fault is the offset in it as in SPEC 4, or 0. What plays must go on playing, so where this is fxp_open, it takes a
     * struct fxp of its own. */
    bool (*check)(void *context, uint32_t offset, uint32_t length, uint32_t *fault);
    /* Plays the table at `offset` from power-up: next is frame 0, every contact open. It has been checked. */
    void (*start)(void *context, uint32_t offset, uint32_t length);
    /* Whether the table that plays has this input (kinds FXL_PRESS, FXL_RELEASE: index) or position (FXL_SELECT: index, value). */
    bool (*has)(void *context, uint8_t kind, uint8_t index, uint16_t value);
    /* Before a frame: selector `index` goes to position `value` (FXL_SELECT), or the wanted volume becomes `value` (FXL_VOLUME). */
    void (*set)(void *context, uint8_t kind, uint8_t index, uint16_t value);
    /* Leaves the firmware for the chip's boot loader (3.19), once the bytes that fxl_send has given are on the line. 0: there is none. */
    void (*boot)(void *context);
#ifndef FXL_WITHOUT_SPEED
    /* The highest speed, `baud` at most, that the line which speaks can keep; 0: it has none (4.6). change: it goes on at that one, once the
     * bytes that fxl_send has given are on it. At power-up it has 115 200. 0 instead of the call: no line of this port changes its speed. */
    uint32_t (*speed)(void *context, uint32_t baud, bool change);
#endif

#ifndef FXL_WITHOUT_COUNTS
    /* Counts (8). Whether the table at `offset`, which has been checked, asks for them (SPEC 3.10). */
    bool (*asks)(void *context, uint32_t offset, uint32_t length);
    /* Whether flash memory can be changed now without anybody hearing or seeing it. */
    bool (*is_quiet)(void *context);
    /* What the input of low cells measures, in 1/65536 of its largest; FXL_NOT_MEASURED: nothing yet, or none is joined. 0: no board of this port
     * can. */
    uint16_t (*cells)(void *context);
    uint32_t counts_at; /* offset of their two pages, which lie elsewhere than marks and slots; 0: this board does not count */
#endif

    uint32_t page_bytes; /* 32 or more: what one erasure sets to FF */
    uint32_t slot_bytes; /* 5 or more, whole pages; below 2^31 - page_bytes */

    /* For BOARD (3.11). */
    uint32_t board_id;
    const char *name; /* ASCII or UTF-8, ended by a 0; 0..24 bytes, more are left out */
    uint16_t most_rate_hz;
    uint16_t codings;
    uint8_t outputs; /* FXL_SOUND, FXL_LIGHT: what is heard and seen of a table */
    uint8_t table_version;
    uint8_t most_channels;
    uint8_t most_pwm_bits;
    uint8_t most_voices;
};

/* The state. All of it is fxl's own: do not write it, and expect it to change from version to version. */
enum {
    FXL_IN_BYTES = 3 + FXL_BLOCK_BYTES + 4,
    FXL_OUT_BYTES = (9 + 8 * FXL_EVENTS_MOST > 67 ? 9 + 8 * FXL_EVENTS_MOST : 67) + 4
};

struct fxl_event { /* a press (3.8) or a trace event (3.17) */
    uint32_t frame;
    uint8_t kind, index;
    uint16_t value;
};

#define FXL_NOT_MEASURED UINT16_C(0xFFFF)
struct fxl_counts { /* 3.26 */
    uint32_t power_ups, shots, refusals;
    uint16_t flash_errors, lowest;
};

struct fxl_table { /* as in BEGIN; length 0: none */
    uint32_t length, crc;
};

/* Small fields first: many processors reach those with shorter instructions. */
struct fxl {
    const struct fxl_port *port;

    uint8_t in_left;  /* bytes to the end of the piece that comes in */
    bool in_zero;     /* a 00 stands before the next one */
    uint8_t out_left; /* bytes to the end of the piece that goes out */
    bool out_open;    /* the answer has no CRC yet */
    bool out_zero;    /* a 00 is left out before the next piece */
    bool out_last;    /* no piece follows */
    bool heard;       /* a whole frame has come since now_ms */
    bool marked;      /* a mark has been written since power-up (5 R8) */
    bool commit;      /* after a good read-back, the mark */
    bool afresh;      /* the other page of marks has just been erased for the next one */
    uint8_t active;   /* slot that plays; 2: none */
    uint8_t mark_page; /* that holds the mark of the table that plays */
    uint8_t tag;       /* of the request that is being answered */
    uint8_t job;       /* of fxl_work */
    uint8_t job_tag;
    uint8_t push_tag;
    uint8_t outcome; /* of the read-back */
    uint8_t press_first, press_count;
#ifndef FXL_WITHOUT_HALVES
    bool halved; /* blocks of the push under way are halves */
#endif

    uint16_t in_count;  /* bytes decoded; FXL_IN_BYTES + 1 for more than there is room for */
    uint16_t out_count; /* 0: nothing to be sent */
    uint16_t out_at;
    uint16_t base, bitmap;
    uint16_t next_press, late;
    uint16_t trace_next, trace_count;

    uint32_t in_crc;
    uint32_t job_at, job_crc;
    struct fxl_table push; /* length 0: no push is under way */
    uint32_t found;        /* by the read-back: the CRC, or the offset of the fault */
    uint32_t frame, until;
    uint32_t closed, struck; /* contacts, of virtual presses */
    uint32_t trace_total;
    uint32_t now_ms, heard_ms, waited_ms; /* now; when the last whole frame had come; when the last WAIT was said */
#ifndef FXL_WITHOUT_READING
    uint16_t copy_next, copy_end; /* blocks */
    uint32_t from;                /* in the table that plays: what is summed; where block 0 would be, of the blocks that are copied */
    uint32_t sum_length;
#endif
    uint32_t turn;                        /* least that the next mark may have; 0: none is left (LINK 5 R6) */
    uint32_t marks_used;                  /* bytes in use in mark_page */
    struct fxl_table tables[2];           /* whole ones in the slots */

#ifndef FXL_WITHOUT_SPEED
    uint32_t baud;     /* of the line, or what it changes to */
    uint32_t alive_ms; /* when somebody spoke last, or the last piece of work had ended */
    bool changes;      /* to `baud`, once the answer is on the line */
    bool worked;       /* the call of fxl_work before had work to do */
#endif

#ifndef FXL_WITHOUT_COUNTS
    struct fxl_counts counts;
    bool counting;          /* the table that plays asks for it */
    bool counts_new;        /* no record has them */
    uint8_t counts_page;    /* in which the next record goes */
    uint32_t counts_used;   /* bytes in use in it */
    uint32_t counts_number; /* of the next record; 0: none is left */
    uint32_t counted_ms;    /* when the last one was written, or power came */
#endif

#ifndef FXL_WITHOUT_RUNS
    struct fxl_event presses[FXL_PRESS_ROOM]; /* rings */
    struct fxl_event trace[FXL_TRACE_ROOM];
#endif
    uint8_t in[FXL_IN_BYTES];
    uint8_t out[FXL_OUT_BYTES];
};

/* Reads the marks, checks the tables in both slots, and starts the one that counts (5 R3), if any. now_ms: a clock that counts
 * milliseconds from anywhere and wraps at 2^32. */
void fxl_power_up(struct fxl *link, const struct fxl_port *port, uint32_t now_ms);

/* A byte from the line. false: it cannot be taken now, because a block is being written or an answer has to go first; do fxl_send and
 * fxl_work, then offer it again. */
bool fxl_receive(struct fxl *link, uint8_t byte);

/* The next byte for the line, if there is one: call it whenever the line takes a byte. */
bool fxl_send(struct fxl *link, uint8_t *byte);

/* Does the next piece of what takes time. Call it often, and at least ten times a second. true: there is more to do, so call again as soon
 * as a frame has been played. */
bool fxl_work(struct fxl *link, uint32_t now_ms);

/* When it is time for a frame. false: none is to be played, since nothing plays or the clock is held (6 R4). true: play it before any other
 * call. Pass what the inputs read, as in SPEC 5.2; virtual contacts that are closed are added to it. */
bool fxl_frame(struct fxl *link, uint32_t *closed, uint32_t *struck);

#ifndef FXL_WITHOUT_RUNS
/* A trace event from the player (SPEC 7); context is the struct fxl. Fits fxp_trace. */
void fxl_trace(void *context, uint32_t frame, uint8_t kind, uint8_t index, uint16_t value);
#endif

#endif

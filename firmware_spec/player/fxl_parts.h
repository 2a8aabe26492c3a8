/* What the files of fxl share. Not for ports. */
#ifndef FXL_PARTS_H
#define FXL_PARTS_H

#include "fxl.h"
#include "fxp_crc.h"

enum {
    FXL_HELLO = 1, FXL_BEGIN, FXL_DATA, FXL_VERIFY, FXL_COMMIT, FXL_RESTART, FXL_RUN, FXL_PRESSES, FXL_ASK_CLOCK, FXL_ASK_TRACE, FXL_BOOT,
    FXL_READ_TABLE, FXL_SUM, FXL_COPY, FXL_SET_SPEED, FXL_ASK_COUNTS, FXL_HALVE = 29,
    FXL_BOARD = 17, FXL_STATUS, FXL_WAIT, FXL_VERIFIED, FXL_COMMITTED, FXL_CLOCK, FXL_EVENTS, FXL_ERROR, FXL_PART, FXL_SUMMED,
    FXL_COUNTS, FXL_AGREED, FXL_HALVED = 30
};
enum { /* 3.18 */
    FXL_UNKNOWN_KIND = 1, FXL_BAD_FIELD, FXL_TOO_LARGE, FXL_NOT_BEGUN, FXL_BAD_TABLE, FXL_FLASH, FXL_NO_TABLE, FXL_BAD_PRESS
};
enum { FXL_REST, FXL_MARK_AGAIN, FXL_ERASE, FXL_WRITE, FXL_READ, FXL_MARK, FXL_LEAVE, FXL_SUM_UP, FXL_COPY_BLOCKS }; /* jobs */
enum { FXL_UNREAD, FXL_READ_BACK, FXL_REFUSED };                                                                     /* outcomes */
enum { FXL_NO_SLOT = 2, FXL_MARK_BYTES = 16 };
#define FXL_FOR_EVER UINT32_C(0xFFFFFFFF)
#ifdef FXL_WITHOUT_RUNS
#define FXL_RUNS_HERE 0
#else
#define FXL_RUNS_HERE FXL_RUNS
#endif
#ifdef FXL_WITHOUT_READING
#define FXL_READING_HERE 0
#else
#define FXL_READING_HERE (FXL_READING | FXL_COPYING)
#endif
#ifdef FXL_WITHOUT_HALVES
#define FXL_HALVING_HERE 0
#define FXL_IS_HALVED(link) false
#else
#define FXL_HALVING_HERE FXL_HALVING
#define FXL_IS_HALVED(link) ((link)->halved)
void fxl_halve(struct fxl *link, uint16_t count);
#endif
#define FXL_BLOCK(link) ((uint16_t)(FXL_IS_HALVED(link) ? FXL_BLOCK_BYTES / 2 : FXL_BLOCK_BYTES)) /* bytes of each but the last, of this push */
#ifdef FXL_WITHOUT_SPEED
#define FXL_SPEED_HERE(link) 0
#else
#define FXL_SPEED_HERE(link) (fxl_has_speed(link) ? FXL_SPEED : 0u)
bool fxl_has_speed(const struct fxl *link);
#endif

/* fxl.c: numbers, answers. An answer is begun, then filled by fxl_put; fxl_send does the rest. When it is begun, nothing else may be
 * waiting to be sent (out_count is 0). */
uint16_t fxl_u16(const uint8_t *bytes);
uint32_t fxl_u32(const uint8_t *bytes);
void fxl_store(uint8_t *bytes, uint32_t value, uint8_t count);
void fxl_answer(struct fxl *link, uint8_t kind, uint8_t tag);
void fxl_put(struct fxl *link, uint32_t value, uint8_t count);
void fxl_error(struct fxl *link, uint8_t tag, uint8_t code, uint32_t detail);
void fxl_wait(struct fxl *link, uint8_t tag);

/* fxl_slots.c: slots and marks (5). */
uint8_t fxl_idle(const struct fxl *link);
uint32_t fxl_slot_offset(const struct fxl *link, uint8_t slot);
bool fxl_whole(const struct fxl *link, uint8_t slot, const struct fxl_table *table, uint32_t *fault);
void fxl_find_tables(struct fxl *link);
bool fxl_needs_page(const struct fxl *link);
bool fxl_erase_marks(struct fxl *link);
bool fxl_write_mark(struct fxl *link, uint8_t slot, const struct fxl_table *table);

/* fxl_push.c: requests of section 4, that of 3.19, and their jobs. `fields` are the `count` bytes behind the first of the message. */
void fxl_begin(struct fxl *link, const uint8_t *fields, uint16_t count);
void fxl_data(struct fxl *link, const uint8_t *fields, uint16_t count);
void fxl_verify(struct fxl *link, uint16_t count);
void fxl_commit(struct fxl *link, const uint8_t *fields, uint16_t count);
void fxl_boot(struct fxl *link, uint16_t count);
void fxl_do_job(struct fxl *link);
void fxl_status(struct fxl *link, uint8_t tag);
void fxl_begin_job(struct fxl *link, uint8_t job);
void fxl_flash_failed(struct fxl *link);
bool fxl_is_preparing(const struct fxl *link);
uint16_t fxl_blocks(const struct fxl *link);
uint16_t fxl_block_size(const struct fxl *link, uint16_t number);
bool fxl_is_wanted(const struct fxl *link, uint16_t number);
void fxl_has_come(struct fxl *link, uint16_t number);

/* fxl_read.c: requests that read what plays (3.20, 3.22, 3.24), and their jobs. */
void fxl_read_table(struct fxl *link, const uint8_t *fields, uint16_t count);
void fxl_sum(struct fxl *link, const uint8_t *fields, uint16_t count);
void fxl_copy(struct fxl *link, const uint8_t *fields, uint16_t count);
void fxl_sum_piece(struct fxl *link);
void fxl_copy_piece(struct fxl *link);

/* fxl_counts.c: section 8. */
#ifdef FXL_WITHOUT_COUNTS
#define FXL_COUNTING_HERE(port) 0
#define fxl_counts_power_up(link) ((void)(link))
#define fxl_counts_start(link) ((void)(link))
#define fxl_counts_work(link) ((void)(link))
#define fxl_count_flash_error(link) ((void)(link))
#define fxl_count_event(link, kind) ((void)(link))
#else
#define FXL_COUNTING_HERE(port) ((port)->counts_at == 0 ? 0u : FXL_COUNTING)
void fxl_counts_power_up(struct fxl *link);
void fxl_counts_start(struct fxl *link);
void fxl_counts_work(struct fxl *link);
void fxl_count_flash_error(struct fxl *link);
void fxl_count_event(struct fxl *link, uint8_t kind);
void fxl_tell_counts(struct fxl *link, uint16_t count);
#endif

/* fxl_run.c: requests of section 6. */
void fxl_start(struct fxl *link, uint32_t until);
bool fxl_held(const struct fxl *link);
void fxl_run_request(struct fxl *link, uint8_t kind, const uint8_t *fields, uint16_t count);

#endif

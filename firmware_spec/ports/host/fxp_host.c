/* The player as a command: README.md beside this file. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fxp_bulk.h"

static const char *const reasons[] = {
    "OK", "BAD_MAGIC", "BAD_VERSION", "BAD_LENGTH", "BAD_CRC", "BAD_VALUE", "TOO_MANY", "NO_SUCH"
};
static const char *const event_kinds[] = {"PRESS", "RELEASE", "SELECT", "VOLUME"};
static const char *const trace_kinds[] = {
    "", "PRESS", "RELEASE", "SELECT", "VOLUME", "START", "STOP", "SHOT", "EMPTY", "EFFECT", "SOUND", "CUT", "RELEASED", "FADE", "COUNT", "REFUSED"
};

/* Bytes that grow. */
struct bytes { uint8_t *at; size_t size, room; };

static void fail(const char *what, const char *which)
{
    fprintf(stderr, "fxp_host: %s%s\n", what, which);
    exit(2);
}

static void *allocate(void *old, size_t size)
{
    void *memory = realloc(old, size > 0 ? size : 1);
    if (memory == NULL) {
        fail("not enough memory", "");
    }
    return memory;
}

static void make_room(struct bytes *bytes, size_t more)
{
    if (bytes->size + more > bytes->room) {
        bytes->room = 2 * (bytes->size + more);
        bytes->at = allocate(bytes->at, bytes->room);
    }
}

static uint32_t word(const uint8_t *bytes)
{
    return (uint32_t)bytes[0] | (uint32_t)bytes[1] << 8 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[3] << 24;
}

static void put_word(uint8_t *to, uint32_t value)
{
    for (int i = 0; i < 4; i++) {
        to[i] = (uint8_t)(value >> 8 * i);
    }
}

static void read_all(FILE *file, struct bytes *bytes)
{
    size_t got;
    do {
        make_room(bytes, 65536);
        got = fread(bytes->at + bytes->size, 1, 65536, file);
        bytes->size += got;
    } while (got > 0);
}

static void read_file(const char *path, struct bytes *bytes)
{
    FILE *file = strcmp(path, "-") == 0 ? stdin : fopen(path, "rb");
    if (file == NULL) {
        fail("cannot read ", path);
    }
    read_all(file, bytes);
    if (file != stdin) {
        fclose(file);
    }
}

/* What one run gives, and the memory for it, which is kept from run to run. */
struct run {
    struct fxp player;
    struct fxp_bulk out;
    uint32_t frames;
    uint32_t offset; /* of a refusal */
    size_t samples, duties;
};

static enum fxp_status play(struct run *run, const uint8_t *table, uint32_t length, const uint8_t *events, uint32_t count, uint32_t until)
{
    enum fxp_status status = fxp_bulk_open(&run->player, table, length, &run->offset);
    if (status != FXP_OK) {
        return status;
    }
    run->frames = until;
    run->out.sleeps = true;
    run->samples = (size_t)until * run->player.samples_per_frame;
    run->duties = (size_t)until * run->player.channels;
    run->out.samples = allocate(run->out.samples, run->samples * sizeof *run->out.samples);
    run->out.duties = allocate(run->out.duties, run->duties * sizeof *run->out.duties);
    status = fxp_bulk_play(&run->player, events, count, until, &run->out, &run->offset);
    if (status == FXP_OK && run->out.events > run->out.trace_room) { /* once more, now that the room it takes is known */
        run->out.trace_room = 2 * run->out.events;
        run->out.trace = allocate(run->out.trace, (size_t)run->out.trace_room * 8);
        return play(run, table, length, events, count, until);
    }
    return status;
}

static void write_halves(FILE *file, const void *halves, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        uint16_t value;
        memcpy(&value, (const uint8_t *)halves + 2 * i, 2);
        putc(value & 0xFF, file);
        putc(value >> 8, file);
    }
}

/* Batch: cases in, results out, both binary, until the end of the input. */

static int read_exactly(void *to, size_t size)
{
    return fread(to, 1, size, stdin) == size;
}

static void write_result(const struct run *run, enum fxp_status status)
{
    uint8_t head[24] = {0};
    put_word(head, (uint32_t)-(int32_t)status);
    put_word(head + 4, status == FXP_OK ? 0 : run->offset);
    if (status == FXP_OK) {
        put_word(head + 8, run->player.samples_per_frame);
        put_word(head + 12, run->player.channels);
        put_word(head + 16, run->out.events);
        put_word(head + 20, run->out.saturated);
    }
    fwrite(head, 1, sizeof head, stdout);
    if (status == FXP_OK) {
        if (run->out.events) { /* else there may be no room at all, and no pointer to give */
            fwrite(run->out.trace, 8, run->out.events, stdout);
        }
        write_halves(stdout, run->out.samples, run->samples);
        write_halves(stdout, run->out.duties, run->duties);
    }
    fflush(stdout);
}

static int play_batch(void)
{
    static struct run run;
    uint8_t head[12];
    while (read_exactly(head, sizeof head)) {
        uint32_t length = word(head);
        uint32_t count = word(head + 4);
        uint8_t *table = allocate(NULL, length); /* of just that size: a tool that watches memory sees any read beyond it */
        uint8_t *events = allocate(NULL, (size_t)count * 8);
        if (!read_exactly(table, length) || !read_exactly(events, (size_t)count * 8)) {
            fail("the input ends within a case", "");
        }
        write_result(&run, play(&run, table, length, events, count, word(head + 8)));
        free(table);
        free(events);
    }
    free(run.out.samples);
    free(run.out.duties);
    free(run.out.trace);
    return 0;
}

/* One run: a table, events as lines of text; the trace as lines of text. */

static unsigned kind_of(const char *name)
{
    for (unsigned kind = 0; kind < sizeof event_kinds / sizeof event_kinds[0]; kind++) {
        if (strcmp(name, event_kinds[kind]) == 0) {
            return kind;
        }
    }
    fail("events are PRESS, RELEASE, SELECT, VOLUME and END, not ", name);
    return 0;
}

/* Gives the frame of END. */
static uint32_t read_events(const char *path, struct bytes *events)
{
    struct bytes text = {NULL, 0, 0};
    read_file(path, &text);
    make_room(&text, 1);
    text.at[text.size] = 0;
    uint32_t until = 0;
    int ended = 0;
    for (char *line = strtok((char *)text.at, "\n"); line != NULL; line = strtok(NULL, "\n")) {
        char name[16];
        uint32_t frame;
        unsigned index = 0;
        unsigned value = 0;
        if (sscanf(line, "%" SCNu32 " %15s %u %u", &frame, name, &index, &value) < 2 || index > 255 || value > 65535 || frame < until) {
            fail("an event is FRAME KIND INDEX VALUE, in order of frames, not ", line);
        }
        until = frame;
        if (strcmp(name, "END") == 0) {
            ended = 1;
            break;
        }
        make_room(events, 8);
        uint8_t *to = events->at + events->size;
        put_word(to, frame);
        put_word(to + 4, kind_of(name) | index << 8 | value << 16);
        events->size += 8;
    }
    if (!ended) {
        fail("no END in ", path);
    }
    free(text.at);
    return until;
}

static void write_file(const char *path, const void *halves, size_t count)
{
    FILE *file = fopen(path, "wb");
    if (file == NULL) {
        fail("cannot write ", path);
    }
    write_halves(file, halves, count);
    if (fclose(file) != 0) {
        fail("cannot write ", path);
    }
}

static void write_trace(const struct fxp_bulk *out)
{
    for (uint32_t i = 0; i < out->events; i++) {
        const uint8_t *event = out->trace + 8 * (size_t)i;
        printf("%" PRIu32 " %s %u %u\n", word(event), trace_kinds[event[4]], event[5], (unsigned)(event[6] | event[7] << 8));
    }
}

static int play_one(int argc, char **argv)
{
    static struct run run;
    struct bytes table = {NULL, 0, 0};
    struct bytes events = {NULL, 0, 0};
    read_file(argv[1], &table);
    uint32_t until = argc > 2 ? read_events(argv[2], &events) : 0;
    enum fxp_status status = play(&run, table.at, (uint32_t)table.size, events.at, (uint32_t)(events.size / 8), until);
    if (status != FXP_OK) {
        fprintf(stderr, "%s %" PRIu32 "\n", reasons[-(int)status], run.offset);
        free(table.at);
        free(events.at);
        return 1;
    }
    write_trace(&run.out);
    if (argc > 3) {
        write_file(argv[3], run.out.samples, run.samples);
    }
    if (argc > 4) {
        write_file(argv[4], run.out.duties, run.duties);
    }
    fprintf(stderr, "%" PRIu32 " saturated\n", run.out.saturated);
    free(table.at);
    free(events.at);
    free(run.out.samples);
    free(run.out.duties);
    free(run.out.trace);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc == 2 && strcmp(argv[1], "--batch") == 0) {
        return play_batch();
    }
    if (argc < 2 || argc > 5 || strcmp(argv[1], "--help") == 0) {
        fprintf(stderr, "usage: fxp_host TABLE [EVENTS [SAMPLES [DUTIES]]]  or  fxp_host --batch\n");
        return 2;
    }
    return play_one(argc, argv);
}

/* Whole runs: cases from a file, results to a file, both in the form of the host's batch (../host/README.md), but for what each frame took,
 * which stands behind each result. */
#include "../host/fxp_bulk.h"
#include "clock.h"
#include "mps2.h"
#include "semihost.h"

enum { PATHS_ROOM = 1024, EVENT_BYTES = 8 };
enum { TABLE_ROOM = 1 << 20, EVENTS_ROOM = 1 << 17, TRACE_ROOM = 5 << 16, FRAMES_MOST = 1 << 18 };
enum { SAMPLES_ROOM = 5 << 19, DUTIES_ROOM = 5 << 19 };

static uint8_t table[TABLE_ROOM] IN_PSRAM;
static uint8_t events[EVENTS_ROOM * EVENT_BYTES] IN_PSRAM;
static uint8_t trace[TRACE_ROOM * EVENT_BYTES] IN_PSRAM;
static int16_t samples[SAMPLES_ROOM] IN_PSRAM;
static uint16_t duties[DUTIES_ROOM] IN_PSRAM;
static uint32_t spent[FRAMES_MOST]; /* ticks of clock_ticks */
static struct fxp player;

void __real_fxp_frame(struct fxp *state, uint32_t closed, uint32_t struck, int16_t *to_samples, uint16_t *to_duties);
void __wrap_fxp_frame(struct fxp *state, uint32_t closed, uint32_t struck, int16_t *to_samples, uint16_t *to_duties);

/* The linker puts this between fxp_bulk.c and the player. */
void __wrap_fxp_frame(struct fxp *state, uint32_t closed, uint32_t struck, int16_t *to_samples, uint16_t *to_duties)
{
    uint32_t frame = state->frame;
    uint32_t before = clock_ticks();
    __real_fxp_frame(state, closed, struck, to_samples, to_duties);
    spent[frame] = clock_ticks() - before;
}

static void fail(const char *why)
{
    host_say("fxp_mps2_runs: ");
    host_say(why);
    host_exit(2);
}

static void need(bool fine, const char *why)
{
    if (!fine) {
        fail(why);
    }
}

static void put(int32_t file, const void *bytes, uint32_t count)
{
    need(count == 0 || host_write(file, bytes, count), "the results cannot be written\n");
}

static void get(int32_t file, void *bytes, uint32_t count)
{
    need(count == 0 || host_read(file, bytes, count) == count, "the cases end in the middle of one\n");
}

/* The processor's order of bytes is that of the file. */
static void play(int32_t from, int32_t to, const uint32_t *head)
{
    uint32_t length = head[0], count = head[1], until = head[2];
    struct fxp_bulk out = {.samples = samples, .duties = duties, .trace = trace, .trace_room = TRACE_ROOM};
    uint32_t offset = 0;
    need(length <= sizeof table && count <= EVENTS_ROOM && until <= FRAMES_MOST, "a case is too large\n");
    get(from, table, length);
    get(from, events, count * EVENT_BYTES);
    enum fxp_status status = fxp_bulk_open(&player, table, length, &offset);
    if (status == FXP_OK) {
        need((uint64_t)until * player.samples_per_frame <= SAMPLES_ROOM, "a run has too many samples\n");
        need((uint64_t)until * player.channels <= DUTIES_ROOM, "a run has too many duties\n");
        status = fxp_bulk_play(&player, events, count, until, &out, &offset);
    }
    if (status != FXP_OK) {
        uint32_t refusal[6] = {(uint32_t)-(int32_t)status, offset, 0, 0, 0, 0};
        put(to, refusal, sizeof refusal);
        return;
    }
    need(out.events <= TRACE_ROOM, "a trace is too long\n");
    uint32_t result[6] = {0, 0, player.samples_per_frame, player.channels, out.events, out.saturated};
    put(to, result, sizeof result);
    put(to, trace, out.events * EVENT_BYTES);
    put(to, samples, until * player.samples_per_frame * 2);
    put(to, duties, until * player.channels * 2);
    put(to, spent, until * 4);
}

int main(void)
{
    static char paths[PATHS_ROOM];
    uint32_t gap = 0;
    uint32_t head[3];
    need(host_arguments(paths, sizeof paths), "the arguments are too long\n");
    while (paths[gap] != ' ') {
        need(paths[gap] != 0, "say which files: arg=fxp_mps2_runs,arg=CASES,arg=RESULTS\n");
        gap++;
    }
    paths[gap] = 0;
    int32_t from = host_open(paths, HOST_READ);
    int32_t to = host_open(paths + gap + 1, HOST_WRITE);
    need(from >= 0 && to >= 0, "the cases cannot be read, or the results cannot be written\n");
    clock_start();
    uint32_t got;
    while ((got = host_read(from, head, sizeof head)) == sizeof head) {
        play(from, to, head);
    }
    need(got == 0, "the cases end in the middle of one\n");
    need(host_close(to), "the results cannot be written\n");
    return 0;
}

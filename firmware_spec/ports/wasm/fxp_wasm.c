/* The player as a WebAssembly module: README.md beside this file is the manual of what it exports. */
#include "../../player/fxp.h"

#define EXPORT(name) __attribute__((export_name(#name)))

enum { SLOT_BYTES = 64 * 1024 * 1024, FRAMES = 1024, SAMPLES_MOST = 256, TRACE_ROOM = 8192 };

struct contacts { uint32_t closed, struck; };
struct event { uint32_t frame; uint8_t kind, index; uint16_t value; };

/* There is one player a module; whoever wants two instantiates it twice. */
static uint8_t slots[2][SLOT_BYTES];
static struct fxp players[2]; /* each plays the table of its slot */
static bool playing, staged;  /* whether players[active] plays; whether the other may be started */
static uint32_t active;
static uint32_t fault_offset;
static struct contacts contacts[FRAMES];
static int16_t samples[FRAMES * SAMPLES_MOST];
static uint16_t now[FXP_MAX_CHANNELS]; /* duties of the last frame, of which the next one writes what changes */
static uint16_t duties[FRAMES * FXP_MAX_CHANNELS];
static struct event trace[TRACE_ROOM];
static uint32_t events; /* since they were last taken, also those that found no room */

static void keep_event(void *context, uint32_t frame, uint8_t kind, uint8_t index, uint16_t value)
{
    (void)context;
    if (events < TRACE_ROOM) {
        trace[events] = (struct event){frame, kind, index, value};
    }
    events++;
}

EXPORT(slot) uint8_t *idle_slot(void) { return slots[1 - active]; }
EXPORT(slot_bytes) uint32_t slot_bytes(void) { return SLOT_BYTES; }
EXPORT(contacts) struct contacts *contacts_of_frames(void) { return contacts; }
EXPORT(frames_most) uint32_t frames_most(void) { return FRAMES; }
EXPORT(samples) int16_t *samples_played(void) { return samples; }
EXPORT(duties) uint16_t *duties_played(void) { return duties; }
EXPORT(trace) struct event *trace_kept(void) { return trace; }
EXPORT(trace_room) uint32_t trace_room(void) { return TRACE_ROOM; }
EXPORT(offset) uint32_t offset_of_fault(void) { return fault_offset; }
EXPORT(sample_rate_hz) uint32_t sample_rate_hz(void) { return players[active].sample_rate_hz; }
EXPORT(samples_per_frame) uint32_t samples_per_frame(void) { return players[active].samples_per_frame; }
EXPORT(channels) uint32_t channels(void) { return players[active].channels; }
EXPORT(pwm_bits) uint32_t pwm_bits(void) { return players[active].pwm_bits; }
EXPORT(frame) uint32_t next_frame(void) { return players[active].frame; }
EXPORT(saturated) uint32_t saturated(void) { return players[active].saturated; }

EXPORT(stage) int32_t stage(uint32_t length)
{
    uint32_t idle = 1 - active;
    staged = false;
    if (length > SLOT_BYTES) {
        fault_offset = SLOT_BYTES;
        return FXP_TOO_MANY;
    }
    enum fxp_status status = fxp_open(&players[idle], slots[idle], length, &fault_offset);
    staged = status == FXP_OK;
    return status;
}

EXPORT(start) int32_t start(void)
{
    if (!staged) {
        return FXP_NO_SUCH;
    }
    active = 1 - active;
    players[active].trace = keep_event;
    playing = true;
    staged = false;
    events = 0;
    return FXP_OK;
}

EXPORT(select) int32_t select_position(uint32_t selector, uint32_t position)
{
    if (!playing || selector > UINT8_MAX || position > UINT8_MAX) {
        return FXP_NO_SUCH;
    }
    return fxp_select(&players[active], (uint8_t)selector, (uint8_t)position);
}

EXPORT(volume) int32_t set_volume(uint32_t wanted)
{
    if (!playing || wanted > UINT16_MAX) {
        return FXP_NO_SUCH;
    }
    return fxp_volume(&players[active], (uint16_t)wanted);
}

EXPORT(held) int32_t held(uint32_t input, uint32_t frames)
{
    if (!playing || input > UINT8_MAX || frames > UINT16_MAX) {
        return FXP_NO_SUCH;
    }
    return fxp_held(&players[active], (uint8_t)input, (uint16_t)frames);
}

EXPORT(down_for) uint32_t down_for(uint32_t input)
{
    const struct fxp *player = &players[active];
    if (!playing || input >= player->count[FXP_INPUTS] || (player->down >> input & 1) == 0) {
        return 0;
    }
    uint32_t frames = player->frame - player->went_down[input];
    return frames < UINT16_MAX ? frames : UINT16_MAX;
}

EXPORT(play) uint32_t play(uint32_t frames)
{
    struct fxp *player = &players[active];
    uint32_t done = 0;
    if (!playing) {
        return 0;
    }
    for (; done < frames && done < FRAMES && (done == 0 || events < TRACE_ROOM / 2); done++) {
        fxp_frame(player, contacts[done].closed, contacts[done].struck, samples + done * player->samples_per_frame, now);
        for (uint32_t channel = 0; channel < player->channels; channel++) {
            duties[done * player->channels + channel] = now[channel];
        }
    }
    return done;
}

EXPORT(take_trace) uint32_t take_trace(void)
{
    uint32_t taken = events;
    events = 0;
    return taken;
}

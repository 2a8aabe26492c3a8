#include "fxp_bulk.h"

static uint32_t word(const uint8_t *bytes)
{
    return (uint32_t)bytes[0] | (uint32_t)bytes[1] << 8 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[3] << 24;
}

static void keep_event(void *context, uint32_t frame, uint8_t kind, uint8_t index, uint16_t value)
{
    struct fxp_bulk *out = context;
    if (out->events < out->trace_room) {
        uint8_t *to = out->trace + 8 * (uint64_t)out->events;
        for (int i = 0; i < 4; i++) {
            to[i] = (uint8_t)(frame >> 8 * i);
        }
        to[4] = kind;
        to[5] = index;
        to[6] = (uint8_t)value;
        to[7] = (uint8_t)(value >> 8);
    }
    out->events++;
}

enum fxp_status fxp_bulk_open(struct fxp *player, const uint8_t *table, uint32_t length, uint32_t *offset)
{
    uint32_t end = length < 4 ? 0 : length - 4;
    uint32_t crc = fxp_table_crc(FXP_CRC_START, table, 0, end / 2); /* in two parts; the other ports open at once */
    crc = fxp_table_crc(crc, table, end / 2, end);
    return fxp_open_summed(player, table, length, crc, offset);
}

/* What the contacts did in one frame, and what it changed. */
struct contacts { uint32_t closed, struck; };

static enum fxp_status take(struct fxp *player, const uint8_t *event, struct contacts *contacts)
{
    uint8_t kind = event[4];
    uint8_t index = event[5];
    uint16_t value = (uint16_t)(event[6] | event[7] << 8);
    if (kind == FXP_BULK_SELECT) {
        return value > 255 ? FXP_NO_SUCH : fxp_select(player, index, (uint8_t)value);
    }
    if (kind == FXP_BULK_VOLUME) {
        return fxp_volume(player, value);
    }
    if (kind > FXP_BULK_VOLUME || index >= player->count[FXP_INPUTS]) {
        return FXP_NO_SUCH;
    }
    uint32_t bit = UINT32_C(1) << index;
    contacts->closed &= ~bit;
    if (kind == FXP_BULK_CLOSES) {
        contacts->closed |= bit;
        contacts->struck |= bit;
    }
    return FXP_OK;
}

static void keep_duties(const struct fxp *player, struct fxp_bulk *out, const uint16_t *duties, uint32_t frame)
{
    for (uint32_t channel = 0; channel < player->channels; channel++) {
        out->duties[(uint64_t)frame * player->channels + channel] = duties[channel];
    }
}

/* What a board gives that sleeps for so many frames. */
static uint32_t pass_over(struct fxp *player, struct fxp_bulk *out, const uint16_t *duties, uint32_t frame, uint32_t frames)
{
    for (uint32_t passed = 0; passed < frames; passed++) {
        keep_duties(player, out, duties, frame + passed);
        for (uint32_t i = 0; i < player->samples_per_frame; i++) {
            out->samples[(uint64_t)(frame + passed) * player->samples_per_frame + i] = 0;
        }
    }
    fxp_pass(player, frames);
    return frames;
}

enum fxp_status fxp_bulk_play(struct fxp *player, const uint8_t *events, uint32_t count, uint32_t until, struct fxp_bulk *out, uint32_t *offset)
{
    struct contacts contacts = {0, 0};
    uint16_t duties[FXP_MAX_CHANNELS];
    uint32_t at = 0;
    out->events = 0;
    player->trace = keep_event;
    player->trace_context = out;
    for (uint32_t frame = 0; frame < until; frame++) {
        contacts.struck = 0;
        uint32_t before = at;
        for (; at < count && word(events + 8 * (uint64_t)at) == frame; at++) {
            enum fxp_status status = take(player, events + 8 * (uint64_t)at, &contacts);
            if (status != FXP_OK) {
                *offset = at;
                return status;
            }
        }
        uint32_t next = at < count ? word(events + 8 * (uint64_t)at) : until; /* frame of the next event */
        uint32_t still = out->sleeps && at == before ? fxp_still(player, contacts.closed) : 0;
        if (still > 0) {
            still = pass_over(player, out, duties, frame, still < next - frame ? still : next - frame);
            frame += still - 1;
            continue;
        }
        fxp_frame(player, contacts.closed, contacts.struck, out->samples + (uint64_t)frame * player->samples_per_frame, duties);
        keep_duties(player, out, duties, frame);
    }
    out->saturated = player->saturated;
    return FXP_OK;
}

uint32_t fxp_bulk_state_bytes(void)
{
    return (uint32_t)sizeof(struct fxp);
}

uint32_t fxp_bulk_samples_per_frame(const struct fxp *player)
{
    return player->samples_per_frame;
}

uint32_t fxp_bulk_channels(const struct fxp *player)
{
    return player->channels;
}

/* Light: SPEC 6.2 to 6.6. A channel without a curve costs a look at its flags. */
#include "fxp_parts.h"

/* Of a channel. MOVES: its duty is to be computed in this frame. FRESH: a curve has started on its effect layer in this frame. LIVE, ON_TOP:
 * its effect layer is live; was started no earlier than its ambient layer (6.2 R5, which asks for no more of `started` than this). */
enum { LATEST = 1, LIVE = 2, ON_TOP = 4, FRESH = 8, MOVES = 16 };

struct levels { uint16_t ambient, effect; };

static const uint16_t decay_left[17] FXP_ROM = { /* 6.3 R4 */
    32768, 23914, 17436, 12697, 9230, 6693, 4837, 3479, 2486, 1759, 1227, 838, 554, 345, 193, 82, 0
};

/* 2.5. The product is at most 2^31 - 2^15. */
static uint16_t toward(uint16_t a, uint16_t b, uint16_t w)
{
    if (b >= a) {
        return (uint16_t)(a + ((uint32_t)(b - a) * w >> 15));
    }
    return (uint16_t)(a - ((uint32_t)(a - b) * w >> 15));
}

/* 6.3 for t < n; every w is at most 32768. */
static uint16_t way(uint8_t shape, uint16_t t, uint16_t n)
{
    if (shape == FXP_STEP) {
        return 32768;
    }
    uint32_t u = (uint32_t)t * 32768 / n; /* below 32768, as t < n */
    if (shape == FXP_EASE) {
        return (uint16_t)((u * u >> 15) * (98304 - 2 * u) >> 15); /* below 2^15 * 2^17 */
    }
    if (shape == FXP_DECAY) {
        uint8_t k = (uint8_t)(u >> 11);
        uint32_t left = FXP_ROM_WORD(&decay_left[k]);
        uint32_t lost = (left - FXP_ROM_WORD(&decay_left[k + 1])) * (u & 2047) >> 11; /* below 2^14 * 2^11 */
        return (uint16_t)(32768 - (left - lost));
    }
    return (uint16_t)u;
}

/* 6.4 R2. Products and sums are modulo 2^32. */
static uint16_t flicker_hash(const struct fxp *player, uint32_t frame, uint8_t channel)
{
    uint32_t x = frame + channel * UINT32_C(0x9E3779B1) + player->seed;
    x = (x ^ x >> 16) * UINT32_C(0x7FEB352D);
    x = (x ^ x >> 15) * UINT32_C(0x846CA68B);
    return (uint16_t)((x ^ x >> 16) >> 16);
}

/* 6.4 R1: p + (q - p) * r / every. Not by a division for each channel, but by r / every in 1/32768: that is less than 1/32768 too small, so the
 * product less than 2, and its floor is short of the quotient by at most 2. distance * rest is below 2^31. */
static uint16_t between(uint16_t p, uint16_t q, const struct fxp_look *look)
{
    uint32_t distance = q >= p ? (uint32_t)q - p : (uint32_t)p - q;
    uint32_t moved = distance * look->way >> 15;
    uint32_t left = distance * look->rest - moved * look->is.every;
    while (left >= look->is.every) {
        left -= look->is.every;
        moved++;
    }
    return (uint16_t)(q >= p ? p + moved : p - moved);
}

static uint16_t point(const struct fxp *player, const struct fxp_segment *segment, uint32_t frame, uint8_t channel)
{
    uint32_t span = (uint32_t)segment->target - segment->low; /* 3.6 R2: not negative */
    return (uint16_t)(segment->low + (span * flicker_hash(player, frame, channel) >> 16));
}

static uint16_t flicker(const struct fxp *player, const struct fxp_look *look, uint16_t a, uint8_t channel)
{
    uint32_t frame = player->frame - look->rest; /* of point k; k is 0 where t is r */
    uint16_t p = look->t == look->rest ? a : point(player, &look->is, frame, channel);
    uint16_t q = point(player, &look->is, frame + look->is.every, channel);
    return between(p, q, look);
}

/* The segment that a layer is in, at this frame. t may be n, its end: then only flicker has a level of its own (6.2 R3). */
static void look_at(const struct fxp *player, const struct fxp_layer *layer, struct fxp_look *look)
{
    uint16_t t = (uint16_t)(player->frame - layer->began);
    if (look->segment == layer->segment && look->t == t) {
        return;
    }
    if (look->segment != layer->segment) {
        struct fxp_reader reader = {player, layer->segment, 0xFFFF, 0, FXP_OK};
        fxp_read_segment(&reader, &look->is);
        look->segment = layer->segment;
        look->next = reader.at;
    }
    look->t = t;
    if (look->is.shape == FXP_FLICKER) {
        look->rest = t % look->is.every;
        look->way = (uint16_t)((uint32_t)look->rest * 32768 / look->is.every);
    } else if (t < look->is.length) {
        look->way = way(look->is.shape, t, look->is.length);
    }
}

/* 6.2 R2. below: what the target ambient stands for. */
static uint16_t level_of(const struct fxp *player, const struct fxp_layer *layer, struct fxp_look *look, uint8_t channel, uint16_t below)
{
    if (layer->segment == 0) {
        return layer->from;
    }
    look_at(player, layer, look);
    if (look->is.shape == FXP_FLICKER) {
        return flicker(player, look, layer->from, channel);
    }
    return toward(layer->from, look->is.to_ambient ? below : look->is.target, look->way);
}

/* 6.2 R3, the end of a curve that does not loop. */
static void finish(struct fxp_layer *layer, uint8_t *flags, bool stays)
{
    layer->segment = 0;
    *flags &= (uint8_t)~LIVE;
    if (stays && layer->from > 0) {
        *flags |= LIVE;
    } else {
        layer->from = 0;
    }
}

/* 6.2 R3: from a segment that is over to the next one. */
static void go_on(struct fxp *player, struct fxp_layer *layer, const struct fxp_look *look, uint8_t channel, uint16_t below)
{
    const struct fxp_segment *segment = &look->is;
    if (segment->shape == FXP_FLICKER) {
        layer->from = flicker(player, look, layer->from, channel);
    } else {
        layer->from = segment->to_ambient ? below : segment->target;
    }
    layer->began = (uint16_t)(layer->began + segment->length);
    layer->segment = look->next;
    struct fxp_reader body = fxp_body(player, layer->curve);
    if (look->next < body.end) {
        return;
    }
    struct fxp_curve curve;
    fxp_read_curve(&body, &curve);
    if (curve.loops) {
        layer->segment = curve.segment;
    } else {
        uint8_t ambient_flags = 0; /* an ambient layer is always live, and at level 0 where its target was ambient (6.2 R4) */
        bool is_effect = layer >= player->layers[FXP_EFFECT_LAYER];
        finish(layer, is_effect ? &player->channel_flags[channel] : &ambient_flags, !segment->to_ambient);
    }
}

/* Brings a layer up to this frame and gives its level. 3.6 R3 lets the loop end. */
static uint16_t bring_up(struct fxp *player, struct fxp_layer *layer, struct fxp_look *look, uint8_t channel, uint16_t below)
{
    while (layer->segment != 0) {
        look_at(player, layer, look);
        if (look->t < look->is.length) {
            break;
        }
        go_on(player, layer, look, channel, below);
    }
    return level_of(player, layer, look, channel, below);
}

static struct levels bring_up_channel(struct fxp *player, struct fxp_looks *looks, uint8_t channel)
{
    struct levels levels;
    levels.ambient = bring_up(player, &player->layers[FXP_AMBIENT_LAYER][channel], &looks->of[FXP_AMBIENT_LAYER], channel, 0);
    levels.effect = bring_up(player, &player->layers[FXP_EFFECT_LAYER][channel], &looks->of[FXP_EFFECT_LAYER], channel, levels.ambient);
    return levels;
}

/* 6.2 R5 */
static uint16_t merged(uint8_t flags, struct levels levels)
{
    if ((flags & LATEST) != 0) {
        return (flags & (LIVE | ON_TOP)) == (LIVE | ON_TOP) ? levels.effect : levels.ambient;
    }
    return levels.effect > levels.ambient ? levels.effect : levels.ambient;
}

/* 6.2 R1 */
void fxp_light_start(struct fxp *player, struct fxp_looks *looks, uint8_t channel, uint8_t which, const struct fxp_curve *curve)
{
    struct levels levels = bring_up_channel(player, looks, channel);
    struct fxp_layer *layer = &player->layers[which][channel];
    uint8_t flags = player->channel_flags[channel];
    bool is_effect = which == FXP_EFFECT_LAYER;
    if (curve->starts) {
        layer->from = curve->start;
    } else if ((flags & LATEST) != 0) {
        layer->from = merged(flags, levels);
    } else {
        layer->from = is_effect ? levels.effect : levels.ambient;
    }
    layer->curve = curve->record;
    layer->segment = curve->segment;
    layer->began = (uint16_t)player->frame;
    if (is_effect) {
        flags |= LIVE | ON_TOP | FRESH;
    } else if ((flags & FRESH) == 0) {
        flags &= (uint8_t)~ON_TOP;
    }
    player->channel_flags[channel] = flags | MOVES;
    bring_up(player, layer, &looks->of[which], channel, is_effect ? levels.ambient : 0); /* segments of length 0 */
}

/* 6.5 R1. The products are below 2^24, the last below 2^32. */
static uint16_t gauge_level(uint16_t value, uint16_t maximum, uint8_t channels, uint8_t channel)
{
    uint32_t filled = (uint32_t)value * channels;
    uint32_t before = (uint32_t)channel * maximum;
    if (filled <= before) {
        return 0;
    }
    uint32_t d = filled - before;
    return (uint16_t)(d < maximum ? d * 65535 / maximum : 65535U);
}

static void show_gauge(struct fxp *player, const struct fxp_group *group, uint16_t maximum)
{
    struct fxp_looks looks;
    looks.of[0].segment = looks.of[1].segment = 0;
    for (uint8_t i = 0; i < group->channels; i++) {
        uint8_t channel = (uint8_t)(group->first + i);
        bring_up_channel(player, &looks, channel); /* 6.2 R3: before a gauge changes */
        player->layers[FXP_AMBIENT_LAYER][channel].from = gauge_level(player->counters[group->gauge], maximum, group->channels, i);
        player->channel_flags[channel] |= MOVES;
    }
}

void fxp_light_gauges(struct fxp *player, uint8_t counter)
{
    struct fxp_reader body = fxp_body(player, fxp_find(player, FXP_COUNTERS, counter));
    uint16_t maximum = (uint16_t)fxp_number(&body, 1, 65535);
    uint16_t at = player->first[FXP_GROUPS];
    for (uint8_t left = player->count[FXP_GROUPS]; left > 0; left--) {
        struct fxp_group group;
        body = fxp_body(player, at);
        at = body.end;
        fxp_read_group(&body, 0, &group);
        if (group.gauge == counter) {
            show_gauge(player, &group, maximum);
        }
    }
}

/* Power-up: all duties are to be written, gauges show where their counters start. */
void fxp_light_open(struct fxp *player)
{
    for (uint8_t channel = 0; channel < player->channels; channel++) {
        player->channel_flags[channel] = MOVES;
    }
    uint16_t at = player->first[FXP_GROUPS];
    for (uint8_t left = player->count[FXP_GROUPS]; left > 0; left--) {
        struct fxp_group group;
        struct fxp_reader body = fxp_body(player, at);
        at = body.end;
        fxp_read_group(&body, 0, &group);
        for (uint8_t i = 0; group.latest && i < group.channels; i++) {
            player->channel_flags[group.first + i] |= LATEST;
        }
    }
    for (uint8_t counter = 0; counter < player->count[FXP_COUNTERS]; counter++) {
        fxp_light_gauges(player, counter);
    }
}

/* 6.6. All products are below 2^32. */
static uint16_t duty(uint16_t level, uint8_t pwm_bits)
{
    uint32_t full = (UINT32_C(1) << pwm_bits) - 1;
    uint32_t x = level;
    uint32_t y;
    if (x == 65535) {
        return (uint16_t)full;
    }
    if (x < 5243) {
        y = (x * 7255 + 32768) >> 16;
    } else {
        uint32_t q = (x + 10486) * 56497 >> 16;
        uint32_t s = (q * q + 32768) >> 16;
        y = (s * q + 32768) >> 16;
    }
    return (uint16_t)((y * full + 32768) >> 16);
}

void fxp_light_frame(struct fxp *player, uint16_t *duties)
{
    struct fxp_looks looks;
    looks.of[0].segment = looks.of[1].segment = 0;
    for (uint8_t channel = 0; channel < player->channels; channel++) {
        if ((player->channel_flags[channel] & MOVES) == 0) {
            continue;
        }
        struct levels levels = bring_up_channel(player, &looks, channel);
        uint8_t flags = player->channel_flags[channel];
        duties[channel] = duty(merged(flags, levels), player->pwm_bits);
        flags &= (uint8_t)~FRESH;
        if ((player->layers[FXP_AMBIENT_LAYER][channel].segment | player->layers[FXP_EFFECT_LAYER][channel].segment) == 0) {
            flags &= (uint8_t)~MOVES;
        }
        player->channel_flags[channel] = flags;
    }
}

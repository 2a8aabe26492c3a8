/* Light: SPEC 6.2 to 6.6. A channel without a curve costs a look at its flags. */
#include "fxp_parts.h"

/* Of a channel. MOVES: its duty is to be computed in this frame. FRESH: a curve has started on its effect layer in this frame. LIVE, ON_TOP:
 * its effect layer is live; was started no earlier than its ambient layer (6.2 R5, which asks for no more of `started` than this). */
enum { LATEST = 1, LIVE = 2, ON_TOP = 4, FRESH = 8, MOVES = 16 };

static const uint16_t decay_left[17] FXP_ROM = { /* 6.3 R4 */
    32768, 23914, 17436, 12697, 9230, 6693, 4837, 3479, 2486, 1759, 1227, 838, 554, 345, 193, 82, 0
};

void fxp_look_anew(struct fxp_light *light, struct fxp *player)
{
    light->player = player;
    light->oldest = light->looks;
    for (uint_fast8_t i = 0; i < FXP_LOOKS; i++) {
        light->looks[i].segment = 0;
    }
}

/* part * 32768 / whole, rounded down, for part < whole <= 65535, from 2^31 / whole, rounded down: that is less than 1 too small, so a product with
 * part less than 2^16, and its 2^16th part less than 1; the floor of which is right or 1 too small. All products are below 2^31. */
static uint32_t ratio(uint32_t part, uint32_t whole, uint32_t inverse)
{
    uint32_t u = part * inverse >> 16;
    return (u + 1) * whole <= part << 15 ? u + 1 : u;
}

/* 6.3 for u of t < n; every w is at most 32768. */
static uint32_t way(uint8_t shape, uint32_t u)
{
    if (shape == FXP_STEP) {
        return 32768;
    }
    if (shape == FXP_EASE) {
        return (u * u >> 15) * (98304 - 2 * u) >> 15; /* below 2^15 * 2^17 */
    }
    if (shape == FXP_DECAY) {
        const uint16_t *left = &decay_left[u >> 11];
        uint32_t before = FXP_ROM_WORD(left);
        uint32_t lost = (before - FXP_ROM_WORD(left + 1)) * (u & 2047) >> 11; /* below 2^14 * 2^11 */
        return 32768 - (before - lost);
    }
    return u;
}

/* 6.2 R3: what follows a segment of the fade that has `behind` behind it. */
static uint16_t next_segment(const struct fxp *player, uint16_t behind)
{
    struct fxp_reader body;
    uint16_t at = player->first[FXP_FADES];
    do {
        fxp_body(&body, player, at);
        at = body.end;
    } while (at < behind);
    if (behind < at) {
        return behind;
    }
    fxp_read_curve(&body);
    return (body.flags & 1) != 0 ? body.at : 0;
}

/* 6.4: k and r, without a division: 2^16 / every, rounded down, gives a quotient that is right or 1 too small. */
static void weigh_flicker(const struct fxp_light *light, struct fxp_look *look)
{
    uint32_t every = look->is.every;
    uint32_t rest = look->t - (look->t * (look->inverse >> 15) >> 16) * every; /* below 2^16 * 2^16 + 1 */
    if (rest >= every) {
        rest -= every;
    }
    look->rest = (uint16_t)rest;
    look->way = (uint16_t)ratio(rest, every, look->inverse);
    look->hashed = light->player->frame - rest + light->player->seed;
}

/* A look at a segment that began in a frame. */
static void weigh(const struct fxp_light *light, struct fxp_look *look, uint16_t began)
{
    uint16_t t = (uint16_t)(light->player->frame - began);
    look->began = began;
    look->t = t;
    look->way = 32768;
    if (t >= look->is.length && !look->ended) {
        look->next = next_segment(light->player, look->behind);
        look->ended = true;
    }
    if (look->is.shape == FXP_FLICKER) {
        weigh_flicker(light, look);
    } else if (t < look->is.length) {
        look->way = (uint16_t)way(look->is.shape, ratio(t, look->is.length, look->inverse));
    }
}

/* A segment that has not been looked at, in place of the oldest look. */
static struct fxp_look *look_new(struct fxp_light *light, uint16_t segment)
{
    struct fxp_look *look = light->oldest;
    light->oldest = look + 1 < light->looks + FXP_LOOKS ? look + 1 : light->looks;
    struct fxp_reader reader = {light->player, segment, 0xFFFF, 0, FXP_OK, 0};
    fxp_read_segment(&reader, &look->is);
    look->segment = segment;
    look->behind = reader.at;
    look->ended = false;
    uint16_t whole = look->is.shape == FXP_FLICKER ? look->is.every : look->is.length;
    if (look->is.shape != FXP_STEP && whole != 0) {
        look->inverse = fxp_divide(UINT32_C(0x80000000), whole);
    }
    return look;
}

/* The segment that a layer is in, at this frame. */
static const struct fxp_look *look_at(struct fxp_light *light, const struct fxp_layer *layer)
{
    uint16_t segment = layer->segment;
    uint16_t began = layer->began;
    struct fxp_look *look = light->looks;
    while (look->segment != segment) {
        if (++look == light->looks + FXP_LOOKS) {
            look = look_new(light, segment);
            look->began = (uint16_t)(began + 1); /* not yet weighed */
        }
    }
    if (look->began != began) {
        weigh(light, look, began);
    }
    return look;
}

/* 6.4 R2. Products and sums are modulo 2^32. */
static uint32_t flicker_hash(uint32_t x)
{
    x = (x ^ x >> 16) * UINT32_C(0x7FEB352D);
    x = (x ^ x >> 15) * UINT32_C(0x846CA68B);
    return (x ^ x >> 16) >> 16;
}

/* 6.4 R1. The division of (q - p) * r by every is not made for each channel, but from r / every in 1/32768: that is less than 1/32768 too small, the
 * product less than 2, and its floor is short of the quotient by at most 2. size * rest is below 2^31. */
static uint16_t flicker(const struct fxp_light *light, const struct fxp_look *look, uint16_t a)
{
    const struct fxp_segment *segment = &look->is;
    uint32_t x = look->hashed + light->channel * UINT32_C(0x9E3779B1);
    uint32_t span = (uint32_t)segment->target - segment->low; /* 3.6 R2: not negative */
    uint32_t p = a;
    if (look->t != look->rest) { /* k is not 0 */
        p = segment->low + (span * flicker_hash(x) >> 16);
    }
    uint32_t q = segment->low + (span * flicker_hash(x + segment->every) >> 16);
    uint32_t size = q >= p ? q - p : p - q;
    uint32_t moved = size * look->way >> 15;
    uint32_t left = size * look->rest - moved * segment->every;
    while (left >= segment->every) {
        left -= segment->every;
        moved++;
    }
    return (uint16_t)(q >= p ? p + moved : p - moved);
}

/* 2.5. The product is at most 2^31 - 2^15. */
static uint16_t toward(uint16_t a, uint16_t b, uint16_t w)
{
    if (b >= a) {
        return (uint16_t)(a + ((uint32_t)(b - a) * w >> 15));
    }
    return (uint16_t)(a - ((uint32_t)(a - b) * w >> 15));
}

/* 6.2 R3, the end of a curve that does not loop, on an effect layer: its level. */
static uint16_t finish(uint8_t *flags, uint16_t level, bool stays)
{
    *flags &= (uint8_t)~LIVE;
    if (!stays || level == 0) {
        return 0;
    }
    *flags |= LIVE;
    return level;
}

/* 6.2 R2 and R3: brings a layer with a curve up to this frame and gives its level. below: what the target ambient stands for. 3.6 R3 lets the loop end. */
static uint16_t bring_up(struct fxp_light *light, struct fxp_layer *layer, uint16_t below)
{
    do {
        const struct fxp_look *look = look_at(light, layer);
        uint16_t level;
        if (look->is.shape == FXP_FLICKER) {
            level = flicker(light, look, layer->from);
        } else {
            level = toward(layer->from, look->is.to_ambient ? below : look->is.target, look->way);
        }
        if (look->t < look->is.length) {
            return level;
        }
        layer->from = level;
        layer->began = (uint16_t)(layer->began + look->is.length);
        layer->segment = look->next;
        if (look->next == 0 && layer != light->layers) {
            layer->from = finish(light->flags, level, !look->is.to_ambient);
        }
    } while (layer->segment != 0);
    return layer->from;
}

static uint16_t level_now(struct fxp_light *light, struct fxp_layer *layer, uint16_t below)
{
    return layer->segment == 0 ? layer->from : bring_up(light, layer, below);
}

static void go_to(struct fxp_light *light, uint8_t channel)
{
    light->channel = channel;
    light->layers = light->player->layers[channel];
    light->flags = &light->player->channel_flags[channel];
}

static void bring_up_channel(struct fxp_light *light)
{
    light->ambient = level_now(light, light->layers, 0);
    light->effect = level_now(light, light->layers + FXP_EFFECT_LAYER, light->ambient);
}

/* 6.2 R5 */
static uint16_t merged(const struct fxp_light *light)
{
    uint8_t flags = *light->flags;
    if ((flags & LATEST) != 0 ? (flags & (LIVE | ON_TOP)) == (LIVE | ON_TOP) : light->effect > light->ambient) {
        return light->effect;
    }
    return light->ambient;
}

/* 6.2 R1. A segment of length 0 is over when it begins. */
void fxp_light_curve(const struct fxp *player, uint16_t record, uint8_t layer, struct fxp_curve *curve)
{
    struct fxp_reader body;
    struct fxp_segment segment;
    fxp_body(&body, player, record);
    curve->level = fxp_read_curve(&body);
    curve->from = (body.flags & 2) != 0 ? FXP_FROM_LEVEL : FXP_FROM_PRESENT;
    curve->layer = layer;
    curve->segment = 0;
    while (body.at < body.end) {
        uint16_t at = body.at;
        fxp_read_segment(&body, &segment);
        if (segment.length != 0) {
            curve->segment = at;
            return;
        }
        curve->level = segment.target;
        curve->stays = !segment.to_ambient;
        curve->from = segment.to_ambient && layer == FXP_EFFECT_LAYER ? FXP_FROM_AMBIENT : FXP_FROM_LEVEL; /* 6.2 R4: the target is 0 then */
    }
}

static uint16_t start_level(const struct fxp_light *light, const struct fxp_curve *curve)
{
    if (curve->from == FXP_FROM_LEVEL) {
        return curve->level;
    }
    if (curve->from == FXP_FROM_PRESENT) {
        if ((*light->flags & LATEST) != 0) {
            return merged(light);
        }
        if (curve->layer == FXP_EFFECT_LAYER) {
            return light->effect;
        }
    }
    return light->ambient;
}

/* 6.2 R1 */
void fxp_light_start(struct fxp_light *light, uint8_t channel, const struct fxp_curve *curve)
{
    go_to(light, channel);
    if (curve->from != FXP_FROM_LEVEL || curve->layer == FXP_AMBIENT_LAYER) { /* else nobody asks for what the curve puts an end to */
        bring_up_channel(light);
    }
    struct fxp_layer *layer = light->layers + curve->layer;
    layer->from = start_level(light, curve);
    layer->segment = curve->segment;
    layer->began = (uint16_t)light->player->frame;
    uint8_t flags = *light->flags | MOVES;
    if (curve->layer == FXP_EFFECT_LAYER) {
        flags |= LIVE | ON_TOP | FRESH;
        if (curve->segment == 0) {
            layer->from = finish(&flags, layer->from, curve->stays);
        }
    } else if ((flags & FRESH) == 0) {
        flags &= (uint8_t)~ON_TOP;
    }
    *light->flags = flags;
}

/* 6.5 R1. The products are below 2^24, the last below 2^32. */
static uint16_t gauge_level(uint16_t value, uint16_t maximum, uint8_t channels, uint8_t channel)
{
    uint32_t filled = (uint32_t)value * channels;
    uint32_t before = (uint32_t)channel * maximum;
    uint32_t d = filled > before ? filled - before : 0;
    return (uint16_t)fxp_divide((d < maximum ? d : maximum) * 65535, maximum);
}

static void show_gauge(struct fxp *player, const struct fxp_group *group)
{
    struct fxp_light light;
    uint16_t maximum = fxp_leads(player, FXP_COUNTERS, group->gauge);
    fxp_look_anew(&light, player);
    for (uint8_t i = 0; i < group->channels; i++) {
        go_to(&light, (uint8_t)(group->first + i));
        bring_up_channel(&light); /* 6.2 R3: before a gauge changes */
        light.layers->from = gauge_level(player->counters[group->gauge], maximum, group->channels, i);
        *light.flags |= MOVES;
    }
}

/* The gauges that show a counter; for FXP_NONE all of them. */
void fxp_light_gauges(struct fxp *player, uint8_t counter)
{
    struct fxp_reader body;
    struct fxp_group group;
    body.end = player->first[FXP_GROUPS];
    for (uint_fast8_t left = player->count[FXP_GROUPS]; left > 0; left--) {
        fxp_body(&body, player, body.end);
        fxp_read_group(&body, 0, &group);
        for (uint_fast8_t i = 0; counter == FXP_NONE && i < group.channels; i++) {
            player->channel_flags[group.first + i] |= group.latest; /* LATEST */
        }
        if (group.gauge != FXP_NONE && (counter == FXP_NONE || group.gauge == counter)) {
            show_gauge(player, &group);
        }
    }
}

/* Power-up: all duties are to be written, gauges show where their counters start. */
void fxp_light_open(struct fxp *player)
{
    for (uint8_t channel = 0; channel < player->channels; channel++) {
        player->channel_flags[channel] = MOVES;
    }
    fxp_light_gauges(player, FXP_NONE);
}

/* 6.6. All products are below 2^32. */
static uint16_t duty(uint32_t x, uint8_t pwm_bits)
{
    uint32_t full = (UINT32_C(1) << pwm_bits) - 1;
    if (x == 65535) {
        return (uint16_t)full;
    }
    uint32_t y = x * 7255;
    if (x >= 5243) {
        uint32_t q = (x + 10486) * 56497 >> 16;
        y = ((q * q + 32768) >> 16) * q;
    }
    return (uint16_t)((((y + 32768) >> 16) * full + 32768) >> 16);
}

static uint16_t level_of(struct fxp_light *light, uint8_t channel)
{
    go_to(light, channel);
    bring_up_channel(light);
    uint8_t flags = (uint8_t)(*light->flags & ~FRESH);
    if ((light->layers[FXP_AMBIENT_LAYER].segment | light->layers[FXP_EFFECT_LAYER].segment) == 0) {
        flags &= (uint8_t)~MOVES;
    }
    *light->flags = flags;
    return merged(light);
}

void fxp_light_frame(struct fxp *player, uint16_t *duties)
{
    struct fxp_light light;
    uint16_t last_level = 0; /* of the channel before, and its duty: alike channels have the same */
    uint16_t last_duty = 0;
    const uint8_t *flags = player->channel_flags;
    fxp_look_anew(&light, player);
    for (uint8_t channel = 0; channel < player->channels; channel++) {
        if ((*flags++ & MOVES) != 0) {
            uint16_t level = level_of(&light, channel);
            if (level != last_level) {
                last_level = level;
                last_duty = duty(level, player->pwm_bits);
            }
            duties[channel] = last_duty;
        }
    }
}

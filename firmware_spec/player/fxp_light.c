/* Light: SPEC 6.2 to 6.6. A channel is looked at by turns, and at once where something starts or ends on it; one without a curve costs a look at its
 * flags. */
#include "fxp_parts.h"

/* Of a channel. MOVES: its duty is to be computed at the next look; NOW: that is in this frame. FRESH: a curve has started on its effect layer in this
 * frame. LIVE, ON_TOP: its effect layer is live; was started no earlier than its ambient layer (6.2 R5, which asks for no more of `started`). */
enum { LATEST = 1, LIVE = 2, ON_TOP = 4, FRESH = 8, MOVES = 16, NOW = 32 };

static const uint16_t decay_left[17] FXP_ROM = { /* 6.3 R4 */
    32768, 23914, 17436, 12697, 9230, 6693, 4837, 3479, 2486, 1759, 1227, 838, 554, 345, 193, 82, 0
};

/* A channel at this frame. */
struct light {
    const struct fxp *player;
    struct fxp_layer *layers;
    uint8_t *flags;
    uint8_t channel;
    bool flickers;            /* its level is its own */
    uint16_t ambient, effect; /* levels, once brought up */
};

/* 6.3 for u of t < n. */
static uint16_t way(uint8_t shape, uint16_t u)
{
    if (shape == FXP_STEP) {
        return 32768;
    }
    if (shape == FXP_EASE) {
        return (uint16_t)(((uint32_t)u * u >> 15) * (98304 - 2 * (uint32_t)u) >> 15); /* below 2^15 * 2^17 */
    }
    if (shape == FXP_DECAY) {
        const uint16_t *left = &decay_left[u >> 11 & 15];
        uint16_t before = FXP_ROM_WORD(left);
        uint16_t step = (uint16_t)(before - FXP_ROM_WORD(left + 1));
        uint16_t lost = (uint16_t)((uint32_t)step * (uint16_t)(u & 2047) >> 11); /* below 2^14 * 2^11 */
        return (uint16_t)(32768 - (uint16_t)(before - lost));
    }
    return u;
}

/* t * pace >> by (6.3 R2). */
static uint16_t moved(uint16_t t, uint16_t pace, uint8_t by)
{
    uint32_t product = (uint32_t)t * pace;
#ifdef FXP_SMALL /* a byte at once, since the chip moves by one bit */
    if ((by & 8) != 0) {
        product >>= 8;
    }
    return (uint16_t)(product >> (by & 7));
#else
    return (uint16_t)(product >> (by & 15));
#endif
}

/* 2.3. The product is at most 2^31 - 2^15. */
static uint16_t toward(uint16_t a, uint16_t b, uint16_t w)
{
    if (b >= a) {
        return (uint16_t)(a + ((uint32_t)(uint16_t)(b - a) * w << 1 >> 16));
    }
    return (uint16_t)(a - ((uint32_t)(uint16_t)(a - b) * w << 1 >> 16));
}

/* 6.4: the level of a point, from its number and frame. Products and sums are modulo 2^32. */
static uint16_t point(uint32_t x, uint16_t low, uint16_t high)
{
    x = (x ^ x >> 16) * UINT32_C(0x7FEB352D);
    x = (x ^ x >> 15) * UINT32_C(0x846CA68B);
    x = (x ^ x >> 16) >> 16;
    return (uint16_t)(low + (((uint32_t)high - low) * x >> 16));
}

/* 6.4 R1 */
static uint16_t flicker(struct light *light, fxp_table segment, const struct fxp_layer *layer, uint16_t t)
{
    const struct fxp *player = light->player;
    uint32_t began = player->frame - t;
    light->flickers = true;
    uint32_t phase = (uint32_t)t * FXP_TABLE_HALF(segment, FXP_S_PACE);
    uint32_t x = began + player->seed + (phase & UINT32_C(0xFFFF0000)) + light->channel * UINT32_C(0x9E3779B1);
    uint16_t low = (uint16_t)(257U * FXP_TABLE_BYTE(segment, FXP_S_BY));
    uint16_t high = FXP_TABLE_HALF(segment, FXP_S_TARGET);
    uint16_t p = phase >> 16 == 0 ? layer->from : point(x, low, high);
    uint16_t w = (uint16_t)phase >> 1;
    return w == 0 ? p : toward(p, point(x + 65536, low, high), w);
}

/* 6.2 R3, the end of a curve on an effect layer: its level. */
static uint16_t finish(uint8_t *flags, uint16_t level, bool stays)
{
    *flags &= (uint8_t)~LIVE;
    if (!stays || level == 0) {
        return 0;
    }
    *flags |= LIVE;
    return level;
}

/* What comes behind a segment (3.6): 1 and its index, like `segment`; 0: nothing. */
static uint16_t behind(const struct fxp *player, uint16_t segment, uint8_t shape)
{
    if ((shape & FXP_LAST_SEGMENT) == 0) {
        return (uint16_t)(segment + 1);
    }
    while ((shape & FXP_TURN) == 0) {
        segment--;
        if (segment == 0) {
            return 0;
        }
        shape = FXP_TABLE_BYTE(fxp_record(player, FXP_SEGMENTS, (uint16_t)(segment - 1)), FXP_S_SHAPE);
        if ((shape & FXP_LAST_SEGMENT) != 0) { /* of the fade before */
            return 0;
        }
    }
    return segment;
}

/* Level of a segment at t: of its length, the level at which it ends. */
static uint16_t level_at(struct light *light, const struct fxp_layer *layer, fxp_table at, uint8_t shape, uint16_t t, bool over, uint16_t below)
{
    if ((shape & FXP_SHAPE) == FXP_FLICKER) {
        return flicker(light, at, layer, t);
    }
    uint16_t target = FXP_TABLE_HALF(at, FXP_S_TARGET);
    if ((shape & FXP_TO_AMBIENT) != 0) {
        target = below;
    }
    if (over) {
        return target;
    }
    uint16_t u = moved(t, FXP_TABLE_HALF(at, FXP_S_PACE), FXP_TABLE_BYTE(at, FXP_S_BY));
    return toward(layer->from, target, way(shape & FXP_SHAPE, u));
}

/* When a segment is over that begins now. */
static uint16_t end_of(const struct fxp *player, uint16_t segment)
{
    fxp_table at = fxp_record(player, FXP_SEGMENTS, (uint16_t)(segment - 1));
    return (uint16_t)(player->frame + FXP_TABLE_HALF(at, FXP_S_LENGTH));
}

/* 6.2 R2 and R3: a layer's level at this look. below: what the target ambient stands for. */
static uint16_t level_now(struct light *light, struct fxp_layer *layer, uint16_t below)
{
    const struct fxp *player = light->player;
    uint_fast8_t most = FXP_MOST_ENDS;
    while (layer->segment != 0) {
        fxp_table at = fxp_record(player, FXP_SEGMENTS, (uint16_t)(layer->segment - 1));
        uint16_t t = (uint16_t)(FXP_TABLE_HALF(at, FXP_S_LENGTH) - (uint16_t)(layer->ends - (uint16_t)player->frame));
        uint8_t shape = FXP_TABLE_BYTE(at, FXP_S_SHAPE);
        bool over = layer->ends == (uint16_t)player->frame;
        uint16_t level = level_at(light, layer, at, shape, t, over, below);
        if (!over || most == 0) {
            return level;
        }
        most--;
        layer->from = level;
        layer->segment = behind(player, layer->segment, shape);
        layer->ends = end_of(player, layer->segment);
        if (layer->segment == 0 && layer != light->layers) {
            layer->from = finish(light->flags, level, (shape & FXP_TO_AMBIENT) == 0);
        }
    }
    return layer->from;
}

static void go_to(struct light *light, struct fxp *player, uint8_t channel)
{
    light->player = player;
    light->channel = channel;
    light->layers = player->layers[channel];
    light->flags = &player->channel_flags[channel];
}

/* 6.2 R3 */
static void look(struct light *light)
{
    light->ambient = level_now(light, light->layers, 0);
    light->effect = level_now(light, light->layers + FXP_EFFECT_LAYER, light->ambient);
}

/* 6.2 R5 */
static uint16_t merged(const struct light *light)
{
    uint8_t flags = *light->flags;
    if ((flags & LATEST) != 0 ? (flags & (LIVE | ON_TOP)) == (LIVE | ON_TOP) : light->effect > light->ambient) {
        return light->effect;
    }
    return light->ambient;
}

/* A curve that is to start, past the segments of length 0 that it may begin with. */
struct curve {
    uint16_t segment; /* as in a layer */
    uint16_t ends;
    uint16_t level;   /* from which it starts, if `from` is FROM_LEVEL */
    uint8_t from;
    bool stays; /* if segment is 0: whether an effect layer stays live (6.2 R3) */
};
enum { FROM_LEVEL, FROM_PRESENT, FROM_AMBIENT };

/* 6.2 R1. A segment of length 0 is over when it begins. */
static void read_curve(const struct fxp *player, uint16_t segment, uint8_t layer, struct curve *curve)
{
    curve->segment = (uint16_t)(segment + 1);
    curve->ends = 0;
    curve->level = 0;
    curve->from = FROM_PRESENT;
    curve->stays = true;
    for (uint_fast8_t most = FXP_MOST_ENDS; most > 0 && curve->segment != 0; most--) {
        fxp_table at = fxp_record(player, FXP_SEGMENTS, (uint16_t)(curve->segment - 1));
        uint8_t shape = FXP_TABLE_BYTE(at, FXP_S_SHAPE);
        uint16_t length = FXP_TABLE_HALF(at, FXP_S_LENGTH);
        curve->ends = (uint16_t)(player->frame + length);
        if (length != 0) {
            return;
        }
        curve->stays = (shape & FXP_TO_AMBIENT) == 0;
        curve->level = FXP_TABLE_HALF(at, FXP_S_TARGET);
        if (!curve->stays) {
            curve->level = 0; /* 6.2 R4 */
        }
        curve->from = curve->stays || layer == FXP_AMBIENT_LAYER ? FROM_LEVEL : FROM_AMBIENT;
        curve->segment = behind(player, curve->segment, shape);
    }
}

static uint16_t start_level(const struct light *light, const struct curve *curve, uint8_t layer)
{
    if (curve->from == FROM_LEVEL) {
        return curve->level;
    }
    if (curve->from == FROM_PRESENT) {
        if ((*light->flags & LATEST) != 0) {
            return merged(light);
        }
        if (layer == FXP_EFFECT_LAYER) {
            return light->effect;
        }
    }
    return light->ambient;
}

static void start(struct light *light, const struct curve *curve, uint8_t which)
{
    if (curve->from != FROM_LEVEL || which == FXP_AMBIENT_LAYER) { /* else nobody asks for what the curve puts an end to */
        look(light);
    }
    struct fxp_layer *layer = light->layers + which;
    layer->from = start_level(light, curve, which);
    layer->segment = curve->segment;
    layer->ends = curve->ends;
    uint8_t flags = *light->flags | MOVES | NOW;
    if (which == FXP_EFFECT_LAYER) {
        flags |= LIVE | ON_TOP | FRESH;
        if (curve->segment == 0) {
            layer->from = finish(&flags, layer->from, curve->stays);
        }
    } else if ((flags & FRESH) == 0) {
        flags &= (uint8_t)~ON_TOP;
    }
    *light->flags = flags;
}

/* 6.2 R1, on `channels` channels from `channel` on. */
void fxp_light_start(struct fxp *player, uint16_t segment, uint8_t layer, uint8_t channel, uint8_t channels)
{
    struct curve curve;
    struct light light;
    read_curve(player, segment, layer, &curve);
    for (; channels > 0 && channel < player->channels; channels--) {
        go_to(&light, player, channel);
        start(&light, &curve, layer);
        channel++;
    }
}

/* 6.5 R1. The products are below 2^24, the last below 2^32. Of a group at most one channel is lit in part, so the division is rare. */
static uint16_t gauge_level(uint16_t value, uint16_t maximum, uint8_t channels, uint8_t channel)
{
    uint32_t filled = (uint32_t)value * channels;
    uint32_t before = (uint32_t)channel * maximum;
    if (filled <= before) {
        return 0;
    }
    if (filled - before >= maximum) {
        return 65535;
    }
    return (uint16_t)fxp_divide((filled - before) * 65535, maximum);
}

static void show_gauge(struct fxp *player, fxp_table group, uint8_t counter)
{
    struct light light;
    uint16_t maximum = FXP_TABLE_HALF(fxp_record(player, FXP_COUNTERS, counter), 0);
    uint8_t first = FXP_TABLE_BYTE(group, FXP_G_FIRST);
    uint8_t channels = FXP_TABLE_BYTE(group, FXP_G_CHANNELS);
    for (uint8_t i = 0; i < channels && first + i < player->channels; i++) {
        go_to(&light, player, (uint8_t)(first + i));
        look(&light);
        light.layers->from = gauge_level(player->counters[counter], maximum, channels, i);
        *light.flags |= MOVES | NOW;
    }
}

/* The gauges that show a counter; for FXP_NONE all of them. */
void fxp_light_gauges(struct fxp *player, uint8_t counter)
{
    for (uint8_t index = 0; index < player->count[FXP_GROUPS]; index++) {
        fxp_table group = fxp_record(player, FXP_GROUPS, index);
        uint8_t gauge = FXP_TABLE_BYTE(group, FXP_G_GAUGE);
        if (gauge < player->count[FXP_COUNTERS] && (counter == FXP_NONE || gauge == counter)) {
            show_gauge(player, group, gauge);
        }
    }
}

/* Power-up: all duties are to be written, gauges show where their counters start. */
void fxp_light_open(struct fxp *player)
{
    for (uint8_t channel = 0; channel < player->channels; channel++) {
        player->channel_flags[channel] = MOVES | NOW;
    }
    for (uint8_t index = 0; index < player->count[FXP_GROUPS]; index++) {
        fxp_table group = fxp_record(player, FXP_GROUPS, index);
        uint8_t channel = FXP_TABLE_BYTE(group, FXP_G_FIRST);
        uint8_t channels = FXP_TABLE_BYTE(group, FXP_G_CHANNELS);
        for (; channels > 0 && channel < player->channels; channels--) {
            if (FXP_TABLE_BYTE(group, FXP_G_LATEST) != 0) {
                player->channel_flags[channel] |= LATEST;
            }
            channel++;
        }
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

/* Whether the layers of two channels are at the same place of the same segments, and so have the same levels. */
static bool alike(const struct fxp_layer *one, const struct fxp_layer *other)
{
    for (uint_fast8_t layer = 0; layer < 2; layer++) {
        if (one->segment != other->segment || one->ends != other->ends || one->from != other->from) {
            return false;
        }
        one++;
        other++;
    }
    return true;
}

/* Whether a channel is to be looked at (6.2): a segment is over, or it is its turn, counted from the end of the segment under way of its effect layer
 * or, without one, of its ambient layer. */
static bool has_turn(const struct fxp *player, uint8_t channel, uint8_t turn)
{
    const struct fxp_layer *layer = player->layers[channel];
    uint16_t frame = (uint16_t)player->frame;
    uint16_t ends = layer->ends;
    if (ends == frame && layer->segment != 0) {
        return true;
    }
    if (layer[FXP_EFFECT_LAYER].segment != 0) {
        ends = layer[FXP_EFFECT_LAYER].ends;
        if (ends == frame) {
            return true;
        }
    }
    return ((uint8_t)(turn - ends) & player->light_mask) == 0;
}

static uint16_t seen(struct light *light)
{
    light->flickers = false;
    look(light);
    uint8_t flags = *light->flags & (uint8_t)~(FRESH | NOW);
    if ((light->layers[FXP_AMBIENT_LAYER].segment | light->layers[FXP_EFFECT_LAYER].segment) == 0) {
        flags &= (uint8_t)~MOVES;
    }
    *light->flags = flags;
    return merged(light);
}

void fxp_play_light(struct fxp *player, uint16_t *duties)
{
    struct light light;
    uint8_t turn = (uint8_t)player->frame; /* and 0 + 1 + .. + channel, so that no stagger gives many channels the same turn */
    uint8_t before = 0; /* flags of the channel that was looked at last, as they were; 0: none, or it flickers */
    uint16_t last = 0;  /* ... and its duty */
    for (uint8_t channel = 0; channel < player->channels; channel++) {
        uint8_t flags = player->channel_flags[channel];
        if ((flags & MOVES) != 0 && ((flags & NOW) != 0 || has_turn(player, channel, turn))) {
            if (flags == before && alike(player->layers[channel], light.layers)) {
                player->channel_flags[channel] = *light.flags;
            } else {
                go_to(&light, player, channel);
                last = duty(seen(&light), player->pwm_bits);
                before = light.flickers ? 0 : flags;
            }
            duties[channel] = last;
        }
        turn = (uint8_t)(turn + channel + 1);
    }
}

bool fxp_light_moves(const struct fxp *player)
{
    for (uint8_t channel = 0; channel < player->channels; channel++) {
        if ((player->channel_flags[channel] & MOVES) != 0) {
            return true;
        }
    }
    return false;
}

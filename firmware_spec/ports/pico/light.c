/* Dimming by bits: bit n of all duties is put out for 2^n units of time, one bit after the other; a light period is all of them. A chain is dark for as
 * long as the next bits take to be shifted where that is longer than a bit is lit. A PIO machine puts them out with the times that stand between them, a DMA channel brings them, and a second one starts the first anew at the begin of each period with the
 * set that is `shown`. Of three sets one is shown next, one may be under way, and one is free to be written: no period ever mixes two frames.
 * A chain of drivers dims by itself; its period is only how often it is written. */
#include "light.h"

#include "rp2040.h"

enum { OUTPUTS = 1 + JOINT_CHAINS_MOST, SETS = 3, MOST_LIGHTS = 26 };
enum { PLANES = 12, UNIT = 23 }; /* 4095 * 23 cycles: 1327 Hz; shorter pulses are too short for what switches LEDs */
enum { WORD_BITS = 24, BIT_CYCLES = 10 /* 12.5 MHz */, GROUP = 24, DRIVER_BITS = 12, HEAD_WORDS = 3 };
enum { GROUPS_MOST = (FXP_MAX_CHANNELS + GROUP - 1) / GROUP, MOST_WORDS = PLANES * (HEAD_WORDS + GROUPS_MOST) };
#define DRIVER_PERIOD (SYS_HZ / 200u)

/* Instructions of the PIO (data sheet 3.4). With two pins set aside, their levels stand above a delay of three bits. */
enum {
    OUT_PINS = 0x6000, OUT_X = 0x6020, OUT_Y = 0x6040, OUT_PLACE = 0x60A0, JUMP = 0x0000, JUMP_X_DOWN = 0x0040, JUMP_Y_DOWN = 0x0080, PULL = 0x8080, SET_PINS = 0xE000,
    SET_DIRECTIONS = 0xE080, CLOCK = 1 << 11, LATCH = 2 << 11
};
#define DELAY(cycles) ((cycles) << 8)

enum { PIN_PROGRAM = 0, PIN_STEPS = 3, CHAIN_STEPS = 9, DARK_STEP = 3, BITS_STEP, SHIFT_PROGRAM = PIN_STEPS, DRIVER_PROGRAM = SHIFT_PROGRAM + CHAIN_STEPS };

struct output {
    bool runs;
    uint8_t use;                     /* enum joint_use */
    uint8_t what, count, pin;        /* of a chain */
    uint16_t words;                  /* of a set; 0: this output is not used */
    uint32_t *volatile shown;
    uint32_t sets[SETS][MOST_WORDS + 1]; /* where a set ends, the next does not begin */
};

struct light {
    uint8_t channel, pin;
};

static struct output outputs[OUTPUTS];
static struct light lights[MOST_LIGHTS]; /* of outputs[0] */
static uint8_t light_count;

static uint8_t data_dma(uint8_t index)
{
    return (uint8_t)(LIGHT_DMA + 2 * index);
}

/* 0 stays 0 and all bits set stays all bits set. */
static uint32_t scaled(uint16_t duty, uint8_t bits, uint8_t to)
{
    uint32_t full = (uint32_t)duty << (16 - bits) | (uint32_t)duty >> (2 * bits - 16);
    return full >> (16 - to);
}

/* Three registers or one driver each: a chain is written in whole ones. */
static uint8_t groups_of(const struct output *chain)
{
    return (uint8_t)((chain->count + GROUP - 1) / GROUP);
}

/* Programs: `out` takes what DMA brings. */

static void write_pin_program(void)
{
    PIO_MEMORY(PIO0, PIN_PROGRAM) = OUT_PINS; /* 32 */
    PIO_MEMORY(PIO0, PIN_PROGRAM + 1) = OUT_X;
    PIO_MEMORY(PIO0, PIN_PROGRAM + 2) = JUMP_X_DOWN | (PIN_PROGRAM + 2);
}

/* The rest of the time of the plane before; dark or still lit, the bits of this one; and the latch. `blank` is the level of that pin meanwhile, then it
 * is low. */
static void write_chain_program(uint8_t at, uint8_t blank)
{
    const uint16_t steps[CHAIN_STEPS] = {
        OUT_Y | WORD_BITS,
        (uint16_t)(JUMP_Y_DOWN | (at + 1)),
        OUT_PLACE | WORD_BITS,
        SET_PINS | 1, /* DARK_STEP */
        OUT_X | WORD_BITS, /* BITS_STEP */
        OUT_PINS | 1 | DELAY(BIT_CYCLES / 2 - 1),
        (uint16_t)(JUMP_X_DOWN | (at + 5) | CLOCK | DELAY(BIT_CYCLES / 2 - 1)),
        (uint16_t)(SET_PINS | blank | LATCH | DELAY(7)),
        SET_PINS,
    };
    for (uint8_t i = 0; i < CHAIN_STEPS; i++) {
        PIO_MEMORY(PIO0, at + i) = steps[i];
    }
}

static void set_program(uint8_t machine, uint8_t first, uint8_t steps, uint8_t word_bits)
{
    SET(PIO_CTRL(PIO0)) = BIT(4 + machine);
    PIO_SHIFT(PIO0, machine) = 0;
    while ((PIO_FIFOS(PIO0) & BIT(24 + machine)) == 0) {
        PIO_EXECUTE(PIO0, machine) = PULL; /* what was left */
    }
    PIO_DIVIDER(PIO0, machine) = 1u << 16;
    PIO_EXECUTION(PIO0, machine) = (first + steps - 1u) << 12 | (uint32_t)first << 7;
    PIO_SHIFT(PIO0, machine) = BIT(30) | (word_bits & 31u) << 25 | BIT(17); /* both FIFOs send; automatic pull */
    PIO_EXECUTE(PIO0, machine) = JUMP | first;
    SET(PIO_CTRL(PIO0)) = BIT(4 + machine); /* nothing is left of the last word */
}

/* Pins from one on: out, at these levels. */
static void drive(uint8_t machine, uint8_t pin, uint8_t count, uint8_t levels)
{
    PIO_PINS(PIO0, machine) = (uint32_t)count << 26 | (uint32_t)pin << 5;
    PIO_EXECUTE(PIO0, machine) = SET_PINS | levels;
    PIO_EXECUTE(PIO0, machine) = SET_DIRECTIONS | (BIT(count) - 1);
}

/* Opening: everything of a set that does not change from frame to frame. */

static void add_lights(const struct joint *joint)
{
    for (uint8_t i = 0; i < joint->value; i++) {
        lights[light_count++] = (struct light){(uint8_t)(joint->what + i), (uint8_t)(joint->pin + i)};
        pin_put_out((uint8_t)(joint->pin + i), false);
    }
}

static void open_pins(const struct joints *joints)
{
    struct output *output = &outputs[0];
    const struct joint *joint;
    uint8_t number = 0;
    light_count = 0;
    while ((joint = joints_next(joints, JOINT_LIGHTS, &number)) != 0) {
        add_lights(joint);
    }
    output->use = JOINT_LIGHTS;
    output->words = light_count > 0 ? 2 * PLANES : 0;
    for (uint8_t set = 0; set < SETS; set++) {
        for (uint8_t plane = 0; plane < PLANES; plane++) {
            output->sets[set][2 * plane + 1] = ((uint32_t)UNIT << plane) - 3;
        }
    }
}

/* The head of a plane, in cycles from one latch to the next: for how long the one before, which is lit for `lit`, stays as it is; where its program goes
 * on; and how many bits there are. */
static void open_plane(uint32_t *word, uint8_t program, uint32_t lit, uint32_t bits)
{
    enum { BEFORE_DARK = 12, BEFORE_BITS = 13 }; /* of the program: steps without the wait */
    uint32_t shifting = BEFORE_BITS + bits * BIT_CYCLES;
    bool goes_dark = lit < shifting;
    word[0] = (goes_dark ? lit - BEFORE_DARK : lit - shifting) << (32 - WORD_BITS);
    word[1] = (uint32_t)(program + (goes_dark ? DARK_STEP : BITS_STEP)) << (32 - WORD_BITS);
    word[2] = (bits - 1) << (32 - WORD_BITS);
}

static void open_planes(struct output *chain, uint8_t program, uint8_t planes, uint16_t words, uint32_t unit)
{
    chain->words = (uint16_t)(planes * (words + HEAD_WORDS));
    for (uint8_t set = 0; set < SETS; set++) {
        uint32_t *word = chain->sets[set];
        for (uint8_t plane = 0; plane < planes; plane++) {
            uint8_t before = (uint8_t)((plane == 0 ? planes : plane) - 1);
            open_plane(word, program, unit << before, (uint32_t)words * WORD_BITS);
            word += words + HEAD_WORDS;
        }
    }
}

static void open_chain(struct output *chain, const struct joint *joint)
{
    chain->use = joint->use;
    chain->what = joint->what;
    chain->count = joint->value;
    chain->pin = joint->pin;
    for (uint8_t i = 0; i < 3; i++) {
        pin_put_out((uint8_t)(joint->pin + i), false);
    }
    pin_put_out((uint8_t)(joint->pin + 3), true);
    if (joint->use == JOINT_DRIVERS) {
        open_planes(chain, DRIVER_PROGRAM, 1, (uint16_t)(groups_of(chain) * DRIVER_BITS), DRIVER_PERIOD);
    } else {
        open_planes(chain, SHIFT_PROGRAM, PLANES, groups_of(chain), UNIT);
    }
}

void light_open(const struct joints *joints)
{
    light_off();
    write_pin_program();
    write_chain_program(SHIFT_PROGRAM, 0);
    write_chain_program(DRIVER_PROGRAM, 1);
    open_pins(joints);
    struct output *chain = &outputs[1];
    for (uint8_t i = 0; i < joints->count; i++) {
        if (joints->joint[i].use == JOINT_SHIFT || joints->joint[i].use == JOINT_DRIVERS) {
            open_chain(chain++, &joints->joint[i]);
        }
    }
}

/* Filling a set with a frame. */

static void fill_pins(uint32_t *set, const uint16_t *duties, uint8_t bits)
{
    uint32_t planes[PLANES] = {0};
    for (uint8_t i = 0; i < light_count; i++) {
        uint32_t duty = scaled(duties[lights[i].channel], bits, PLANES);
        uint32_t pin = BIT(lights[i].pin);
        for (uint32_t *plane = planes; duty != 0; duty >>= 1, plane++) {
            if ((duty & 1) != 0) {
                *plane |= pin;
            }
        }
    }
    for (uint8_t plane = 0; plane < PLANES; plane++) {
        set[2 * plane] = planes[plane];
    }
}

static uint32_t chain_duty(const struct output *chain, const uint16_t *duties, uint16_t index, uint8_t bits, uint8_t to)
{
    return index < chain->count ? scaled(duties[chain->what + index], bits, to) : 0;
}

/* The last output goes first, so the last word has outputs 0 to 23. */
static void fill_shift(const struct output *chain, uint32_t *set, const uint16_t *duties, uint8_t bits)
{
    uint8_t words = groups_of(chain);
    for (uint8_t word = 0; word < words; word++) {
        uint32_t planes[PLANES] = {0};
        for (uint8_t output = GROUP; output-- > 0;) {
            uint16_t index = (uint16_t)((words - 1 - word) * GROUP + output);
            uint32_t duty = chain_duty(chain, duties, index, bits, PLANES);
            for (uint8_t plane = 0; plane < PLANES; plane++) {
                planes[plane] = planes[plane] << 1 | (duty >> plane & 1);
            }
        }
        for (uint8_t plane = 0; plane < PLANES; plane++) {
            set[plane * (words + HEAD_WORDS) + HEAD_WORDS + word] = planes[plane] << (32 - WORD_BITS);
        }
    }
}

/* The last output goes first, each with its highest bit first: two to a word. */
static void fill_drivers(const struct output *chain, uint32_t *set, const uint16_t *duties, uint8_t bits)
{
    uint16_t left = (uint16_t)(groups_of(chain) * GROUP);
    for (uint32_t *word = set + HEAD_WORDS; left > 0; word++) {
        uint32_t first = chain_duty(chain, duties, --left, bits, DRIVER_BITS);
        uint32_t second = chain_duty(chain, duties, --left, bits, DRIVER_BITS);
        *word = (first << DRIVER_BITS | second) << (32 - WORD_BITS);
    }
}

static void fill(const struct output *output, uint32_t *set, const uint16_t *duties, uint8_t bits)
{
    switch (output->use) {
    case JOINT_LIGHTS:
        fill_pins(set, duties, bits);
        break;
    case JOINT_SHIFT:
        fill_shift(output, set, duties, bits);
        break;
    default:
        fill_drivers(output, set, duties, bits);
        break;
    }
}

/* The set that is neither shown nor being read. The DMA takes up `shown` by itself; what it takes up is never the free one. */
static uint32_t *free_set(struct output *output, uint8_t index)
{
    uintptr_t reading = DMA_READ(data_dma(index));
    for (uint8_t i = 0; i < SETS - 1; i++) {
        uint32_t *set = output->sets[i];
        bool is_read = output->runs && reading >= (uintptr_t)set && reading <= (uintptr_t)(set + output->words);
        if (set != output->shown && !is_read) {
            return set;
        }
    }
    return output->sets[SETS - 1];
}

static void start_dma(struct output *output, uint8_t index)
{
    uint8_t data = data_dma(index);
    uint8_t again = (uint8_t)(data + 1);
    DMA_WRITE(data) = (uintptr_t)&PIO_SEND(PIO0, index);
    DMA_COUNT(data) = output->words;
    DMA_CTRL(data) = DMA_EN | DMA_WORDS | DMA_READ_UP | DMA_CHAIN(again) | DMA_REQUEST(DREQ_PIO0_TX0 + index) | DMA_QUIET;
    DMA_READ(again) = (uintptr_t)&output->shown;
    DMA_WRITE(again) = (uintptr_t)&DMA_READ_TRIGGER(data);
    DMA_COUNT(again) = 1;
    DMA_CTRL(again) = DMA_EN | DMA_WORDS | DMA_CHAIN(again) | DMA_REQUEST(DREQ_ALWAYS) | DMA_QUIET;
    DMA_TRIGGER = BIT(again);
}

static void start_pins(void)
{
    set_program(0, PIN_PROGRAM, PIN_STEPS, 32);
    for (uint8_t i = 0; i < light_count; i++) {
        drive(0, lights[i].pin, 1, 0);
        pin_give(lights[i].pin, PIN_PIO0);
    }
    PIO_PINS(PIO0, 0) = 32u << 20; /* all, as they are numbered; those that belong to others do not follow */
}

static void start_chain(const struct output *chain, uint8_t machine)
{
    set_program(machine, chain->use == JOINT_SHIFT ? SHIFT_PROGRAM : DRIVER_PROGRAM, CHAIN_STEPS, WORD_BITS);
    drive(machine, chain->pin, 4, 8); /* only the blank is high */
    PIO_PINS(PIO0, machine) = 2u << 29 | 1u << 26 | 1u << 20 | (chain->pin + 1u) << 10 | (chain->pin + 3u) << 5 | chain->pin;
    for (uint8_t i = 0; i < 4; i++) {
        pin_give((uint8_t)(chain->pin + i), PIN_PIO0);
    }
}

static void start(struct output *output, uint8_t index)
{
    if (index == 0) {
        start_pins();
    } else {
        start_chain(output, index);
    }
    output->runs = true;
    start_dma(output, index);
    SET(PIO_CTRL(PIO0)) = BIT(index);
}

void light_show(const uint16_t *duties, uint8_t bits)
{
    for (uint8_t i = 0; i < OUTPUTS; i++) {
        struct output *output = &outputs[i];
        if (output->words == 0) {
            continue;
        }
        uint32_t *set = free_set(output, i);
        fill(output, set, duties, bits);
        __asm volatile("" ::: "memory"); /* all of it is there before the DMA may take it */
        output->shown = set;
        if (!output->runs) {
            start(output, i);
        }
    }
}

static void stop(struct output *output, uint8_t index)
{
    CLEAR(PIO_CTRL(PIO0)) = BIT(index);
    DMA_CTRL(data_dma(index) + 1) = 0;
    DMA_CTRL(data_dma(index)) = 0;
    DMA_ABORT = BIT(data_dma(index)) | BIT(data_dma(index) + 1);
    while (((DMA_CTRL(data_dma(index)) | DMA_CTRL(data_dma(index) + 1)) & DMA_BUSY) != 0) {
    }
    output->runs = false;
}

static void free_pins(const struct output *output)
{
    if (output->use != JOINT_LIGHTS) {
        pin_pull_up((uint8_t)(output->pin + 3)); /* the blank first: what the others do now is not seen */
        for (uint8_t i = 0; i < 3; i++) {
            pin_free((uint8_t)(output->pin + i));
        }
        return;
    }
    for (uint8_t i = 0; i < light_count; i++) {
        pin_free(lights[i].pin);
    }
}

void light_off(void)
{
    for (uint8_t i = 0; i < OUTPUTS; i++) {
        if (outputs[i].words == 0) {
            continue;
        }
        if (outputs[i].runs) {
            stop(&outputs[i], i);
        }
        free_pins(&outputs[i]);
        outputs[i].words = 0;
    }
}

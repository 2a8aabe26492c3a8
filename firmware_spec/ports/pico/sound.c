/* Two buffers take turns. A DMA channel puts one out, at the pace of the PIO machine or of the pulses; when it is through, a second channel starts it
 * anew with the next address of a ring. How far that one has come says which frame is heard. */
#include "sound.h"

#include "rp2040.h"
#include "start.h"

enum { ROOM = 2048, BUFFERS = 2, RING = 32, RING_BITS = 7, DATA_DMA = SOUND_DMA, NEXT_DMA = SOUND_DMA + 1, NO_PIN = 255, SOUNDLESS_SLICE = 7 };
enum { MACHINE = 0, I2S_STEPS = 8, I2S_CYCLES = 64 /* a pair of samples */, LEAST_I2S_HZ = 32000, LEAST_PULSES_HZ = 50000 };
enum { PULSES_ON = 1 << 0, PULSES_UP_AND_DOWN = 1 << 1 };
enum { LOWEST = -32768, RAMPS_HZ = 4, SETTLES_HZ = 25, FALL = 64 };

/* Instructions of the PIO (data sheet 3.4), with the levels of the bit clock and the word clock set aside. */
enum { OUT_PIN = 0x6001, JUMP = 0x0000, JUMP_X_DOWN = 0x0040, SET_X_14 = 0xE02E, SET_PINS = 0xE000, SET_DIRECTIONS = 0xE080, BITS_CLOCK = 1 << 11, RIGHT = 2 << 11 };

/* What was opened. */
struct form {
    uint32_t rate_hz;
    uint16_t samples;  /* a frame */
    uint8_t use, pin;  /* JOINT_I2S, JOINT_PWM; another: nothing sounds */
    uint8_t amplifier; /* its pin, or NO_PIN */
    uint8_t copies;    /* of a sample in a buffer */
    uint16_t levels;   /* of pulses, each of two cycles */
};

static const uint16_t *ring[RING] __attribute__((aligned(1 << RING_BITS)));
static uint16_t buffers[BUFFERS][ROOM];

static struct {
    struct form form;
    bool runs;
    bool rests;       /* frames need not come */
    uint8_t given;    /* the next frame to be written, by its place in the ring */
    int32_t bias;     /* on the way from the lowest level to the middle; below 0 */
    uint32_t settles; /* samples of rest to come before the first frame */
    int32_t last;     /* sample that was put out */
    int32_t gap;      /* between what is put out and what should be */
    uint32_t left;    /* of the width of pulses, in 1/65536 */
} sound;

static uint32_t rounded(uint32_t a, uint32_t b)
{
    return (a + b / 2) / b;
}

/* The fewest copies of a sample that make a rate. */
static uint8_t copies_for(uint32_t rate_hz, uint32_t least_hz)
{
    return (uint8_t)((least_hz + rate_hz - 1) / rate_hz);
}

static uint8_t doubled_for(uint32_t rate_hz)
{
    uint8_t copies = 1;
    while (rate_hz * copies < LEAST_I2S_HZ) {
        copies = (uint8_t)(2 * copies);
    }
    return copies;
}

static struct form form_of(uint16_t rate_hz, uint16_t samples, const struct joints *joints)
{
    const struct joint *i2s = joints_only(joints, JOINT_I2S);
    const struct joint *pulses = joints_only(joints, JOINT_PWM);
    const struct joint *amplifier = joints_only(joints, JOINT_AMPLIFIER);
    struct form form = {.rate_hz = rate_hz, .samples = samples, .use = JOINT_USES, .pin = NO_PIN};
    form.amplifier = amplifier != 0 ? amplifier->pin : NO_PIN;
    if (i2s != 0) {
        form.use = JOINT_I2S;
        form.pin = i2s->pin;
        form.copies = doubled_for(rate_hz);
        return form;
    }
    if (pulses != 0) {
        form.use = JOINT_PWM;
        form.pin = pulses->pin;
    }
    form.copies = copies_for(rate_hz, LEAST_PULSES_HZ);
    form.levels = (uint16_t)rounded(SYS_HZ / 2, rate_hz * form.copies);
    return form;
}

static uint8_t slice_of(const struct form *form)
{
    return form->pin == NO_PIN ? SOUNDLESS_SLICE : form->pin / 2 % 8;
}

/* Which frame is heard, by its place in the ring. */
static uint8_t playing(void)
{
    uint32_t begun = (DMA_READ(NEXT_DMA) - (uint32_t)(uintptr_t)ring) / sizeof ring[0];
    return (uint8_t)((begun - 1) % RING);
}

/* The samples of a frame, at the end of its buffer, which make_copies fills from its begin. */
static int16_t *samples_of(uint8_t frame)
{
    return (int16_t *)buffers[frame % BUFFERS] + sound.form.samples * (sound.form.copies - 1);
}

/* What is put out goes from where it is to where it should be: what is missing falls to nothing. */
static void soften(int16_t *samples)
{
    if (sound.rests) {
        sound.gap = sound.last - samples[0];
        sound.rests = false;
    }
    for (uint16_t i = 0; sound.gap != 0 && i < sound.form.samples; i++) {
        int32_t softened = samples[i] + sound.gap;
        samples[i] = (int16_t)(softened > 32767 ? 32767 : softened < LOWEST ? LOWEST : softened);
        sound.gap -= (sound.gap + (sound.gap > 0 ? FALL - 1 : 1 - FALL)) / FALL;
    }
    sound.last = samples[sound.form.samples - 1];
}

/* From samples to what DMA brings, each some times. What a pulse is too coarse for goes into the next one, so what is wrong with their widths is mostly
 * above the sound. */
static void give(void)
{
    const int16_t *samples = samples_of(sound.given);
    uint16_t *out = buffers[sound.given % BUFFERS];
    for (uint16_t i = 0; i < sound.form.samples; i++) {
        uint32_t value = (uint16_t)samples[i];
        uint32_t width = (value ^ 0x8000) * sound.form.levels;
        for (uint8_t copy = 0; copy < sound.form.copies; copy++) {
            if (sound.form.use != JOINT_I2S) {
                sound.left += width;
                value = sound.left >> 16;
                sound.left &= 0xFFFF;
            }
            *out++ = (uint16_t)value;
        }
    }
    sound.given = (uint8_t)((sound.given + 1) % RING);
}

static void fill(int16_t *samples, int16_t with)
{
    for (uint16_t i = 0; i < sound.form.samples; i++) {
        samples[i] = with;
    }
}

/* Before the first frame: the pulses rise from nothing to the middle, then the amplifier is switched on, then it has some time. */
static bool leads_in(int16_t *samples)
{
    if (sound.bias == 0 && sound.settles == 0) {
        return false;
    }
    int32_t step = (int32_t)(-LOWEST * RAMPS_HZ / sound.form.rate_hz);
    for (uint16_t i = 0; i < sound.form.samples; i++) {
        samples[i] = (int16_t)sound.bias;
        sound.bias = sound.bias + step < 0 ? sound.bias + step : 0;
    }
    if (sound.bias == 0) {
        sound.settles = sound.settles > sound.form.samples ? sound.settles - sound.form.samples : 0;
    }
    if (sound.form.amplifier != NO_PIN && sound.settles <= sound.form.rate_hz / SETTLES_HZ / 2) {
        pin_put_out(sound.form.amplifier, true);
    }
    give();
    return true;
}

int16_t *sound_room(void)
{
    if (!sound.runs) {
        return 0;
    }
    uint8_t heard = playing();
    uint8_t ahead = (uint8_t)((heard + RING - sound.given) % RING);
    if (ahead == RING - 2) {
        return 0; /* the buffer is the one that is heard */
    }
    if (ahead != RING - 1) { /* late, or at rest: an older frame was heard */
        sound.given = (uint8_t)((heard + 1) % RING);
    }
    int16_t *samples = samples_of(sound.given);
    return leads_in(samples) ? 0 : samples;
}

void sound_give(void)
{
    soften(samples_of(sound.given));
    give();
}

/* Interrupts wait while it looks, so none of them can come in between and be slept over. */
static int16_t *wait_for_room(void)
{
    int16_t *samples;
    do {
        uint32_t before = hold_interrupts();
        samples = sound_room();
        if (samples == 0) {
            wait_for_interrupt();
        }
        restore_interrupts(before);
    } while (samples == 0);
    return samples;
}

void sound_rest(void)
{
    if (!sound.runs || sound.rests) {
        return;
    }
    sound.gap = sound.last;
    for (uint8_t silent = 0; silent < BUFFERS;) {
        int16_t *samples = wait_for_room();
        silent = (uint8_t)(sound.gap == 0 ? silent + 1 : 0);
        fill(samples, 0);
        sound_give();
    }
    sound.rests = true;
}

/* Opening. */

static void open_i2s(const struct form *form)
{
    static const uint16_t program[I2S_STEPS] = {
        OUT_PIN, JUMP_X_DOWN | BITS_CLOCK | 0, OUT_PIN | RIGHT, SET_X_14 | BITS_CLOCK | RIGHT,
        OUT_PIN | RIGHT, JUMP_X_DOWN | BITS_CLOCK | RIGHT | 4, OUT_PIN, SET_X_14 | BITS_CLOCK
    };
    uint32_t divider = rounded(SYS_HZ / I2S_CYCLES * 256, form->rate_hz * form->copies); /* in 1/256 */
    CLEAR(PIO_CTRL(PIO1)) = BIT(MACHINE);
    SET(PIO_CTRL(PIO1)) = BIT(4 + MACHINE);
    for (uint8_t i = 0; i < I2S_STEPS; i++) {
        PIO_MEMORY(PIO1, i) = program[i];
    }
    PIO_DIVIDER(PIO1, MACHINE) = divider << 8;
    PIO_EXECUTION(PIO1, MACHINE) = (I2S_STEPS - 1u) << 12;
    PIO_SHIFT(PIO1, MACHINE) = BIT(30) | BIT(17); /* both FIFOs send; automatic pull of 32 bits, the highest first */
    PIO_PINS(PIO1, MACHINE) = 3u << 26 | (uint32_t)form->pin << 5;
    PIO_EXECUTE(PIO1, MACHINE) = SET_PINS;
    PIO_EXECUTE(PIO1, MACHINE) = SET_DIRECTIONS | 7;
    PIO_PINS(PIO1, MACHINE) = 2u << 29 | 1u << 20 | (form->pin + 1u) << 10 | form->pin;
    PIO_EXECUTE(PIO1, MACHINE) = SET_X_14;
    PIO_EXECUTE(PIO1, MACHINE) = JUMP | 0;
    for (uint8_t i = 0; i < 3; i++) {
        pin_give((uint8_t)(form->pin + i), PIN_PIO1);
    }
}

/* The counter goes up and down, so that both edges of a pulse move and its middle stays: else loud treble would be bent. What is new is taken over when it
 * comes to 0, all together if it is written around the middle of a pulse. */
static void open_pulses(const struct form *form, uint16_t width)
{
    uint8_t slice = slice_of(form);
    uint32_t before = hold_interrupts();
    while ((PWM_CTRL(slice) & PULSES_ON) != 0 && PWM_COUNT(slice) <= PWM_TOP(slice) / 2) {
    }
    PWM_TOP(slice) = form->levels - 1u;
    PWM_COMPARE(slice) = width * 0x10001u;
    restore_interrupts(before);
    PWM_DIVIDER(slice) = 1u << 4;
    PWM_CTRL(slice) = PULSES_ON | PULSES_UP_AND_DOWN;
    if (form->pin != NO_PIN) {
        pin_give(form->pin, PIN_PWM);
    }
}

/* Wakes the processor for the next frame. */
static void on_frame_over(void)
{
    DMA_FINISHED = BIT(DATA_DMA);
}

static void start_dma(const struct form *form)
{
    bool is_i2s = form->use == JOINT_I2S;
    for (uint8_t i = 0; i < RING; i++) {
        ring[i] = buffers[i % BUFFERS];
    }
    /* A half that DMA writes reaches both halves of a register (2.1.4): left and right, or outputs A and B. */
    DMA_WRITE(DATA_DMA) = (uint32_t)(uintptr_t)(is_i2s ? &PIO_SEND(PIO1, MACHINE) : &PWM_COMPARE(slice_of(form)));
    DMA_COUNT(DATA_DMA) = (uint32_t)form->samples * form->copies;
    DMA_CTRL(DATA_DMA) = DMA_EN | DMA_HALVES | DMA_READ_UP | DMA_CHAIN(NEXT_DMA) |
                         DMA_REQUEST(is_i2s ? DREQ_PIO1_TX0 + MACHINE : DREQ_PWM_WRAP0 + slice_of(form));
    DMA_READ(NEXT_DMA) = (uint32_t)(uintptr_t)ring;
    DMA_WRITE(NEXT_DMA) = (uint32_t)(uintptr_t)&DMA_READ_TRIGGER(DATA_DMA);
    DMA_COUNT(NEXT_DMA) = 1;
    DMA_CTRL(NEXT_DMA) = DMA_EN | DMA_WORDS | DMA_READ_UP | DMA_RING(RING_BITS) | DMA_CHAIN(NEXT_DMA) | DMA_QUIET | DMA_REQUEST(DREQ_ALWAYS);
    DMA_ENABLED_1 = BIT(DATA_DMA);
    interrupt_on(IRQ_DMA_1, on_frame_over);
    DMA_TRIGGER = BIT(NEXT_DMA);
}

/* At rest: the frame that is heard is the last. What belongs to the form that goes is switched off, unless the next one has it too. */
static void stop(const struct form *next)
{
    const struct form *now = &sound.form;
    DMA_CTRL(NEXT_DMA) = 0;
    while ((DMA_CTRL(DATA_DMA) & DMA_BUSY) != 0) {
    }
    if (now->amplifier != NO_PIN && now->amplifier != next->amplifier) {
        pin_free(now->amplifier);
    }
    if (now->use == next->use && now->pin == next->pin) {
        return;
    }
    for (uint8_t i = 0; now->pin != NO_PIN && i < (now->use == JOINT_I2S ? 3 : 1); i++) {
        pin_free((uint8_t)(now->pin + i));
    }
}

static void start(const struct form *form, bool at_rest)
{
    bool sounds = form->pin != NO_PIN;
    sound.form = *form;
    sound.bias = form->use == JOINT_PWM && !at_rest ? LOWEST : 0;
    sound.settles = sounds && !at_rest ? form->rate_hz / SETTLES_HZ : 0;
    sound.last = sound.gap = 0;
    sound.rests = false;
    for (sound.given = 0; sound.given < BUFFERS;) {
        fill(samples_of(sound.given), (int16_t)sound.bias);
        give();
    }
    if (form->amplifier != NO_PIN && !at_rest) {
        pin_put_out(form->amplifier, !sounds);
    }
    if (form->use == JOINT_I2S) {
        open_i2s(form);
    } else {
        open_pulses(form, buffers[0][0]);
    }
    start_dma(form);
    if (form->use == JOINT_I2S) {
        SET(PIO_CTRL(PIO1)) = BIT(MACHINE);
    }
    sound.runs = true;
}

bool sound_fits(uint16_t rate_hz, uint16_t samples_per_frame, const struct joints *joints)
{
    return (uint32_t)samples_per_frame * form_of(rate_hz, samples_per_frame, joints).copies <= ROOM;
}

void sound_open(uint16_t rate_hz, uint16_t samples_per_frame, const struct joints *joints)
{
    const struct form *now = &sound.form;
    struct form form = form_of(rate_hz, samples_per_frame, joints);
    bool is_there = sound.runs && now->use == form.use && now->pin == form.pin && now->amplifier == form.amplifier;
    sound_rest();
    if (is_there && now->rate_hz == form.rate_hz && now->samples == form.samples) {
        return;
    }
    if (sound.runs) {
        stop(&form);
    }
    start(&form, is_there);
}

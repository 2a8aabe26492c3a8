/* Sound and light, both by the clock of the samples, timer 2: so neither disturbs the other.
 *
 * Sound: two outputs of timer 1, pulses as wide as the upper and the lower part of a sample. A sample lasts T ticks of timer 2 and eight pulses of T
 * cycles each (at low rates, with longer ticks, sixteen of 2 T): so each sample is sent equally often, at any rate.
 *
 * Light: bit n of all duties is put out for 2^n units of time. A light period has 2^s samples and 2^10 units. The bits that last samples are put out as
 * those begin, the highest first. Those that are shorter share the last sample of the period: its first half, quarter and so on; the last three of them
 * are waited for. The one unit that is left gets the highest bit, so full is on without a gap. */
#include "board.h"

#include <avr/interrupt.h>
#include <util/delay_basic.h>

enum { TICK = 8, SLOW_TICK = 32 /* cycles */, LEAST_FAST_RATE_HZ = 7844 /* below, a sample has more than 255 ticks */, REST_RATE_HZ = 8000 };
#define MIDDLE UINT16_C(0x8000)
enum { RAMP_STEP = 16 /* from nothing to the middle in 2048 samples */ };
enum { TOP_BIT = LIGHT_BITS - 1, WAITED_BITS = 3, LEAST_TOP_SAMPLES = 8, LEAST_LIGHT_HZ = 200 };
#define SOUND_B (1 << PB1 | 1 << PB2)
enum { LOOP_CYCLES = 3 /* of _delay_loop_1 */ };

struct ports {
    uint8_t b, d;
};

static struct {
    int16_t samples[2][MOST_SAMPLES];
    const int16_t *from;
    uint16_t level;        /* that is put out */
    volatile bool waiting; /* frame `next` is there and has not begun */
    volatile bool settles; /* on its way to the middle, before anything is played */
    uint8_t next, left, a_frame;
    uint8_t widths; /* of a pulse */
} sound;

static struct {
    struct ports sets[3][LIGHT_BITS];    /* by bit */
    struct ports *shown, *ready, *spare; /* a set each: the last whole one is ready while the next is filled */
    const struct ports *at;              /* what is put out */
    bool fresh;                          /* what is ready has not been shown */
    uint8_t samples;                     /* that the bit lasts; 0: less than one */
    uint8_t left;                        /* until the next bit; 0: that comes within this sample */
    uint8_t top_samples;                 /* that the highest bit lasts */
    uint8_t half, part;                  /* ticks of half a sample; of the bit */
    uint8_t waits[WAITED_BITS];          /* of _delay_loop_1 */
    uint8_t pin[FXP_MAX_CHANNELS];       /* of each channel; NO_PIN */
} light;

static volatile uint8_t struck_pins;

static inline void put(const struct ports *ports)
{
    PORTB = ports->b;
    PORTD = ports->d;
}

static inline void begin_period(void)
{
    light.at = light.shown + TOP_BIT;
    light.samples = light.top_samples;
    light.left = (uint8_t)(light.top_samples + 1); /* the sample under way is not counted */
}

/* At the begin of a sample. */
static inline void put_next_bit(void)
{
    put(--light.at);
    light.samples >>= 1;
    light.left = light.samples;
    if (light.samples == 0) {
        light.part = light.half;
        OCR2B = light.half;
        TIFR2 = 1 << OCF2B;
        TIMSK2 = 1 << OCIE2A | 1 << OCIE2B;
    }
}

/* Within the last sample of a light period. */
ISR(TIMER2_COMPB_vect)
{
    const struct ports *at = light.at;
    if (at != light.shown + WAITED_BITS) {
        put(--at);
        light.at = at;
        light.part >>= 1;
        OCR2B = (uint8_t)(OCR2B + light.part);
        return;
    }
    put(at - 1);
    if (light.fresh) {
        struct ports *before = light.shown;
        light.shown = light.ready;
        light.ready = before;
        light.fresh = false;
    }
    _delay_loop_1(light.waits[2]);
    put(at - 2);
    _delay_loop_1(light.waits[1]);
    put(at - 3);
    _delay_loop_1(light.waits[0]);
    put(light.shown + TOP_BIT);
    begin_period();
    TIMSK2 = 1 << OCIE2A;
}

static inline uint16_t product(uint8_t a, uint8_t b)
{
    return (uint16_t)((uint16_t)a * b);
}

static inline void send(uint16_t level)
{
    uint8_t widths = sound.widths;
    uint16_t upper = (uint16_t)(product((uint8_t)(level >> 8), widths) + (product((uint8_t)level, widths) >> 8));
    sound.level = level;
    OCR1AL = (uint8_t)(upper >> 8);
    OCR1BL = (uint8_t)(product((uint8_t)upper, widths) >> 8);
}

static inline void settle(void)
{
    uint16_t level = sound.level;
    uint16_t away = level < MIDDLE ? MIDDLE - level : level - MIDDLE;
    if (away <= RAMP_STEP) {
        level = MIDDLE;
        sound.settles = false;
    } else {
        level = level < MIDDLE ? level + RAMP_STEP : level - RAMP_STEP;
    }
    send(level);
}

/* A sample. Where there is none, the last one stays. */
ISR(TIMER2_COMPA_vect)
{
    if (--light.left == 0) {
        put_next_bit();
    }
    struck_pins |= (uint8_t)~PINC;
    if (sound.left == 0) {
        if (!sound.waiting) {
            if (sound.settles) {
                settle();
            }
            return;
        }
        sound.waiting = false;
        sound.from = sound.samples[sound.next];
        sound.next ^= 1;
        sound.left = sound.a_frame;
    }
    sound.left--;
    send((uint16_t)*sound.from++ ^ MIDDLE);
}

/* Cycles that a bit that is waited for takes besides; by the emulator. */
static const uint8_t besides[WAITED_BITS] PROGMEM = {11, 8, 29};

static void start_light(uint16_t rate_hz, uint16_t sample_cycles)
{
    light.top_samples = LEAST_TOP_SAMPLES;
    for (uint16_t most_hz = 2 * LEAST_TOP_SAMPLES * LEAST_LIGHT_HZ * 2; rate_hz >= most_hz; most_hz = (uint16_t)(most_hz * 2)) {
        light.top_samples = (uint8_t)(light.top_samples * 2);
        sample_cycles = (uint16_t)(sample_cycles * 2); /* 64 units, at any rate */
    }
    for (uint8_t bit = 0; bit < WAITED_BITS; bit++) {
        light.waits[bit] = (uint8_t)(((sample_cycles >> (6 - bit)) - pgm_read_byte(&besides[bit]) + 1) / LOOP_CYCLES);
    }
    for (uint8_t bit = 0; bit < LIGHT_BITS; bit++) {
        light.sets[0][bit] = (struct ports){0, DARK_D};
    }
    light.fresh = false;
    light.shown = light.sets[0];
    light.ready = light.sets[1];
    light.spare = light.sets[2];
    go_dark();
    begin_period();
}

static void start_clock(uint16_t rate_hz)
{
    bool fast = rate_hz >= LEAST_FAST_RATE_HZ;
    uint8_t ticks = (uint8_t)(((fast ? F_CPU / TICK : F_CPU / SLOW_TICK) + rate_hz / 2) / rate_hz);
    light.half = ticks / 2;
    start_light(rate_hz, (uint16_t)(ticks * (fast ? TICK : SLOW_TICK)));
    sound.widths = fast ? ticks : (uint8_t)(2 * ticks);
    ICR1 = (uint16_t)(sound.widths - 1);
    OCR2A = (uint8_t)(ticks - 1);
    TCCR2B = (uint8_t)(fast ? 1 << CS21 : 1 << CS21 | 1 << CS20);
    TCNT2 = 0;
    TCNT1 = 0;          /* so at 8000 Hz samples come in mid-pulse, never about the begin of the next */
    TIFR2 = 1 << OCF2A; /* what the clock before left is forgotten */
    TIMSK2 = 1 << OCIE2A;
}

IN_BOOT_SECTION void pulse_open(void)
{
    TCCR2A = 1 << WGM21;
    TCCR1B = 1 << WGM13 | 1 << WGM12 | 1 << CS10; /* fast PWM up to ICR1 */
    start_clock(REST_RATE_HZ);                    /* something must end sleep */
}

static void join_lights(const struct joints *joints)
{
    uint8_t b = 0, d = 0;
    for (uint8_t channel = 0; channel < FXP_MAX_CHANNELS; channel++) {
        uint8_t pin = light.pin[channel] = joints->light_pin[channel];
        if (pin >= 8) {
            b = (uint8_t)(b | 1 << (pin - 8));
        } else if (pin != NO_PIN) {
            d = (uint8_t)(d | 1 << pin);
        }
    }
    DDRB = (uint8_t)((DDRB & SOUND_B) | b);
    DDRD = d;
}

static void join_sound(bool joined)
{
    if (!joined) {
        sound.level = 0;
    }
    sound.settles = joined && sound.level != MIDDLE;
    TCCR1A = (uint8_t)(joined ? 1 << COM1A1 | 1 << COM1B1 | 1 << WGM11 : 1 << WGM11);
    DDRB = (uint8_t)(joined ? DDRB | SOUND_B : DDRB & ~SOUND_B);
}

void pulse_start(const struct fxp *player, const struct joints *joints)
{
    uint8_t before = SREG;
    cli();
    sound.waiting = false;
    sound.left = 0;
    sound.a_frame = (uint8_t)player->samples_per_frame;
    start_clock(player->sample_rate_hz);
    join_sound(joints->sound);
    join_lights(joints);
    struck_pins = 0; /* what was read before the pull-ups were on */
    SREG = before;
}

int16_t *pulse_samples(void)
{
    return sound.waiting || sound.settles ? 0 : sound.samples[sound.next];
}

void pulse_play(void)
{
    sound.waiting = true;
}

/* As many bits as light has: those that are missing repeat the highest, so full stays full. */
static uint16_t widened(uint16_t duty, uint8_t bits)
{
    uint8_t missing = (uint8_t)(LIGHT_BITS - bits);
    return (uint16_t)(duty << missing | duty >> (bits - missing));
}

void pulse_show(const uint16_t *duties, const struct fxp *player)
{
    struct ports *set = light.spare;
    for (uint8_t bit = 0; bit < LIGHT_BITS; bit++) {
        set[bit] = (struct ports){0, DARK_D};
    }
    for (uint8_t channel = 0; channel < player->channels; channel++) {
        uint8_t pin = light.pin[channel];
        uint8_t mask = (uint8_t)(1 << (pin & 7));
        uint8_t *at = pin < 8 ? &set->d : &set->b;
        uint16_t duty = pin == NO_PIN ? 0 : widened(duties[channel], player->pwm_bits);
        for (; duty != 0; duty >>= 1) {
            if ((duty & 1) != 0) {
                *at |= mask;
            }
            at += sizeof *set;
        }
    }
    cli();
    light.spare = light.ready;
    light.ready = set;
    light.fresh = true;
    sei();
}

uint8_t pulse_struck(void)
{
    cli();
    uint8_t struck = struck_pins;
    struck_pins = 0;
    sei();
    return struck;
}

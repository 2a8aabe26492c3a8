/* Pins, timers and the serial line. */
#include "board.h"

#include <avr/interrupt.h>
#include <avr/io.h>

/* 115 200 baud: 16 MHz / 8 / 17 is 2.1 % more, which both ends take. */
enum { BAUD_DIVIDER = 16, LINE_ROOM = 32, OUT_ROOM = 16 };
enum { CONTACTS = 0x03, POSITION_PINS = 0xF0, LATCH = 1 << PD2 };
#define SLOW_TICKS_HZ (F_CPU / 32) /* of the sample clock */
#define FAST_TICKS_HZ (F_CPU / 8)
#define LEAST_FAST_RATE_HZ 7813u   /* below, a sample has more than 256 fast ticks */

static struct {
    volatile uint8_t first, count, bytes[LINE_ROOM];
} line;

static struct {
    volatile uint8_t first, count, bytes[OUT_ROOM];
} out;

static struct {
    int16_t samples[2][BOARD_MOST_SAMPLES];
    const int16_t *from;
    volatile bool waiting; /* frame `next` is there and has not begun */
    uint8_t next, left, a_frame;
    uint16_t period; /* in 1/256 tick */
    uint8_t part;
} sound;

static volatile uint8_t struck_pins;

void board_open(void)
{
    PORTC = CONTACTS; /* pull-ups; closed is low */
    PORTD = POSITION_PINS;
    DDRD = LATCH;
    DDRB = 1 << PB0 | 1 << PB1 | 1 << PB2 | 1 << PB3 | 1 << PB5;
    TCCR1A = 1 << COM1A1 | 1 << COM1B1 | 1 << WGM10; /* fast PWM of 8 bits, 62.5 kHz */
    TCCR1B = 1 << WGM12 | 1 << CS10;
    OCR1A = 0x80;
    TCCR0A = 1 << WGM01; /* 1 kHz */
    TCCR0B = 1 << CS01 | 1 << CS00;
    OCR0A = F_CPU / 64 / 1000 - 1;
    SPCR = 1 << SPE | 1 << MSTR; /* 8 MHz */
    SPSR = 1 << SPI2X;
    UCSR0A = 1 << U2X0;
    UCSR0C = 1 << UCSZ01 | 1 << UCSZ00;
    UBRR0 = BAUD_DIVIDER;
    UCSR0B = 1 << RXEN0 | 1 << TXEN0 | 1 << RXCIE0;
    board_start_clock(LEAST_FAST_RATE_HZ, 1); /* something must end sleep */
    sei();
}

bool board_millisecond(void)
{
    if ((TIFR0 & 1 << OCF0A) == 0) {
        return false;
    }
    TIFR0 = 1 << OCF0A;
    return true;
}

ISR(USART_RX_vect)
{
    uint8_t byte = UDR0;
    if (line.count < LINE_ROOM) {
        line.bytes[(uint8_t)(line.first + line.count) % LINE_ROOM] = byte;
        line.count++;
    }
}

bool board_byte_in(uint8_t *byte)
{
    if (line.count == 0) {
        return false;
    }
    *byte = line.bytes[line.first]; /* not before: it may have come in between */
    return true;
}

void board_byte_taken(void)
{
    cli();
    line.first = (uint8_t)((line.first + 1) % LINE_ROOM);
    line.count--;
    sei();
}

ISR(USART_UDRE_vect)
{
    UDR0 = out.bytes[out.first];
    out.first = (uint8_t)((out.first + 1) % OUT_ROOM);
    if (--out.count == 0) {
        UCSR0B &= (uint8_t)~(1 << UDRIE0);
    }
}

bool board_can_send(void)
{
    return out.count < OUT_ROOM;
}

void board_send(uint8_t byte)
{
    cli();
    out.bytes[(uint8_t)(out.first + out.count) % OUT_ROOM] = byte;
    out.count++;
    UCSR0B |= 1 << UDRIE0;
    sei();
}

/* A sample. Where there is none, the last one stays. */
ISR(TIMER2_COMPA_vect)
{
    struck_pins |= (uint8_t)~PINC;
    uint16_t part = (uint16_t)(sound.part + (sound.period & 0xFF));
    sound.part = (uint8_t)part;
    OCR2A = (uint8_t)((sound.period >> 8) - 1 + (part >> 8));
    if (sound.left == 0) {
        if (!sound.waiting) {
            return;
        }
        sound.waiting = false;
        sound.from = sound.samples[sound.next];
        sound.next ^= 1;
        sound.left = sound.a_frame;
    }
    sound.left--;
    uint16_t level = (uint16_t)*sound.from++ ^ 0x8000;
    OCR1AL = (uint8_t)(level >> 8);
    OCR1BL = (uint8_t)level;
}

void board_contacts(uint32_t *closed, uint32_t *struck)
{
    cli();
    uint8_t now = (uint8_t)~PINC;
    *struck = (uint8_t)((struck_pins | now) & CONTACTS);
    struck_pins = 0;
    sei();
    *closed = now & CONTACTS;
}

uint8_t board_position(void)
{
    uint8_t closed = (uint8_t)(~PIND & POSITION_PINS) >> 4;
    for (uint8_t position = 0; position < BOARD_POSITIONS; position++) {
        if (closed == 1 << position) {
            return position;
        }
    }
    return BOARD_NO_POSITION;
}

void board_start_clock(uint16_t rate_hz, uint8_t samples)
{
    bool fast = rate_hz >= LEAST_FAST_RATE_HZ;
    uint8_t before = SREG;
    cli();
    sound.waiting = false;
    sound.left = 0;
    sound.a_frame = samples;
    sound.period = (uint16_t)(((fast ? FAST_TICKS_HZ : SLOW_TICKS_HZ) * 256 + rate_hz / 2) / rate_hz);
    TCNT2 = 0;
    OCR2A = (uint8_t)((sound.period >> 8) - 1);
    TCCR2A = 1 << WGM21;
    TCCR2B = (uint8_t)(fast ? 1 << CS21 : 1 << CS21 | 1 << CS20);
    TIMSK2 = 1 << OCIE2A;
    SREG = before;
}

int16_t *board_samples(void)
{
    return sound.waiting ? 0 : sound.samples[sound.next];
}

void board_play(void)
{
    sound.waiting = true;
}

static void shift_out(uint8_t byte)
{
    SPDR = byte;
    while ((SPSR & 1 << SPIF) == 0) {
    }
}

/* 16 bits a channel, most significant first, channel 0 first. */
void board_show(const uint16_t *duties, uint8_t count, uint8_t bits)
{
    for (uint8_t i = 0; i < count; i++) {
        uint16_t duty = (uint16_t)(duties[i] << (16 - bits));
        shift_out((uint8_t)(duty >> 8));
        shift_out((uint8_t)duty);
    }
    PORTD |= LATCH;
    PORTD &= (uint8_t)~LATCH;
}

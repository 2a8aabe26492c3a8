/* The serial line, and milliseconds. */
#include "board.h"

#include <avr/interrupt.h>

/* 115 200 baud: 16 MHz / 8 / 17 is 2.1 % more, which both ends take. */
enum { BAUD_DIVIDER = 16, IN_ROOM = 32, OUT_ROOM = 16 };

static struct {
    volatile uint8_t first, count, bytes[IN_ROOM];
} in;

static struct {
    volatile uint8_t first, count, bytes[OUT_ROOM];
} out;

IN_BOOT_SECTION void line_open(void)
{
    TCCR0A = 1 << WGM01; /* 1 kHz */
    TCCR0B = 1 << CS01 | 1 << CS00;
    OCR0A = F_CPU / 64 / 1000 - 1;
    UCSR0A = 1 << U2X0;
    UCSR0C = 1 << UCSZ01 | 1 << UCSZ00;
    UBRR0 = BAUD_DIVIDER;
    UCSR0B = 1 << RXEN0 | 1 << TXEN0 | 1 << RXCIE0;
}

bool line_millisecond(void)
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
    if (in.count < IN_ROOM) {
        in.bytes[(uint8_t)(in.first + in.count) % IN_ROOM] = byte;
        in.count++;
    }
}

bool line_byte_in(uint8_t *byte)
{
    if (in.count == 0) {
        return false;
    }
    *byte = in.bytes[in.first]; /* not before: it may have come in between */
    return true;
}

void line_byte_taken(void)
{
    cli();
    in.first = (uint8_t)((in.first + 1) % IN_ROOM);
    in.count--;
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

bool line_can_send(void)
{
    return out.count < OUT_ROOM;
}

void line_send(uint8_t byte)
{
    cli();
    out.bytes[(uint8_t)(out.first + out.count) % OUT_ROOM] = byte;
    out.count++;
    UCSR0B |= 1 << UDRIE0;
    sei();
}

#include "uart.h"

#include "mps2.h"

enum { ROOM = 2048, TX_FULL = 1, TX_RX_WITH_RX_INTERRUPT = 1 | 2 | 8, RX_INTERRUPT = 2, BAUD = 115200 };

/* `in` is the interrupt's, `out` the rest of the program's; both count modulo 2^32. */
static struct {
    volatile uint32_t in;
    volatile uint32_t out;
    volatile uint8_t bytes[ROOM];
} ring;

void uart_start(void)
{
    UART0_BAUD = CLOCK_HZ / BAUD;
    UART0_CTRL = TX_RX_WITH_RX_INTERRUPT;
    NVIC_ENABLE = 1;
}

/* A byte that finds no room is lost, as on any line; the link repeats what it was part of. */
void on_byte(void)
{
    UART0_INT = RX_INTERRUPT; /* before the byte is taken: the next may come at once, and its interrupt must not be cleared */
    uint8_t byte = (uint8_t)UART0_DATA;
    if (ring.in - ring.out < ROOM) {
        ring.bytes[ring.in % ROOM] = byte;
        ring.in++;
    }
}

bool uart_waiting(void)
{
    return ring.in != ring.out;
}

uint8_t uart_first(void)
{
    return ring.bytes[ring.out % ROOM];
}

void uart_drop_first(void)
{
    ring.out++;
}

bool uart_takes_byte(void)
{
    return (UART0_STATE & TX_FULL) == 0;
}

void uart_send(uint8_t byte)
{
    UART0_DATA = byte;
}

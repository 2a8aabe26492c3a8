#include "uart.h"

#include "rp2040.h"
#include "start.h"

enum { TX_PIN = 0, RX_PIN = 1, BAUD = 115200, RING = 8192 /* all that a host sends ahead, 16 blocks in frames of 360 bytes; a power of two */ };

static uint8_t ring[RING];
static volatile uint16_t written, taken; /* modulo 2^16 */

/* All that has come, before its FIFO of 32 bytes is full; what the ring has no room for is lost, and the link asks for it again. The other
 * interrupt only wakes the main loop: there is room for what it has to say. */
static void on_uart(void)
{
    while ((UART_FLAGS & UART_RX_EMPTY) == 0) {
        uint8_t byte = (uint8_t)UART_DATA;
        if ((uint16_t)(written - taken) < RING) {
            ring[written % RING] = byte;
            written++;
        }
    }
    UART_CLEAR = UART_RX_INTERRUPT | UART_TIMEOUT_INTERRUPT;
    CLEAR(UART_MASK) = UART_TX_INTERRUPT;
}

static void set_speed(uint32_t baud)
{
    uint32_t divisor_64 = (4 * SYS_HZ + baud / 2) / baud; /* 16 clocks a bit, in 1/64 (4.2.7.1) */
    UART_BAUD_WHOLE = divisor_64 / 64;
    UART_BAUD_PART = divisor_64 % 64;
    UART_LINE = 3u << 5 | BIT(4); /* 8 bits, FIFOs; it takes the divisor over too */
}

/* The divisor must not change while the UART runs (from memory, manual of ARM's PL011). */
void uart_speed(uint32_t baud)
{
    uart_flush();
    CLEAR(UART_CTRL) = BIT(0);
    set_speed(baud);
    SET(UART_CTRL) = BIT(0);
}

void uart_open(void)
{
    set_speed(BAUD);
    UART_LEVELS = 0;              /* interrupts at 4 bytes, or 32 bits after the last one */
    UART_CTRL = BIT(0) | BIT(8) | BIT(9);
    UART_MASK = UART_RX_INTERRUPT | UART_TIMEOUT_INTERRUPT;
    PAD(RX_PIN) = PAD_INPUT | PAD_PULL_UP | PAD_SCHMITT | PAD_4MA; /* a line that is not joined rests */
    PIN_CTRL(TX_PIN) = PIN_UART;
    PIN_CTRL(RX_PIN) = PIN_UART;
    interrupt_on(IRQ_UART0, on_uart);
}

bool uart_get(uint8_t *byte)
{
    if (written == taken) {
        return false;
    }
    *byte = ring[taken % RING];
    taken++;
    return true;
}

bool uart_can_put(void)
{
    if ((UART_FLAGS & UART_TX_FULL) == 0) {
        return true;
    }
    SET(UART_MASK) = UART_TX_INTERRUPT;
    return false;
}

void uart_put(uint8_t byte)
{
    UART_DATA = byte;
}

void uart_flush(void)
{
    while ((UART_FLAGS & UART_BUSY) != 0) {
    }
}

/* The registers of the RP2040 that this port uses. Addresses, names and bits: RP2040 data sheet, chapter 2 to 4, from memory, and as two
 * emulators have them. */
#ifndef RP2040_H
#define RP2040_H

#include <stdint.h>

#define REG(address) (*(volatile uint32_t *)(address))
#define REG16(address) (*(volatile uint16_t *)(address))
#define BIT(number) (UINT32_C(1) << (number))

/* Aliases of a peripheral's register that change only the bits which are 1 in what is written (2.1.2). Not for SIO and the processor's own. */
#define FLIP(reg) (*(volatile uint32_t *)((uintptr_t)&(reg) + 0x1000))
#define SET(reg) (*(volatile uint32_t *)((uintptr_t)&(reg) + 0x2000))
#define CLEAR(reg) (*(volatile uint32_t *)((uintptr_t)&(reg) + 0x3000))

enum { SYS_HZ = 125000000, XOSC_HZ = 12000000 };

/* Boot ROM (2.8.3): halves at these addresses point to its table of functions, and to what finds a function by its two letters. */
#define ROM_FUNCTIONS (*(const uint16_t *)0x14)
#define ROM_LOOK_UP (*(const uint16_t *)0x18)
#define ROM_CODE(a, b) ((uint32_t)(a) | (uint32_t)(b) << 8)

/* Flash memory as it is read in place, and without the cache (2.6.3). */
#define XIP 0x10000000u
#define XIP_UNCACHED 0x13000000u
#define XIP_FLUSH REG(0x14000004)

/* SSI (4.10): what talks to the flash chip */
#define SSI 0x18000000u
#define SSI_CTRLR0 REG(SSI + 0x00)
#define SSI_CTRLR1 REG(SSI + 0x04)
#define SSI_ENABLE REG(SSI + 0x08)
#define SSI_SLAVES REG(SSI + 0x10)
#define SSI_DIVIDER REG(SSI + 0x14)
#define SSI_SENT_LEVEL REG(SSI + 0x20)
#define SSI_RECEIVED_LEVEL REG(SSI + 0x24)
#define SSI_STATUS REG(SSI + 0x28)
#define SSI_SAMPLE_DELAY REG(SSI + 0xF0)
#define SSI_DATA REG(SSI + 0x60)
#define SSI_SPI_CTRLR0 REG(SSI + 0xF4)
enum { SSI_BUSY = 1 << 0, SSI_TAKES = 1 << 1, SSI_EMPTY = 1 << 2, SSI_RECEIVED = 1 << 3 };
#define SSI_FRAME_BITS(bits) (((bits) - 1u) << 16)
#define SSI_READS_AFTER_COMMAND (3u << 8)

/* Chip select of the flash chip: IO_QSPI (2.19.6), pin SS */
#define FLASH_SELECT REG(0x4001800C)
#define FLASH_SELECT_BITS (3u << 8) /* OUTOVER */
#define FLASH_SELECT_LOW (2u << 8)
#define FLASH_SELECT_HIGH (3u << 8)

/* Resets (2.14) */
#define RESETS REG(0x4000C000)
#define RESETS_DONE REG(0x4000C008)
enum {
    RESET_ADC = 1 << 0, RESET_BUSCTRL = 1 << 1, RESET_DMA = 1 << 2, RESET_I2C0 = 1 << 3, RESET_I2C1 = 1 << 4, RESET_IO_BANK0 = 1 << 5,
    RESET_IO_QSPI = 1 << 6, RESET_JTAG = 1 << 7, RESET_PADS_BANK0 = 1 << 8, RESET_PADS_QSPI = 1 << 9, RESET_PIO0 = 1 << 10,
    RESET_PIO1 = 1 << 11, RESET_PLL_SYS = 1 << 12, RESET_PLL_USB = 1 << 13, RESET_PWM = 1 << 14, RESET_RTC = 1 << 15, RESET_SPI0 = 1 << 16,
    RESET_SPI1 = 1 << 17, RESET_SYSCFG = 1 << 18, RESET_SYSINFO = 1 << 19, RESET_TBMAN = 1 << 20, RESET_TIMER = 1 << 21,
    RESET_UART0 = 1 << 22, RESET_UART1 = 1 << 23, RESET_USB = 1 << 24
};

/* Takes peripherals out of reset and waits until they are. */
static inline void release(uint32_t resets)
{
    CLEAR(RESETS) = resets;
    while ((~RESETS_DONE & resets) != 0) {
    }
}

/* Clocks (2.15), oscillator (2.16), PLLs (2.18) */
#define CLOCKS 0x40008000u
#define CLK_REF_CTRL REG(CLOCKS + 0x30)
#define CLK_REF_SELECTED REG(CLOCKS + 0x38)
#define CLK_SYS_CTRL REG(CLOCKS + 0x3C)
#define CLK_SYS_DIV REG(CLOCKS + 0x40)
#define CLK_SYS_SELECTED REG(CLOCKS + 0x44)
#define CLK_PERI_CTRL REG(CLOCKS + 0x48)
#define CLK_USB_CTRL REG(CLOCKS + 0x54)
#define CLK_USB_DIV REG(CLOCKS + 0x58)
#define CLK_ADC_CTRL REG(CLOCKS + 0x60)
#define CLK_ADC_DIV REG(CLOCKS + 0x64)
#define CLK_SYS_RESUS REG(CLOCKS + 0x78)
#define CLK_ENABLE BIT(11)
#define XOSC_CTRL REG(0x40024000)
#define XOSC_STATUS REG(0x40024004)
#define XOSC_STARTUP REG(0x4002400C)
#define PLL_SYS 0x40028000u
#define PLL_USB 0x4002C000u
#define PLL_CS(pll) REG((pll) + 0x0)
#define PLL_POWER(pll) REG((pll) + 0x4)
#define PLL_FEEDBACK(pll) REG((pll) + 0x8)
#define PLL_PRIMARY(pll) REG((pll) + 0xC)

/* Brown-out (2.10): the processor is reset while its core, of nominally 1.1 V, has less than 0.473 V + 43 mV * level. At reset the level is 9. */
#define BROWN_OUT REG(0x40064004)
#define BROWN_OUT_ON 1u
#define BROWN_OUT_LEVEL(level) ((uint32_t)(level) << 4)

/* Watchdog (4.7) */
#define WATCHDOG_CTRL REG(0x40058000)
#define WATCHDOG_LOAD REG(0x40058004)
#define WATCHDOG_REASON REG(0x40058008)
#define WATCHDOG_TICK REG(0x4005802C)
#define PSM_WATCHDOG_RESETS REG(0x40010008) /* what of the power-on machine a watchdog resets (2.13) */

/* Timer (4.6): counts microseconds */
#define TIMER 0x40054000u
#define TIMER_ALARM(number) REG(TIMER + 0x10 + 4 * (number))
#define TIMER_US REG(TIMER + 0x28)
#define TIMER_FIRED REG(TIMER + 0x34) /* write 1 to clear */
#define TIMER_ENABLED REG(TIMER + 0x38)

/* Pins: IO_BANK0 (2.19.6), their pads (2.19.6.3), and the processor's own access to them (2.3.1) */
#define IO_BANK0 0x40014000u
#define PIN_STATUS(pin) REG(IO_BANK0 + 8u * (pin))
#define PIN_CTRL(pin) REG(IO_BANK0 + 8u * (pin) + 4)
#define PIN_EDGES(group) REG(IO_BANK0 + 0xF0 + 4u * (group)) /* four bits a pin: low, high, falling, rising; write 1 to clear an edge */
#define PIN_EDGES_ENABLED(group) REG(IO_BANK0 + 0x100 + 4u * (group))
#define PIN_EDGES_PENDING(group) REG(IO_BANK0 + 0x120 + 4u * (group))
enum { PIN_SPI = 1, PIN_UART, PIN_I2C, PIN_PWM, PIN_SIO, PIN_PIO0, PIN_PIO1, PIN_CLOCK, PIN_USB, PIN_NONE = 31 };
#define PADS_BANK0 0x4001C000u
#define PAD(pin) REG(PADS_BANK0 + 4 + 4u * (pin))
enum {
    PAD_FAST = 1 << 0, PAD_SCHMITT = 1 << 1, PAD_PULL_DOWN = 1 << 2, PAD_PULL_UP = 1 << 3, PAD_2MA = 0 << 4, PAD_4MA = 1 << 4,
    PAD_8MA = 2 << 4, PAD_12MA = 3 << 4, PAD_INPUT = 1 << 6, PAD_OUTPUT_OFF = 1 << 7
};
#define SIO 0xD0000000u
#define SIO_IN REG(SIO + 0x04)
#define SIO_OUT REG(SIO + 0x10)
#define SIO_OUT_SET REG(SIO + 0x14)
#define SIO_OUT_CLEAR REG(SIO + 0x18)
#define SIO_ENABLE REG(SIO + 0x20)
#define SIO_ENABLE_SET REG(SIO + 0x24)
#define SIO_ENABLE_CLEAR REG(SIO + 0x28)

/* UART0 (4.2) */
#define UART0 0x40034000u
#define UART_DATA REG(UART0 + 0x00)
#define UART_FLAGS REG(UART0 + 0x18)
#define UART_BAUD_WHOLE REG(UART0 + 0x24)
#define UART_BAUD_PART REG(UART0 + 0x28) /* in 1/64 */
#define UART_LINE REG(UART0 + 0x2C)
#define UART_CTRL REG(UART0 + 0x30)
#define UART_LEVELS REG(UART0 + 0x34)
#define UART_MASK REG(UART0 + 0x38)
#define UART_CLEAR REG(UART0 + 0x44)
enum { UART_BUSY = 1 << 3, UART_RX_EMPTY = 1 << 4, UART_TX_FULL = 1 << 5, UART_RX_INTERRUPT = 1 << 4, UART_TX_INTERRUPT = 1 << 5, UART_TIMEOUT_INTERRUPT = 1 << 6 };

/* PWM (4.5): eight slices with outputs A and B; pin p is of slice p / 2 % 8, output p % 2 */
#define PWM 0x40050000u
#define PWM_CTRL(slice) REG(PWM + 0x14u * (slice))
#define PWM_DIVIDER(slice) REG(PWM + 0x14u * (slice) + 0x04) /* in 1/16 */
#define PWM_COUNT(slice) REG(PWM + 0x14u * (slice) + 0x08)
#define PWM_COMPARE(slice) REG(PWM + 0x14u * (slice) + 0x0C) /* A in the lower half, B in the upper */
#define PWM_TOP(slice) REG(PWM + 0x14u * (slice) + 0x10)
#define PWM_ENABLE REG(PWM + 0xA0) /* of all slices: a bit each */
#define PWM_WRAPPED REG(PWM + 0xA4)
#define PWM_WRAP_ENABLED REG(PWM + 0xA8)

/* DMA (2.5): twelve channels */
#define DMA 0x50000000u
#define DMA_READ(channel) REG(DMA + 0x40u * (channel))
#define DMA_WRITE(channel) REG(DMA + 0x40u * (channel) + 0x04)
#define DMA_COUNT(channel) REG(DMA + 0x40u * (channel) + 0x08)
#define DMA_CTRL_TRIGGER(channel) REG(DMA + 0x40u * (channel) + 0x0C)
#define DMA_CTRL(channel) REG(DMA + 0x40u * (channel) + 0x10) /* does not start it */
#define DMA_COUNT_TRIGGER(channel) REG(DMA + 0x40u * (channel) + 0x1C)
#define DMA_READ_TRIGGER(channel) REG(DMA + 0x40u * (channel) + 0x3C)
#define DMA_FINISHED REG(DMA + 0x400) /* a bit a channel; write 1 to clear */
#define DMA_ENABLED_0 REG(DMA + 0x404) /* of interrupt 11 */
#define DMA_PENDING_0 REG(DMA + 0x40C)
#define DMA_ENABLED_1 REG(DMA + 0x414) /* of interrupt 12 */
#define DMA_PENDING_1 REG(DMA + 0x41C)
#define DMA_TIMER(number) REG(DMA + 0x420 + 4u * (number)) /* numerator in the upper half, denominator in the lower */
#define DMA_TRIGGER REG(DMA + 0x430)
#define DMA_ABORT REG(DMA + 0x444)
#define DMA_EN BIT(0)
#define DMA_BYTES (0u << 2)
#define DMA_HALVES (1u << 2)
#define DMA_WORDS (2u << 2)
#define DMA_READ_UP BIT(4)
#define DMA_WRITE_UP BIT(5)
#define DMA_RING(bits) ((uint32_t)(bits) << 6) /* of the read address, of the write address with DMA_RING_WRITE */
#define DMA_RING_WRITE BIT(10)
#define DMA_CHAIN(channel) ((uint32_t)(channel) << 11) /* itself: none */
#define DMA_REQUEST(number) ((uint32_t)(number) << 15)
#define DMA_QUIET BIT(21)
#define DMA_BUSY BIT(24)
enum { DREQ_PIO0_TX0 = 0, DREQ_PIO0_RX0 = 4, DREQ_PIO1_TX0 = 8, DREQ_PIO1_RX0 = 12, DREQ_UART0_RX = 21, DREQ_PWM_WRAP0 = 24, DREQ_ADC = 36, DREQ_TIMER0 = 59, DREQ_ALWAYS = 63 };

/* PIO (3): two blocks of four state machines with 32 instructions each block */
#define PIO0 0x50200000u
#define PIO1 0x50300000u
#define PIO_CTRL(pio) REG((pio) + 0x00)
#define PIO_FIFOS(pio) REG((pio) + 0x04)
#define PIO_FIFO_TROUBLE(pio) REG((pio) + 0x08) /* write 1 to clear */
#define PIO_LEVELS(pio) REG((pio) + 0x0C)
#define PIO_SEND(pio, machine) REG((pio) + 0x10 + 4u * (machine))
#define PIO_RECEIVE(pio, machine) REG((pio) + 0x20 + 4u * (machine))
#define PIO_MEMORY(pio, place) REG((pio) + 0x48 + 4u * (place))
#define PIO_DIVIDER(pio, machine) REG((pio) + 0xC8 + 0x18u * (machine)) /* whole part from bit 16, 1/256 from bit 8 */
#define PIO_EXECUTION(pio, machine) REG((pio) + 0xCC + 0x18u * (machine))
#define PIO_SHIFT(pio, machine) REG((pio) + 0xD0 + 0x18u * (machine))
#define PIO_PLACE(pio, machine) REG((pio) + 0xD4 + 0x18u * (machine))
#define PIO_EXECUTE(pio, machine) REG((pio) + 0xD8 + 0x18u * (machine))
#define PIO_PINS(pio, machine) REG((pio) + 0xDC + 0x18u * (machine))

/* ADC (4.9): pins 26 to 29 are inputs 0 to 3, input 4 is the chip's temperature */
#define ADC_CS REG(0x4004C000)
#define ADC_RESULT REG(0x4004C004)
enum { ADC_EN = 1 << 0, ADC_START_ONCE = 1 << 2, ADC_READY = 1 << 8 };
#define ADC_INPUT(number) ((uint32_t)(number) << 12)

/* USB (4.1): memory of its own, and registers. Places 2 n and 2 n + 1 are what endpoint n sends and receives. */
#define USB_MEMORY 0x50100000u
#define USB_BYTE(offset) (*(volatile uint8_t *)(USB_MEMORY + (offset)))
#define USB_WORD(offset) REG(USB_MEMORY + (offset))
#define USB_ENDPOINT(place) USB_WORD(4u * (place))       /* from place 2 on; the packet of SETUP lies before */
#define USB_BUFFER(place) USB_WORD(0x80 + 4u * (place)) /* bits 0 to 9: length in bytes */
enum { USB_BUFFER_AVAILABLE = 1 << 10, USB_BUFFER_STALL = 1 << 11, USB_BUFFER_DATA1 = 1 << 13, USB_BUFFER_FULL = 1 << 15, USB_BUFFER_LENGTH = 0x3FF };
#define USB_ENDPOINT_ON (BIT(31) | BIT(29)) /* with an interrupt for each buffer */
#define USB_ENDPOINT_TYPE(type) ((uint32_t)(type) << 26)
#define USB 0x50110000u
#define USB_ADDRESS REG(USB + 0x00)
#define USB_MAIN REG(USB + 0x40)
#define USB_LINE REG(USB + 0x4C)     /* SIE_CTRL */
#define USB_EVENTS REG(USB + 0x50)   /* SIE_STATUS; write 1 to clear */
#define USB_FINISHED REG(USB + 0x58) /* BUFF_STATUS: a bit a place; write 1 to clear */
#define USB_STALL_ARM REG(USB + 0x68)
#define USB_PADS REG(USB + 0x74)
#define USB_POWER REG(USB + 0x78)
#define USB_ENABLED REG(USB + 0x90)
#define USB_FORCED REG(USB + 0x94) /* interrupts that are raised though nothing has happened */
#define USB_PENDING REG(USB + 0x98)
#define USB_LINE_CONTROL_BUFFERS BIT(29) /* buffers of endpoint 0 are among those finished */
#define USB_LINE_PULL_UP BIT(16)
enum { USB_EVENT_SUSPEND = 1 << 4, USB_EVENT_RESUME = 1 << 11, USB_EVENT_SETUP = 1 << 17, USB_EVENT_RESET = 1 << 19 };
enum {
    USB_INTERRUPT_BUFFER = 1 << 4, USB_INTERRUPT_RESET = 1 << 12, USB_INTERRUPT_SUSPEND = 1 << 14, USB_INTERRUPT_RESUME = 1 << 15,
    USB_INTERRUPT_SETUP = 1 << 16, USB_INTERRUPT_ROUSED = 1 << 17 /* start of frame, which is never enabled */
};
enum { USB_PADS_TO_PHY = 1 << 0, USB_PADS_SOFTCON = 1 << 3, USB_POWER_PRESENT = 1 << 3 | 1 << 2 };

/* The processor's own (2.4) */
#define NVIC_ENABLE REG(0xE000E100)
#define NVIC_DISABLE REG(0xE000E180)
#define NVIC_CLEAR_PENDING REG(0xE000E280)
#define NVIC_PRIORITY(irq) REG(0xE000E400 + ((irq) & ~3u)) /* a byte an interrupt, its upper two bits; 0 is the most urgent */
#define VECTORS REG(0xE000ED08)
#define SYSTEM_RESET REG(0xE000ED0C)
enum {
    IRQ_TIMER0 = 0, IRQ_PWM_WRAP = 4, IRQ_USB = 5, IRQ_PIO0_0 = 7, IRQ_PIO1_0 = 9, IRQ_DMA_0 = 11, IRQ_DMA_1 = 12, IRQ_IO_BANK0 = 13,
    IRQ_UART0 = 20, IRQ_ADC_FIFO = 22, IRQS = 32
};

/* Holds interrupts back; returns whether they were, for restore_interrupts. */
static inline uint32_t hold_interrupts(void)
{
    uint32_t before;
    __asm volatile("mrs %0, primask\n\tcpsid i" : "=r"(before)::"memory");
    return before;
}

static inline void restore_interrupts(uint32_t before)
{
    __asm volatile("msr primask, %0" ::"r"(before) : "memory");
}

static inline void wait_for_interrupt(void)
{
    __asm volatile("dsb\n\twfi" ::: "memory");
}

#endif

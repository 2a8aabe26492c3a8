/* From the second stage to main: clocks, memory, vectors, the watchdog; and what a compiler may ask for in a freestanding program. */
#include "start.h"

#include "rp2040.h"

extern uint32_t bss_begin[], bss_end[], stack_top[];

void reset(void);
static void fault(void);

/* In RAM, so that handlers can be put there. An interrupt that has none is never turned on. */
struct vectors {
    void *stack;
    void (*handlers[15])(void);
    void (*interrupts[IRQS])(void);
};

__attribute__((section(".vectors"), used, aligned(256))) static struct vectors vectors = {
    .stack = stack_top,
    .handlers = {reset, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault},
};

void interrupt_on(uint32_t irq, void (*handler)(void))
{
    vectors.interrupts[irq] = handler;
    NVIC_CLEAR_PENDING = BIT(irq);
    NVIC_ENABLE = BIT(irq);
}

/* Everything but what reads flash memory and the clocks that run. */
#define PERIPHERALS (UINT32_C(0x1FFFFFF) & ~(uint32_t)(RESET_IO_QSPI | RESET_PADS_QSPI | RESET_PLL_SYS | RESET_PLL_USB | RESET_SYSCFG))
#define RELEASED ((uint32_t)(RESET_ADC | RESET_DMA | RESET_IO_BANK0 | RESET_PADS_BANK0 | RESET_PIO0 | RESET_PIO1 | RESET_PWM | RESET_TIMER | RESET_UART0 | RESET_USB))

/* 2.16.3: 47 * 256 periods of 12 MHz are the millisecond that a crystal takes to start. */
static void start_crystal(void)
{
    XOSC_STARTUP = 47;
    XOSC_CTRL = 0xFABAA0; /* on, 1 to 15 MHz */
    while ((XOSC_STATUS & BIT(31)) == 0) {
    }
}

/* 2.18: 12 MHz * feedback / (first * second) */
static void start_pll(uint32_t pll, uint32_t reset_bit, uint32_t feedback, uint32_t first, uint32_t second)
{
    SET(RESETS) = reset_bit;
    release(reset_bit);
    PLL_CS(pll) = 1;
    PLL_FEEDBACK(pll) = feedback;
    CLEAR(PLL_POWER(pll)) = BIT(0) | BIT(5); /* its power, its oscillator */
    while ((PLL_CS(pll) & BIT(31)) == 0) {
    }
    PLL_PRIMARY(pll) = first << 16 | second << 12;
    CLEAR(PLL_POWER(pll)) = BIT(3); /* its dividers */
}

/* The processor leaves the PLL before that is started anew: after a reset by the watchdog it may still run. */
static void start_clocks(void)
{
    CLK_SYS_RESUS = 0;
    start_crystal();
    CLEAR(CLK_SYS_CTRL) = 1;
    while (CLK_SYS_SELECTED != 1) {
    }
    start_pll(PLL_SYS, RESET_PLL_SYS, 125, 6, 2);
    start_pll(PLL_USB, RESET_PLL_USB, 100, 5, 5);
    CLK_REF_CTRL = 2; /* the crystal */
    while (CLK_REF_SELECTED != BIT(2)) {
    }
    CLK_SYS_CTRL = 0;
    CLK_SYS_CTRL = 1; /* PLL_SYS */
    while (CLK_SYS_SELECTED != BIT(1)) {
    }
    CLK_PERI_CTRL = CLK_ENABLE; /* the system clock */
    CLK_USB_CTRL = CLK_ENABLE;  /* PLL_USB */
    CLK_ADC_CTRL = CLK_ENABLE;
    WATCHDOG_TICK = XOSC_HZ / 1000000 | BIT(9); /* microseconds, for the timer too */
}

/* 4.7: it counts twice a microsecond (RP2040-E1), and resets all but the two oscillators. So pins are inputs from that moment on. */
void watchdog_feed(void)
{
    WATCHDOG_LOAD = 2 * WATCHDOG_US;
}

static void watchdog_start(void)
{
    WATCHDOG_CTRL = 0;
    PSM_WATCHDOG_RESETS = 0x1FFFC;
    watchdog_feed();
    WATCHDOG_CTRL = 7u << 24 | BIT(30); /* it stands while a debugger holds the processor */
}

uint32_t time_us(void)
{
    return TIMER_US;
}

/* Milliseconds that wrap at 2^32 and not where microseconds do: called at least once an hour. */
uint32_t time_ms(void)
{
    static uint32_t ms, counted_us;
    uint32_t passed = (TIMER_US - counted_us) / 1000;
    counted_us += passed * 1000;
    ms += passed;
    return ms;
}

/* Wakes the main loop ten times a second and more, whether anything plays or not. */
enum { BEAT_US = 20000 };

static void on_beat(void)
{
    TIMER_FIRED = BIT(BEAT_ALARM);
    TIMER_ALARM(BEAT_ALARM) = TIMER_US + BEAT_US;
}

static void on_nap(void)
{
    TIMER_FIRED = BIT(NAP_ALARM);
}

static void alarms_start(void)
{
    SET(TIMER_ENABLED) = BIT(BEAT_ALARM) | BIT(NAP_ALARM);
    interrupt_on(IRQ_TIMER0 + BEAT_ALARM, on_beat);
    interrupt_on(IRQ_TIMER0 + NAP_ALARM, on_nap);
    TIMER_ALARM(BEAT_ALARM) = TIMER_US + BEAT_US;
}

void nap(uint32_t us)
{
    TIMER_ALARM(NAP_ALARM) = TIMER_US + us;
    wait_for_interrupt();
}

void enter_boot_loader(void)
{
    typedef void *look_up(const uint16_t *functions, uint32_t code);
    typedef void reset_usb_boot(uint32_t activity_pins, uint32_t disabled_interfaces);
    look_up *find = (look_up *)(uintptr_t)ROM_LOOK_UP;
    reset_usb_boot *boot = (reset_usb_boot *)find((const uint16_t *)(uintptr_t)ROM_FUNCTIONS, ROM_CODE('U', 'B'));
    hold_interrupts();
    boot(0, 0);
}

void reset(void)
{
    for (uint32_t *at = bss_begin; at < bss_end; at++) {
        *at = 0;
    }
    SET(RESETS) = PERIPHERALS;
    BROWN_OUT = BROWN_OUT_ON | BROWN_OUT_LEVEL(11); /* 0.946 V; the core's regulator keeps 1.1 V within 3 % */
    start_clocks();
    release(RELEASED);
    watchdog_start();
    alarms_start();
    main();
}

/* Nothing may stay on: the watchdog comes at once. */
static void fault(void)
{
    WATCHDOG_CTRL = BIT(31);
    for (;;) {
    }
}


#include "clock.h"

#include "mps2.h"

enum { TIMER_ENABLE = 1, SYSTICK_ON = 7 }; /* count, interrupt, by the processor's clock */
#define TICKS_PER_MS (CLOCK_HZ / 1000)

static struct {
    uint32_t seen, rest, ms;
    uint32_t whole, part, rate, sum; /* ticks in a frame: whole + part / rate */
    volatile uint32_t due;
} clock;

void clock_start(void)
{
    TIMER0_RELOAD = UINT32_MAX;
    TIMER0_VALUE = UINT32_MAX;
    TIMER0_CTRL = TIMER_ENABLE;
}

uint32_t clock_ticks(void)
{
    return ~TIMER0_VALUE;
}

uint32_t clock_ms(void)
{
    uint32_t now = clock_ticks();
    uint64_t passed = (uint64_t)(now - clock.seen) + clock.rest;
    clock.seen = now;
    clock.ms += (uint32_t)(passed / TICKS_PER_MS);
    clock.rest = (uint32_t)(passed % TICKS_PER_MS);
    return clock.ms;
}

/* The length of the frame behind the one that has just begun: SysTick takes it when it next comes to 0. */
static void set_next(void)
{
    clock.sum += clock.part;
    uint32_t more = clock.sum >= clock.rate;
    clock.sum -= more != 0 ? clock.rate : 0;
    SYSTICK_RELOAD = clock.whole + more - 1;
}

void on_tick(void)
{
    clock.due++;
    set_next();
}

void frames_start(uint32_t samples_per_frame, uint32_t sample_rate_hz)
{
    uint64_t ticks = (uint64_t)CLOCK_HZ * samples_per_frame; /* of sample_rate_hz frames */
    SYSTICK_CTRL = 0;
    clock.whole = (uint32_t)(ticks / sample_rate_hz); /* 2083..1600000: fits SysTick's 24 bits */
    clock.part = (uint32_t)(ticks % sample_rate_hz);
    clock.rate = sample_rate_hz;
    clock.sum = 0;
    clock.due = 0;
    set_next();
    SYSTICK_VALUE = 0;
    SYSTICK_CTRL = SYSTICK_ON;
}

bool frames_waiting(void)
{
    return clock.due > 0;
}

bool frames_take(void)
{
    interrupts_off();
    bool due = clock.due > 0;
    clock.due -= due ? 1 : 0;
    interrupts_on();
    return due;
}

/* Stand-ins for light, sound, contacts, joints and USB: a clock of frames by the timer. */
#include "contacts.h"
#include "light.h"
#include "rp2040.h"
#include "sound.h"
#include "start.h"
#include "usb.h"

static int16_t samples[256];
static uint32_t begun_us, frames, rate, per_frame;
static volatile bool due;

static void on_frame(void)
{
    TIMER_FIRED = 2;
    due = true;
    frames += per_frame * 1000000;
    begun_us += frames / rate;
    frames %= rate;
    TIMER_ALARM(1) = begun_us;
}
bool sound_open(uint16_t rate_hz, uint16_t samples_per_frame, const struct joints *joints)
{
    (void)joints;
    rate = rate_hz;
    per_frame = samples_per_frame;
    frames = 0;
    begun_us = time_us() + 100;
    SET(TIMER_ENABLED) = 2;
    interrupt_on(1, on_frame);
    TIMER_ALARM(1) = begun_us;
    return true;
}
int16_t *sound_room(void) { return due ? samples : 0; }
void sound_give(void) { due = false; }
void sound_rest(void) { due = false; }
bool light_open(const struct joints *joints) { (void)joints; return true; }
void light_show(const uint16_t *duties, uint8_t channels, uint8_t bits) { (void)duties; (void)channels; (void)bits; }
void light_off(void) {}
void contacts_open(const struct joints *joints) { (void)joints; }
void contacts_read(uint32_t *closed, uint32_t *struck) { *closed = *struck = 0; }
bool contacts_position(uint8_t selector, uint8_t *position) { (void)selector; (void)position; return false; }
bool contacts_volume(uint16_t *wanted) { (void)wanted; return false; }
bool joints_read(struct joints *joints, fxp_table table, uint32_t *fault) { (void)joints; (void)table; (void)fault; return true; }
void usb_open(const char *serial_number) { (void)serial_number; }
bool usb_get(uint8_t *byte) { (void)byte; return false; }
bool usb_can_put(void) { return true; }
void usb_put(uint8_t byte) { (void)byte; }
void usb_flush(void) {}
void usb_irq(void) {}

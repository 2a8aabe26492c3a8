/* Inputs and selectors, at pins A0 to A5: closed to ground, with the chip's own pull-ups. */
#include "board.h"

enum { SETTLES_MS = 20, NO_POSITION = 255 };

struct selector { /* positions; NO_POSITION: none yet, or none at present */
    uint8_t seen, settled, told;
    uint8_t since_ms;
};

static struct contact contacts[CONTACT_PINS];
static struct selector selectors[FXP_MAX_SELECTORS];

void contacts_open(const struct joints *joints)
{
    uint8_t pull_ups = 0;
    for (uint8_t pin = 0; pin < CONTACT_PINS; pin++) {
        contacts[pin] = joints->contact[pin];
        pull_ups = (uint8_t)(pull_ups | (contacts[pin].use != NOT_JOINED) << pin);
    }
    PORTC = pull_ups;
    for (uint8_t i = 0; i < FXP_MAX_SELECTORS; i++) {
        selectors[i] = (struct selector){NO_POSITION, NO_POSITION, NO_POSITION, 0};
    }
}

/* The position that its pins say; none where they say none, or more than one. */
static uint8_t position_of(uint8_t selector, uint8_t low)
{
    uint8_t position = NO_POSITION;
    for (uint8_t pin = 0; pin < CONTACT_PINS; pin++, low >>= 1) {
        const struct contact *contact = &contacts[pin];
        if (contact->what != selector || (contact->use != JOINT_POSITION && contact->use != JOINT_CODED)) {
            continue;
        }
        if (contact->use == JOINT_CODED) {
            position = (uint8_t)((position == NO_POSITION ? 0 : position) | (low & 1) << contact->value);
        } else if ((low & 1) != 0) {
            if (position != NO_POSITION) {
                return NO_POSITION;
            }
            position = contact->value;
        }
    }
    return position;
}

/* The first position counts at once: nobody turns a selector before the board is on. */
static void settle(struct selector *selector, uint8_t position, uint8_t now_ms)
{
    if (position != selector->seen) {
        selector->seen = position;
        selector->since_ms = now_ms;
    }
    bool has_settled = selector->settled == NO_POSITION || (uint8_t)(now_ms - selector->since_ms) >= SETTLES_MS;
    if (position != NO_POSITION && has_settled) {
        selector->settled = position;
    }
}

static uint8_t inputs(uint8_t low)
{
    uint8_t closed = 0;
    for (uint8_t pin = 0; pin < CONTACT_PINS; pin++, low >>= 1) {
        if (contacts[pin].use == JOINT_CONTACT && (low & 1) != 0) {
            closed = (uint8_t)(closed | 1 << contacts[pin].what);
        }
    }
    return closed;
}

void contacts_read(uint32_t *closed, uint32_t *struck, uint32_t now_ms)
{
    uint8_t low = (uint8_t)~PINC;
    *closed = inputs(low);
    *struck = inputs(low | pulse_struck());
    for (uint8_t i = 0; i < FXP_MAX_SELECTORS; i++) {
        settle(&selectors[i], position_of(i, low), (uint8_t)now_ms);
    }
}

bool contacts_turned(uint8_t *selector, uint8_t *position)
{
    for (uint8_t i = 0; i < FXP_MAX_SELECTORS; i++) {
        if (selectors[i].settled != selectors[i].told) {
            *selector = i;
            *position = selectors[i].told = selectors[i].settled;
            return true;
        }
    }
    return false;
}

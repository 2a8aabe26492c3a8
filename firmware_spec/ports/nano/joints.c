/* What a table joins to the pins: SPEC 3.10. D0 and D1 are the serial line; D9 and D10 give the sound, A0 to A5 take contacts, the others give light. */
#include "board.h"
#include "fxp_parts.h"

enum { FIRST_LIGHT_PIN = 2, SOUND_PIN = 9, SOUND_PINS = 2, PINS = FIRST_CONTACT_PIN + CONTACT_PINS, JOINT_BYTES = 4 };

struct record { uint8_t use, what, pin, value; };

/* JOINT_CONTACT stands for all that takes contacts. */
static uint8_t use_of_pin(uint8_t pin)
{
    if (pin >= FIRST_CONTACT_PIN) {
        return JOINT_CONTACT;
    }
    return pin == SOUND_PIN || pin == SOUND_PIN + 1 ? JOINT_PWM : JOINT_LIGHTS;
}

/* How many pins it takes, and of the same use in *use; 0 where the board has no such use, or the table not what is joined. */
static uint8_t pins_of(const struct record *record, fxp_table table, uint8_t *use)
{
    *use = record->use;
    switch (record->use) {
    case JOINT_LIGHTS:
        return record->what + record->value <= FXP_TABLE_BYTE(table, FXP_H_CHANNELS) ? record->value : 0;
    case JOINT_PWM:
        return SOUND_PINS;
    case JOINT_CONTACT:
        return record->what < FXP_TABLE_BYTE(table, FXP_H_COUNTS + 2 * FXP_INPUTS);
    case JOINT_POSITION:
    case JOINT_CODED:
        *use = JOINT_CONTACT;
        if (record->what >= FXP_TABLE_BYTE(table, FXP_H_COUNTS + 2 * FXP_SELECTORS)) {
            return 0;
        }
        return record->use == JOINT_CODED ? record->value : 1;
    default:
        return 0;
    }
}

/* Its pin number `i`. */
static void join(struct joints *joints, const struct record *record, uint8_t i)
{
    uint8_t pin = (uint8_t)(record->pin + i);
    if (record->use == JOINT_PWM) {
        joints->sound = true;
    } else if (record->use == JOINT_LIGHTS) {
        joints->light_pin[record->what + i] = pin;
    } else {
        joints->contact[pin - FIRST_CONTACT_PIN] = (struct contact){record->use, record->what, record->use == JOINT_CODED ? i : record->value};
    }
}

static bool read_one(struct joints *joints, const struct record *record, fxp_table table, bool *taken)
{
    uint8_t use;
    uint8_t count = pins_of(record, table, &use);
    for (uint8_t i = 0; i < count; i++) {
        uint8_t pin = (uint8_t)(record->pin + i);
        if (pin < FIRST_LIGHT_PIN || pin >= PINS || taken[pin] || use_of_pin(pin) != use) {
            return false;
        }
        taken[pin] = true;
        join(joints, record, i);
    }
    return count > 0;
}

bool joints_read(struct joints *joints, fxp_table table, uint32_t *fault)
{
    uint8_t count;
    bool taken[PINS] = {false};
    *joints = (struct joints){.sound = false};
    for (*fault = fxp_joints(table, &count); count > 0; count--) {
        uint16_t head = FXP_TABLE_HALF(table, *fault), tail = FXP_TABLE_HALF(table, *fault + 2);
        struct record record = {(uint8_t)head, (uint8_t)(head >> 8), (uint8_t)tail, (uint8_t)(tail >> 8)};
        if (!read_one(joints, &record, table, taken)) {
            return false;
        }
        *fault += JOINT_BYTES;
    }
    return true;
}

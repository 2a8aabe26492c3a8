#include "joints.h"

#include "fxp_parts.h"
#include "rp2040.h"

/* Of the pins of the header: 0 and 1 are the serial line. Not on it: 23 sets the regulator's mode, 24 senses USB, 25 is the board's LED, 29 has a third
 * of the supply. */
#define HEADER_PINS (UINT32_C(0x1C7FFFFC))
#define ANALOGUE (UINT32_C(7) << FIRST_ANALOGUE_PIN)
#define LED BIT(25)
#define SUPPLY BIT(29)
enum { MOST_POSITIONS = 16, MOST_CODE_BITS = 4, CHAIN_PINS = 4, I2S_PINS = 3 };

static uint32_t pins_for(uint8_t use)
{
    switch (use) {
    case JOINT_LIGHTS:
        return HEADER_PINS | LED;
    case JOINT_CELLS:
        return ANALOGUE | SUPPLY;
    case JOINT_VOLUME:
        return ANALOGUE;
    default:
        return HEADER_PINS;
    }
}

static uint8_t pins_of(const struct joint *joint)
{
    switch (joint->use) {
    case JOINT_LIGHTS:
    case JOINT_CODED:
        return joint->value;
    case JOINT_SHIFT:
    case JOINT_DRIVERS:
        return CHAIN_PINS;
    case JOINT_I2S:
        return I2S_PINS;
    default:
        return 1;
    }
}

static uint16_t records(fxp_table table, enum fxp_section section)
{
    return FXP_TABLE_HALF(table, FXP_H_COUNTS + 2u * section);
}

/* Whether the table has what is joined. */
static bool is_there(const struct joint *joint, fxp_table table)
{
    switch (joint->use) {
    case JOINT_LIGHTS:
    case JOINT_SHIFT:
    case JOINT_DRIVERS:
        return joint->value > 0 && joint->what + joint->value <= FXP_TABLE_BYTE(table, FXP_H_CHANNELS);
    case JOINT_CONTACT:
    case JOINT_CELLS:
        return joint->what < records(table, FXP_INPUTS) && joint->what < FXP_MAX_INPUTS;
    case JOINT_POSITION:
        return joint->what < records(table, FXP_SELECTORS) && joint->what < FXP_MAX_SELECTORS && joint->value < MOST_POSITIONS;
    case JOINT_CODED:
        return joint->what < records(table, FXP_SELECTORS) && joint->what < FXP_MAX_SELECTORS && joint->value > 0 && joint->value <= MOST_CODE_BITS;
    default:
        return joint->use < JOINT_USES;
    }
}

/* The pins of a joint, a bit each; 0 where one of them is not this board's or not for this use. */
static uint32_t pins_taken(const struct joint *joint)
{
    uint8_t count = pins_of(joint);
    if (joint->pin >= 30 || count > 30 - joint->pin) {
        return 0;
    }
    uint32_t pins = (BIT(count) - 1) << joint->pin;
    return (pins & ~pins_for(joint->use)) == 0 ? pins : 0;
}

static uint8_t count_of(const struct joints *joints, uint8_t use)
{
    uint8_t count = 0;
    for (uint8_t i = 0; i < joints->count; i++) {
        count = (uint8_t)(count + (joints->joint[i].use == use));
    }
    return count;
}

/* Whether the chip has room for one more of its use: a sound, a volume, an amplifier, so many chains. */
static bool has_room(const struct joints *joints, uint8_t use)
{
    switch (use) {
    case JOINT_SHIFT:
    case JOINT_DRIVERS:
        return count_of(joints, JOINT_SHIFT) + count_of(joints, JOINT_DRIVERS) < JOINT_CHAINS_MOST;
    case JOINT_I2S:
    case JOINT_PWM:
        return count_of(joints, JOINT_I2S) + count_of(joints, JOINT_PWM) == 0;
    case JOINT_VOLUME:
    case JOINT_AMPLIFIER:
        return count_of(joints, use) == 0;
    default:
        return true;
    }
}

bool joints_read(struct joints *joints, fxp_table table, uint32_t *fault)
{
    uint8_t count;
    uint32_t taken = 0;
    uint32_t at = fxp_joints(table, &count);
    joints->count = 0;
    joints->counts = false;
    for (; count > 0; count--, at += JOINT_BYTES) {
        struct joint joint = {FXP_TABLE_BYTE(table, at), FXP_TABLE_BYTE(table, at + 1), FXP_TABLE_BYTE(table, at + 2), FXP_TABLE_BYTE(table, at + 3)};
        if (joint.use == JOINT_COUNTS) {
            joints->counts = true;
            continue;
        }
        uint32_t pins = is_there(&joint, table) ? pins_taken(&joint) : 0;
        if (pins == 0 || (pins & taken) != 0 || !has_room(joints, joint.use)) {
            joints->count = 0;
            *fault = at;
            return false;
        }
        taken |= pins; /* so there are never more joints than pins */
        joints->joint[joints->count++] = joint;
    }
    return true;
}

const struct joint *joints_next(const struct joints *joints, enum joint_use use, uint8_t *number)
{
    while (*number < joints->count) {
        const struct joint *joint = &joints->joint[(*number)++];
        if (joint->use == use) {
            return joint;
        }
    }
    return 0;
}

const struct joint *joints_only(const struct joints *joints, enum joint_use use)
{
    uint8_t number = 0;
    return joints_next(joints, use, &number);
}

static void set_input(uint8_t pin, uint32_t pad)
{
    SIO_ENABLE_CLEAR = BIT(pin);
    PIN_CTRL(pin) = PIN_NONE;
    PAD(pin) = pad;
}

void pin_free(uint8_t pin)
{
    set_input(pin, PAD_INPUT | PAD_4MA | PAD_PULL_DOWN | PAD_SCHMITT);
}

void pin_pull_up(uint8_t pin)
{
    set_input(pin, PAD_INPUT | PAD_4MA | PAD_PULL_UP | PAD_SCHMITT);
}

void pin_measure(uint8_t pin)
{
    set_input(pin, PAD_OUTPUT_OFF);
}

void pin_give(uint8_t pin, uint32_t function)
{
    PAD(pin) = PAD_INPUT | PAD_12MA | PAD_SCHMITT;
    PIN_CTRL(pin) = function;
}

void pin_put_out(uint8_t pin, bool high)
{
    if (high) {
        SIO_OUT_SET = BIT(pin);
    } else {
        SIO_OUT_CLEAR = BIT(pin);
    }
    SIO_ENABLE_SET = BIT(pin);
    pin_give(pin, PIN_SIO);
}

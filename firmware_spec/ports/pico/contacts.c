/* All pins are read 8000 times a second by a PIO machine into a ring in memory, so nothing is missed between two frames. A reading counts where two in a row
 * agree: what LED wires couple into those of buttons lasts some microseconds. */
#include "contacts.h"

#include "rp2040.h"
#include "start.h"

enum { MACHINE = 1, PROGRAM = 8 /* behind that of the sound */, IN_PINS = 0x4000, JUMP = 0x0000 };
enum { READINGS_HZ = 8000, RING = 256, RING_BITS = 10 };
enum { NO_POSITION = 255, SETTLES_US = 20000 };
enum { MEAN_US = 20000, FIRST_CONVERSIONS = 16, CELLS_HOLD_US = 5000000, VOLUME_SLACK = 12, MOST_MEASURED = 4095 };

struct selector {
    uint8_t seen, settled;
    uint32_t since_us;
};

/* What a pin measures, 0..4095: a mean of about 20 ms, of one conversion a frame and pin in turn; at first, a mean of some at once. */
struct analogue {
    const struct joint *joint; /* 0: not measured */
    uint32_t sum, count, since_us;
    uint16_t held;    /* the mean; of the volume, the one that is passed on */
    bool low;         /* of the cells */
    uint32_t low_us;  /* when they were last */
};

static uint32_t ring[RING] __attribute__((aligned(1 << RING_BITS)));

static struct {
    struct joints joints;
    uint32_t pins;      /* that were pulled up or measured */
    uint16_t next;      /* reading that has not been looked at */
    uint32_t last;      /* reading before: a bit a pin, high is 1 */
    uint32_t closed;    /* pins */
    struct selector selectors[FXP_MAX_SELECTORS];
    struct analogue analogue[ANALOGUE_PINS];
    uint8_t converting; /* of these */
} contacts;

static void start_readings(void)
{
    DMA_READ(CONTACTS_DMA) = (uint32_t)(uintptr_t)&PIO_RECEIVE(PIO1, MACHINE);
    DMA_WRITE(CONTACTS_DMA) = (uint32_t)(uintptr_t)ring;
    DMA_COUNT(CONTACTS_DMA) = UINT32_MAX;
    DMA_CTRL_TRIGGER(CONTACTS_DMA) = DMA_EN | DMA_WORDS | DMA_WRITE_UP | DMA_RING(RING_BITS) | DMA_RING_WRITE | DMA_CHAIN(CONTACTS_DMA) | DMA_QUIET |
                                     DMA_REQUEST(DREQ_PIO1_RX0 + MACHINE);
}

static void open_readings(void)
{
    PIO_MEMORY(PIO1, PROGRAM) = IN_PINS; /* 32 */
    PIO_DIVIDER(PIO1, MACHINE) = (SYS_HZ / READINGS_HZ) << 16;
    PIO_EXECUTION(PIO1, MACHINE) = PROGRAM << 12 | PROGRAM << 7;
    PIO_SHIFT(PIO1, MACHINE) = BIT(16); /* automatic push of 32 bits */
    PIO_PINS(PIO1, MACHINE) = 0;
    PIO_EXECUTE(PIO1, MACHINE) = JUMP | PROGRAM;
    start_readings();
    SET(PIO_CTRL(PIO1)) = BIT(MACHINE);
}

static void open_pin(const struct joint *joint)
{
    switch (joint->use) {
    case JOINT_CONTACT:
    case JOINT_POSITION:
    case JOINT_CODED:
        for (uint8_t i = 0; i < (joint->use == JOINT_CODED ? joint->value : 1); i++) {
            pin_pull_up((uint8_t)(joint->pin + i));
            contacts.pins |= BIT(joint->pin + i);
        }
        break;
    case JOINT_CELLS:
    case JOINT_VOLUME:
        pin_measure(joint->pin);
        contacts.pins |= BIT(joint->pin);
        contacts.analogue[joint->pin - FIRST_ANALOGUE_PIN].joint = joint;
        break;
    default:
        break;
    }
}

static void close_pins(void)
{
    for (uint8_t pin = 0; pin < 30; pin++) {
        if ((contacts.pins >> pin & 1) != 0) {
            pin_free(pin);
        }
    }
    contacts.pins = 0;
}

/* Goes through the readings since the last call: which pins were low twice in a row in any of them. */
static uint32_t look(void)
{
    uint16_t until = (uint16_t)((DMA_WRITE(CONTACTS_DMA) - (uint32_t)(uintptr_t)ring) / sizeof ring[0] % RING);
    uint32_t struck = 0;
    for (; contacts.next != until; contacts.next = (uint16_t)((contacts.next + 1) % RING)) {
        uint32_t reading = ring[contacts.next];
        uint32_t low = ~(reading | contacts.last);
        contacts.closed = (contacts.closed | low) & ~(reading & contacts.last);
        contacts.last = reading;
        struck |= low;
    }
    if ((DMA_CTRL(CONTACTS_DMA) & DMA_BUSY) == 0) {
        start_readings(); /* after 149 hours */
        contacts.next = 0;
    }
    return struck;
}

/* The position that its pins say; none where they say none, or more than one. */
static uint8_t position_of(uint8_t selector)
{
    uint8_t position = NO_POSITION;
    uint8_t said = 0;
    for (uint8_t i = 0; i < contacts.joints.count; i++) {
        const struct joint *joint = &contacts.joints.joint[i];
        uint32_t pins = contacts.closed >> joint->pin;
        if (joint->what != selector) {
            continue;
        }
        if (joint->use == JOINT_CODED) {
            position = (uint8_t)(pins & (BIT(joint->value) - 1));
            said++;
        } else if (joint->use == JOINT_POSITION && (pins & 1) != 0) {
            position = joint->value;
            said++;
        }
    }
    return said == 1 ? position : NO_POSITION;
}

static void settle(struct selector *selector, uint8_t position, uint32_t now_us)
{
    bool is_first = selector->settled == NO_POSITION; /* nobody turns it before the board is on */
    if (position != selector->seen) {
        selector->seen = position;
        selector->since_us = now_us;
    }
    if (position != NO_POSITION && (is_first || now_us - selector->since_us >= SETTLES_US)) {
        selector->settled = position;
    }
}

static void judge_cells(struct analogue *analogue, uint16_t mean, uint32_t now_us)
{
    uint16_t least = (uint16_t)(analogue->joint->value * 16);
    analogue->held = mean;
    uint16_t recovered = (uint16_t)(least + least / 32);
    if (mean < (analogue->low ? recovered : least)) {
        analogue->low = true;
        analogue->low_us = now_us;
    } else if (analogue->low && now_us - analogue->low_us >= CELLS_HOLD_US) {
        analogue->low = false;
    }
}

static void judge_volume(struct analogue *analogue, uint16_t mean)
{
    uint16_t away = (uint16_t)(mean > analogue->held ? mean - analogue->held : analogue->held - mean);
    bool at_end = mean < VOLUME_SLACK || mean > MOST_MEASURED - VOLUME_SLACK;
    if (away > VOLUME_SLACK || at_end) {
        analogue->held = mean;
    }
}

static void judge(struct analogue *analogue, uint32_t now_us)
{
    uint16_t mean = (uint16_t)(analogue->sum / analogue->count);
    if (analogue->joint->use == JOINT_CELLS) {
        judge_cells(analogue, mean, now_us);
    } else {
        judge_volume(analogue, mean);
    }
    analogue->sum = analogue->count = 0;
    analogue->since_us = now_us;
}

static void measure(struct analogue *analogue, uint16_t value, uint32_t now_us)
{
    analogue->sum += value;
    analogue->count++;
    if (now_us - analogue->since_us >= MEAN_US) {
        judge(analogue, now_us);
    }
}

static bool is_converted(void)
{
    return (ADC_CS & ADC_READY) != 0;
}

static void begin_conversion(uint8_t input)
{
    contacts.converting = input;
    ADC_CS = ADC_EN | ADC_START_ONCE | ADC_INPUT(input);
}

/* Takes the conversion that was begun in the frame before, and begins that of the next pin. */
static void convert(uint32_t now_us)
{
    struct analogue *analogue = &contacts.analogue[contacts.converting];
    if (analogue->joint == 0 || !is_converted()) {
        return;
    }
    measure(analogue, (uint16_t)ADC_RESULT, now_us);
    uint8_t next = contacts.converting;
    do {
        next = (uint8_t)((next + 1) % ANALOGUE_PINS);
    } while (contacts.analogue[next].joint == 0);
    begin_conversion(next);
}

/* So that the first frame knows. */
static void open_analogue(uint8_t input)
{
    struct analogue *analogue = &contacts.analogue[input];
    if (analogue->joint == 0) {
        return;
    }
    for (analogue->count = 0; analogue->count < FIRST_CONVERSIONS; analogue->count++) {
        begin_conversion(input);
        while (!is_converted()) {
        }
        analogue->sum += ADC_RESULT;
    }
    judge(analogue, time_us());
    begin_conversion(input);
}

static uint32_t inputs(uint32_t pins)
{
    uint32_t closed = 0;
    for (uint8_t i = 0; i < contacts.joints.count; i++) {
        const struct joint *joint = &contacts.joints.joint[i];
        bool is_closed = joint->use == JOINT_CONTACT && (pins >> joint->pin & 1) != 0;
        bool is_low = joint->use == JOINT_CELLS && contacts.analogue[joint->pin - FIRST_ANALOGUE_PIN].low;
        closed |= (uint32_t)(is_closed || is_low) << (joint->what & 31);
    }
    return closed;
}

void contacts_open(const struct joints *joints)
{
    close_pins();
    contacts.joints = *joints;
    contacts.closed = 0;
    contacts.last = UINT32_MAX;
    for (uint8_t i = 0; i < FXP_MAX_SELECTORS; i++) {
        contacts.selectors[i] = (struct selector){NO_POSITION, NO_POSITION, 0};
    }
    for (uint8_t i = 0; i < ANALOGUE_PINS; i++) {
        contacts.analogue[i] = (struct analogue){0};
    }
    for (uint8_t i = 0; i < contacts.joints.count; i++) {
        open_pin(&contacts.joints.joint[i]);
    }
    ADC_CS = ADC_EN;
    while (!is_converted()) {
    }
    for (uint8_t i = 0; i < ANALOGUE_PINS; i++) {
        open_analogue(i);
    }
    if ((PIO_CTRL(PIO1) & BIT(MACHINE)) == 0) {
        open_readings();
    }
    contacts.next = (uint16_t)((DMA_WRITE(CONTACTS_DMA) - (uint32_t)(uintptr_t)ring) / sizeof ring[0]);
}

void contacts_read(uint32_t *closed, uint32_t *struck)
{
    uint32_t now_us = time_us();
    uint32_t struck_pins = look();
    convert(now_us);
    for (uint8_t i = 0; i < FXP_MAX_SELECTORS; i++) {
        settle(&contacts.selectors[i], position_of(i), now_us);
    }
    *closed = inputs(contacts.closed);
    *struck = inputs(struck_pins | contacts.closed);
}

bool contacts_position(uint8_t selector, uint8_t *position)
{
    if (selector >= FXP_MAX_SELECTORS || contacts.selectors[selector].settled == NO_POSITION) {
        return false;
    }
    *position = contacts.selectors[selector].settled;
    return true;
}

bool contacts_volume(uint16_t *wanted)
{
    for (uint8_t i = 0; i < ANALOGUE_PINS; i++) {
        const struct analogue *analogue = &contacts.analogue[i];
        if (analogue->joint != 0 && analogue->joint->use == JOINT_VOLUME) {
            *wanted = (uint16_t)(analogue->held * 257u >> 12);
            return true;
        }
    }
    return false;
}

uint16_t contacts_cells(void)
{
    for (uint8_t i = 0; i < ANALOGUE_PINS; i++) {
        const struct analogue *analogue = &contacts.analogue[i];
        if (analogue->joint != 0 && analogue->joint->use == JOINT_CELLS) {
            return (uint16_t)(analogue->held * 16u);
        }
    }
    return UINT16_MAX;
}

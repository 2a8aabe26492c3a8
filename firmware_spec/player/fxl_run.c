/* fxl: clock, presses and trace (LINK.md 6). */
#include "fxl_parts.h"

enum { EVENT_BYTES = 8, PRESSES_MOST = 32, VOLUME_MOST = 256 };
#define LATE_MOST UINT16_C(65535)

/* Power-up of the player: nothing pressed, nothing traced, the clock runs to `until`. */
void fxl_start(struct fxl *link, uint32_t until)
{
    link->frame = 0;
    link->until = until;
    link->closed = 0;
    link->struck = 0;
    link->next_press = 0;
    link->late = 0;
    link->press_first = 0;
    link->press_count = 0;
    link->trace_next = 0;
    link->trace_count = 0;
    link->trace_total = 0;
    fxl_counts_start(link);
    if (link->active != FXL_NO_SLOT) {
        link->port->start(link->port->context, fxl_slot_offset(link, link->active), link->tables[link->active].length);
    }
}

bool fxl_held(const struct fxl *link)
{
    return link->until != FXL_FOR_EVER && link->frame >= link->until;
}

#ifndef FXL_WITHOUT_RUNS

static void tell_clock(struct fxl *link)
{
    fxl_answer(link, FXL_CLOCK, link->tag);
    fxl_put(link, link->frame, 4);
    fxl_put(link, link->until, 4);
    fxl_put(link, link->next_press, 2);
    fxl_put(link, (uint32_t)(FXL_PRESS_ROOM - link->press_count), 1);
    fxl_put(link, link->late, 2);
}

/* R5 to R7 */

static struct fxl_event *press_at(struct fxl *link, uint8_t place)
{
    return &link->presses[((uint16_t)link->press_first + place) % FXL_PRESS_ROOM];
}

static struct fxl_event read_event(const uint8_t *bytes)
{
    return (struct fxl_event){fxl_u32(bytes), bytes[4], bytes[5], fxl_u16(bytes + 6)};
}

static bool is_possible(const struct fxl *link, const struct fxl_event *press)
{
    if (press->kind == FXL_VOLUME) {
        return press->value <= VOLUME_MOST;
    }
    return press->kind < FXL_VOLUME && link->port->has(link->port->context, press->kind, press->index, press->value);
}

/* The first of the presses from number `begin` on that must be refused; `end` if none. */
static uint8_t first_bad(struct fxl *link, const uint8_t *list, uint8_t begin, uint8_t end)
{
    uint32_t least = link->press_count > 0 ? press_at(link, (uint8_t)(link->press_count - 1))->frame : 0;
    for (uint8_t i = begin; i < end; i++) {
        struct fxl_event press = read_event(list + EVENT_BYTES * i);
        if (press.frame < least || !is_possible(link, &press)) {
            return i;
        }
        least = press.frame;
    }
    return end;
}

static void take_presses(struct fxl *link, const uint8_t *fields, uint16_t count)
{
    uint16_t first = fxl_u16(fields);
    const uint8_t *list = fields + 2;
    uint8_t end = (uint8_t)((count - 2) / EVENT_BYTES);
    uint16_t skip = (uint16_t)(link->next_press - first); /* 32768 or more where first is beyond next_press */
    uint8_t begin = (uint8_t)(skip < end ? skip : end);
    uint8_t bad = first_bad(link, list, begin, end);
    if (bad < end) {
        fxl_error(link, link->tag, FXL_BAD_PRESS, (uint16_t)(first + bad));
        return;
    }
    for (; begin < end && link->press_count < FXL_PRESS_ROOM; begin++) {
        *press_at(link, link->press_count++) = read_event(list + EVENT_BYTES * begin);
        link->next_press++;
    }
    tell_clock(link);
}

static void act(struct fxl *link, const struct fxl_event *press)
{
    if (press->frame < link->frame && link->late < LATE_MOST) {
        link->late++;
    }
    /* Where it is a contact, has() has told that the input exists, so the index is below 32. */
    uint32_t bit = UINT32_C(1) << (press->index & 31);
    if (press->kind == FXL_PRESS) {
        link->closed |= bit;
        link->struck |= bit;
    } else if (press->kind == FXL_RELEASE) {
        link->closed &= ~bit;
    } else {
        link->port->set(link->port->context, press->kind, press->index, press->value);
    }
}

static void take_due(struct fxl *link)
{
    while (link->press_count > 0 && press_at(link, 0)->frame <= link->frame) {
        act(link, press_at(link, 0));
        link->press_first = (uint8_t)((link->press_first + 1) % FXL_PRESS_ROOM);
        link->press_count--;
    }
}

/* R8 */

void fxl_trace(void *context, uint32_t frame, uint8_t kind, uint8_t index, uint16_t value)
{
    struct fxl *link = context;
    fxl_count_event(link, kind);
    link->trace[link->trace_next] = (struct fxl_event){frame, kind, index, value};
    link->trace_next = (uint16_t)((link->trace_next + 1u) % FXL_TRACE_ROOM);
    link->trace_total++;
    if (link->trace_count < FXL_TRACE_ROOM) {
        link->trace_count++;
    }
}

static void tell_events(struct fxl *link, uint32_t first)
{
    uint32_t ago = first > link->trace_total ? 0 : link->trace_total - first; /* events from there to the end */
    if (ago > link->trace_count) {
        ago = link->trace_count;
    }
    fxl_answer(link, FXL_EVENTS, link->tag);
    fxl_put(link, link->frame, 4);
    fxl_put(link, link->trace_total - ago, 4);
    for (uint8_t i = 0; i < FXL_EVENTS_MOST && ago > 0; i++, ago--) {
        const struct fxl_event *event = &link->trace[(link->trace_next + FXL_TRACE_ROOM - ago) % FXL_TRACE_ROOM];
        fxl_put(link, event->frame, 4);
        fxl_put(link, event->kind, 1);
        fxl_put(link, event->index, 1);
        fxl_put(link, event->value, 2);
    }
}

/* Bytes of fields of the requests from RESTART to ASK_TRACE. */
static bool is_formed(uint8_t kind, uint16_t count)
{
    if (kind == FXL_PRESSES) {
        return count > 2 && count % EVENT_BYTES == 2 && count <= 2 + EVENT_BYTES * PRESSES_MOST;
    }
    return count == (kind == FXL_RUN || kind == FXL_ASK_TRACE ? 4 : 0);
}

void fxl_run_request(struct fxl *link, uint8_t kind, const uint8_t *fields, uint16_t count)
{
    if (!is_formed(kind, count)) {
        fxl_error(link, link->tag, FXL_BAD_FIELD, count);
    } else if (link->active == FXL_NO_SLOT) {
        fxl_error(link, link->tag, FXL_NO_TABLE, 0);
    } else if (kind == FXL_PRESSES) {
        take_presses(link, fields, count);
    } else if (kind == FXL_ASK_TRACE) {
        tell_events(link, fxl_u32(fields));
    } else {
        if (kind == FXL_RESTART) {
            fxl_start(link, 0);
        } else if (kind == FXL_RUN) {
            link->until = fxl_u32(fields);
        }
        tell_clock(link);
    }
}

#endif

bool fxl_frame(struct fxl *link, uint32_t *closed, uint32_t *struck)
{
    if (link->active == FXL_NO_SLOT || fxl_held(link)) {
        return false;
    }
#ifndef FXL_WITHOUT_RUNS
    take_due(link);
#endif
    *closed |= link->closed;
    *struck |= link->struck | link->closed;
    link->struck = 0;
    link->frame++;
    return true;
}

/* Stand-in. */
#ifndef JOINTS_H
#define JOINTS_H

#include <stdbool.h>

#include "fxp.h"

struct joints {
    uint8_t nothing;
};

/* false: something that the table asks for is not there; *fault is its offset. */
bool joints_read(struct joints *joints, fxp_table table, uint32_t *fault);

#endif
